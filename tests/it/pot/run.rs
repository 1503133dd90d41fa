//! A control, a hand, a meter and a session in simulated time.

use std::sync::Arc;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, Happening, MeterSettings, OperatorStyle, Pot as BenchPot,
    PotFault, Ranging, Seat,
};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{CheckResult, Notice, StepResult};
use steadyohm::check::pot::{Place, Pot, PotOptions};
use steadyohm::circuit::control::{Control, Law, Wiring};
use steadyohm::protocol::{Item, Protocol, encode, find};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::record::Entry;
use steadyohm::session::{Command, Effect, Event, Session, Setup};

/// A control and the check of it.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub(super) pot: BenchPot,
    pub(super) options: PotOptions,
    pub(super) meter: MeterSettings,
    pub(super) hands: Hands,
    pub(super) protocol: Arc<Protocol>,
    pub(super) seed: u64,
    /// Whether readings go as bytes of the format.
    pub(super) bytes: bool,
}

/// What a run left behind.
#[derive(Debug, Clone)]
pub(super) struct Ran {
    pub(super) notices: Vec<Notice>,
    pub(super) entries: Vec<Entry>,
    pub(super) took: Stamp,
}

impl Ran {
    pub(super) fn result(&self) -> &CheckResult {
        match self.notices.last() {
            Some(Notice::Verdict(result)) => result,
            other => panic!("the last notice is not a verdict: {other:?}\n{self:#?}"),
        }
    }

    pub(super) fn step(&self, name: &str) -> &StepResult {
        let mut steps = self.result().steps.iter();
        steps.find(|step| step.step == name).unwrap()
    }

    /// All that the hand was told.
    pub(super) fn prompts(&self) -> Vec<&str> {
        self.notices
            .iter()
            .filter_map(|notice| match notice {
                Notice::Step(step) => Some(step.prompt.as_str()),
                _ => None,
            })
            .collect()
    }
}

impl Run {
    /// A 250k control on the bench and a meter of ten readings a second, its range locked.
    pub(super) fn new(law: Law, fault: PotFault) -> Self {
        Self {
            pot: BenchPot::new(law, fault),
            options: PotOptions {
                nominal: Some(Control::usual(Ohms(250e3))),
                ..PotOptions::default()
            },
            meter: MeterSettings {
                // 400.0 kilohm.
                ranging: Ranging::Fixed(3),
                ..MeterSettings::handheld(10.0)
            },
            hands: Hands::default(),
            protocol: find("lcd-segments-14").unwrap(),
            seed: 1,
            bytes: false,
        }
    }

    /// The same in an instrument.
    pub(super) fn at_jack(mut self, wiring: Wiring) -> Self {
        self.pot.seat = Seat::Jack(wiring, Ohms(6e3));
        self.options.nominal = None;
        self.options.place = Place::Jack {
            wiring,
            total: None,
            pickup: None,
        };
        self
    }

    pub(super) fn bench(&self) -> BenchSettings {
        BenchSettings {
            piece: self.pot.into(),
            meter: self.meter,
            operator: OperatorStyle::default(),
            hands: self.hands,
            seed: self.seed,
        }
    }

    pub(super) fn setup(&self) -> Setup {
        Setup {
            protocol: Arc::clone(&self.protocol),
            source: "the simulated bench".to_owned(),
            facts: MeterFacts {
                counts: Some(4000),
                ..MeterFacts::default()
            },
            check: Some(Box::new(Pot::new(self.options.clone()))),
            patience: Seconds(60.0),
        }
    }

    /// Runs to the verdict.
    pub(super) fn go(&self) -> Ran {
        let (ran, _session) = self.until(|_| false);
        assert!(
            matches!(ran.notices.last(), Some(Notice::Verdict(_))),
            "no verdict within an hour"
        );
        ran
    }

    /// Runs until something is so, or to the verdict.
    pub(super) fn until(&self, is_so: impl Fn(&Session) -> bool) -> (Ran, Session) {
        let mut session = Session::new(self.setup());
        let mut bench = Bench::new(&self.bench());
        let mut ran = Ran {
            notices: Vec::new(),
            entries: Vec::new(),
            took: Stamp::START,
        };
        let mut events = vec![Event::Opened {
            at: Stamp::START,
            mid_stream: true,
            caution: None,
        }];
        while bench.next_at() < Stamp::from_seconds(7_200.0) {
            for event in std::mem::take(&mut events) {
                for effect in session.update(event) {
                    match effect {
                        Effect::Emit(notice) => {
                            bench.hear(session.now(), &notice);
                            ran.notices.push(notice);
                        }
                        Effect::Record(entry) => ran.entries.push(entry),
                        Effect::Finish(_) => {
                            ran.took = session.now();
                            return (ran, session);
                        }
                        Effect::Send(_) | Effect::Cue(_) => {}
                    }
                }
            }
            if is_so(&session) {
                break;
            }
            let bench_due = bench.next_at();
            if let Some(due) = session.due().filter(|due| *due < bench_due) {
                events.push(Event::Tick { at: due });
            } else {
                let happenings = bench.advance(bench_due);
                events.extend(happenings.into_iter().filter_map(|h| self.event(h)));
            }
        }
        (ran, session)
    }

    fn event(&self, happening: Happening) -> Option<Event> {
        match happening {
            Happening::Confirm { at } => Some(Event::Command {
                at,
                command: Command::Confirm,
            }),
            Happening::Reading { at, measured } if self.bytes => {
                let chunk = encode(&self.protocol, &measured).ok()?;
                Some(Event::Bytes { at, chunk })
            }
            Happening::Reading { at, measured } => Some(Event::Item {
                at,
                item: Item::Reading(measured),
            }),
        }
    }
}
