//! A check on the simulated bench in simulated time: real bytes of a real format through a
//! real session, with the operator hearing what it says.

use std::sync::Arc;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, Happening, Lead as BenchLead, LeadFault, MeterSettings,
    Method as BenchMethod, OperatorStyle,
};
use steadyohm::check::lead::{Lead, LeadOptions, Method};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{CheckResult, Notice, StepResult};
use steadyohm::protocol::{Item, Protocol, encode, find};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::record::Entry;
use steadyohm::session::{Command, Effect, Event, Outcome, Session, Setup};

/// What a run left behind.
#[derive(Debug, Clone)]
pub(crate) struct Ran {
    pub(crate) notices: Vec<Notice>,
    pub(crate) entries: Vec<Entry>,
    pub(crate) outcome: Outcome,
    pub(crate) took: Stamp,
}

impl Ran {
    /// The verdict, which is always the last notice.
    pub(crate) fn result(&self) -> &CheckResult {
        match self.notices.last() {
            Some(Notice::Verdict(result)) => result,
            other => panic!("the last notice is not a verdict: {other:?}"),
        }
    }

    pub(crate) fn step(&self, name: &str) -> &StepResult {
        self.result()
            .steps
            .iter()
            .find(|step| step.step == name)
            .unwrap()
    }

    /// What was said, without the readings.
    pub(crate) fn said(&self) -> Vec<Notice> {
        self.notices
            .iter()
            .filter(|n| !matches!(n, Notice::Reading(_)))
            .cloned()
            .collect()
    }
}

/// A bench and a check to be run together.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    pub(crate) bench: BenchSettings,
    pub(crate) options: LeadOptions,
    pub(crate) protocol: Arc<Protocol>,
    pub(crate) range: Option<Ohms>,
    /// Whether readings go as bytes of the format; otherwise as the items it would give.
    pub(crate) bytes: bool,
}

impl Run {
    /// A handheld at this rate on a lead with this fault.
    pub(crate) fn new(fault: LeadFault, rate: f64, seed: u64) -> Self {
        Self {
            bench: BenchSettings {
                lead: BenchLead::with_fault(fault),
                meter: MeterSettings::handheld(rate),
                operator: OperatorStyle::Follows(BenchMethod::EndToEnd),
                hands: Hands::default(),
                seed,
            },
            options: LeadOptions::default(),
            protocol: find("lcd-segments-14").unwrap(),
            range: None,
            bytes: true,
        }
    }

    /// The same by the far-end short.
    pub(crate) fn by_loop(mut self) -> Self {
        self.bench.operator = OperatorStyle::Follows(BenchMethod::Loop);
        self.options.method = Method::Loop;
        self
    }

    pub(crate) fn setup(&self) -> Setup {
        Setup {
            protocol: Arc::clone(&self.protocol),
            source: "the simulated bench".to_owned(),
            facts: MeterFacts {
                interval: self.protocol.rate().map(|rate| Seconds(1.0 / rate)),
                aperture: self.protocol.aperture(),
                counts: self
                    .protocol
                    .counts()
                    .filter(|_| self.protocol.resolution_tells_range()),
                range: self.range,
            },
            check: Some(Box::new(Lead::new(self.options.clone()))),
            patience: Seconds(60.0),
        }
    }

    /// Runs to the verdict.
    pub(crate) fn go(&self) -> Ran {
        self.go_with(|_, _| {})
    }

    /// Runs to the verdict; `meddle` may change the bench before each event.
    pub(crate) fn go_with(&self, mut meddle: impl FnMut(Stamp, &mut Bench)) -> Ran {
        let mut session = Session::new(self.setup());
        let mut bench = Bench::new(&self.bench);
        let mut ran = Ran {
            notices: Vec::new(),
            entries: Vec::new(),
            outcome: Outcome::Watched,
            took: Stamp::START,
        };
        let opened = Event::Opened {
            at: Stamp::START,
            mid_stream: true,
            caution: None,
        };
        let mut events = vec![opened];
        loop {
            for event in std::mem::take(&mut events) {
                for effect in session.update(event) {
                    match effect {
                        Effect::Emit(notice) => {
                            bench.hear(session.now(), &notice);
                            ran.notices.push(notice);
                        }
                        Effect::Record(entry) => ran.entries.push(entry),
                        Effect::Finish(outcome) => {
                            ran.outcome = outcome;
                            ran.took = session.now();
                            return ran;
                        }
                        Effect::Send(_) | Effect::Cue(_) => {}
                    }
                }
            }
            let bench_due = bench.next_at();
            if let Some(due) = session.due().filter(|due| *due < bench_due) {
                events.push(Event::Tick { at: due });
            } else {
                meddle(bench_due, &mut bench);
                let happenings = bench.advance(bench_due);
                events.extend(happenings.into_iter().filter_map(|h| self.event(h)));
            }
            assert!(
                bench_due < Stamp::from_seconds(3_600.0),
                "no verdict within an hour"
            );
        }
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
