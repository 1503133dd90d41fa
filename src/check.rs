//! Checks: what is asked of the operator, and what the readings then prove.
//!
//! A check is a list of steps and the rule that joins their verdicts. It is fed readings,
//! confirmations and the time, and says [`Notice`]s; it opens nothing and waits for nothing.

pub mod lead;
pub mod meter;
pub mod notice;
pub mod pot;
pub mod rewire;
pub mod step;
mod step_name;
pub mod stock;
pub mod trial;
pub mod watchdog;

use crate::reading::{Ohms, Reading, Stamp};
use meter::MeterView;
use notice::{CheckResult, Notice, StepName, StepResult, Wants};
use step::StepMachine;

/// Every check there is, in the order of the bench: outside in.
pub const CHECKS: &[CheckEntry] = &[
    CheckEntry {
        name: lead::NAME,
        proves: "a lead conducts, insulates and stays so while bent",
    },
    CheckEntry {
        name: pot::NAME,
        proves: "a control's track is whole and quiet from end to end",
    },
    CheckEntry {
        name: rewire::NAME,
        proves: "every state at the jack reads what the circuit predicts, or which fault explains it",
    },
    CheckEntry {
        name: trial::NAME,
        proves: "how short a break this meter shows, and how often",
    },
];

/// A check's line in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CheckEntry {
    /// Its name, which is also its command.
    pub name: &'static str,
    /// What it proves.
    pub proves: &'static str,
}

/// Collects what a check says.
#[derive(Debug, Default)]
pub struct Outbox {
    said: Vec<Notice>,
}

impl Outbox {
    /// Says one thing.
    pub fn say(&mut self, notice: Notice) {
        self.said.push(notice);
    }

    /// Takes all that was said, in order.
    pub fn take(&mut self) -> Vec<Notice> {
        std::mem::take(&mut self.said)
    }
}

/// A check under way.
pub trait Check: std::fmt::Debug + Send {
    /// Its name in the command contract.
    fn name(&self) -> &'static str;
    /// The port is open: ask for the first thing.
    fn begin(&mut self, now: Stamp, out: &mut Outbox);
    /// Takes a reading that can be judged.
    fn reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox);
    /// The operator pressed Enter.
    fn confirm(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox);
    /// Readings cannot be judged for now.
    fn suspend(&mut self, now: Stamp, out: &mut Outbox);
    /// Readings can be judged again.
    fn resume(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox);
    /// A frame came that could not be read.
    fn missed(&mut self);
    /// When it wants [`Self::time`] to be called.
    fn due(&self) -> Option<Stamp>;
    /// Time has come to [`Self::due`].
    fn time(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox);
    /// What it found, once it is over.
    fn result(&self, meter: &MeterView) -> Option<CheckResult>;
    /// What it has found so far, when it must end early for the reason given.
    fn cut_short(&self, why: &str, meter: &MeterView) -> CheckResult;
    /// What the screen shows of it.
    fn view(&self) -> CheckView<'_>;
    /// What the screen and the report show of a rewire.
    fn rewire(&self) -> Option<rewire::RewireView<'_>> {
        None
    }
}

/// What the screen shows of a check.
#[derive(Debug)]
pub struct CheckView<'a> {
    /// The steps in order.
    pub steps: Vec<StepView<'a>>,
    /// The step under way.
    pub now: Option<&'a StepMachine>,
    /// The resistance of the probe leads, if it was taken.
    pub tare: Option<Ohms>,
    /// The track of a control, where that is what is checked.
    pub track: Option<pot::TrackView<'a>>,
}

/// One line of the step list.
#[derive(Debug, Clone)]
pub struct StepView<'a> {
    /// Its name.
    pub name: StepName,
    /// What it wants.
    pub wants: Wants,
    /// What it found, once it is over.
    pub result: Option<&'a StepResult>,
}
