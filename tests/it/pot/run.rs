//! A control, a hand, a meter and a session in simulated time.

use std::sync::Arc;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, MeterSettings, OperatorStyle, Pot as BenchPot, PotFault,
    Ranging, Seat,
};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{CheckResult, Notice, StepResult};
use steadyohm::check::pot::{Place, Pot, PotOptions};
use steadyohm::circuit::control::{Control, Law, Wiring};
use steadyohm::protocol::{Protocol, find};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::record::Entry;
use steadyohm::session::{Session, Setup};

use crate::simulated::{drive, event_of};

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
        let two_hours = Stamp::from_seconds(7_200.0);
        let driven = drive(
            (&mut session, &mut bench),
            two_hours,
            is_so,
            |_, _| {},
            |happening| event_of(&self.protocol, self.bytes, happening),
        );
        let ran = Ran {
            notices: driven.notices,
            entries: driven.entries,
        };
        (ran, session)
    }
}
