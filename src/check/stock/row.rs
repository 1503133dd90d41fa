//! One thing done to a stock, as it is kept.

use crate::check::notice::{CheckResult, Finding, StepName, Verdict};
use crate::check::stock::Kept;
use crate::reading::Ohms;

/// One thing done.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The lead's tag.
    pub tag: String,
    /// The ID of its kind.
    pub kind: String,
    /// Its length, if it was given.
    pub length: String,
    /// What was done.
    pub what: What,
}

/// What was done.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// It was checked.
    Done(Attempt),
    /// It was left out.
    Skipped,
    /// The attempt of this number was undone; 0 for having been left out.
    Undone(u32),
}

/// One check of a lead.
#[derive(Debug, Clone, PartialEq)]
pub struct Attempt {
    /// Which at this lead, from 1.
    pub number: u32,
    /// Its verdict.
    pub verdict: Verdict,
    /// What is wrong, in a few words each.
    pub findings: Vec<String>,
    /// What the steps read, tare taken off.
    pub ohms: Vec<(StepName, Ohms)>,
    /// What the steps found.
    pub found: Vec<(StepName, Finding)>,
    /// Why, all in one.
    pub reasons: String,
    /// When it began and where it is kept.
    pub kept: Kept,
}

impl Row {
    /// The number of its attempt; 0 if it is none.
    pub const fn number(&self) -> u32 {
        match &self.what {
            What::Done(attempt) => attempt.number,
            What::Skipped => 0,
            What::Undone(number) => *number,
        }
    }
}

impl Attempt {
    /// The attempt that a check was.
    pub(super) fn of(number: u32, result: &CheckResult, kept: Kept) -> Self {
        let steps = || result.steps.iter();
        Self {
            number,
            verdict: result.verdict,
            // Several stand in one cell, between semicolons.
            findings: result
                .findings
                .iter()
                .map(|one| one.replace(';', ","))
                .collect(),
            ohms: steps()
                .filter_map(|step| Some((step.step.clone(), step.ohms?)))
                .collect(),
            found: steps()
                .filter_map(|step| Some((step.step.clone(), step.finding?)))
                .collect(),
            reasons: result.reasons.join("; "),
            kept,
        }
    }

    /// Adds a reason.
    pub(super) fn add(&mut self, reason: &str) {
        if !self.reasons.is_empty() {
            self.reasons.push_str("; ");
        }
        self.reasons.push_str(reason);
    }

    /// Whether something was found that moves when bent, the work or the probes: by chance it
    /// may not show again.
    pub(super) fn moved(&self) -> bool {
        self.found.iter().any(|(_, finding)| match finding {
            Finding::OpensWhenBent
            | Finding::TouchesWhenBent
            | Finding::LevelMoves
            | Finding::ContactLost => true,
            Finding::Open | Finding::HighResistance | Finding::Joined | Finding::Leakage => {
                false
            }
        })
    }

    /// What was found that moves when bent and cannot be the hold of the probes.
    pub(super) fn gave_way(&self) -> impl Iterator<Item = &(StepName, Finding)> {
        self.found.iter().filter(|(_, finding)| {
            matches!(finding, Finding::OpensWhenBent | Finding::TouchesWhenBent)
        })
    }
}
