//! What a session keeps for the screen: the trace, the last reading, the marks, what was said.
//! All of it bounded.

use std::collections::BTreeMap;

use crate::check::notice::{CheckResult, DisturbanceKind, Notice, Phase, Tick, Trouble};
use crate::reading::{Magnitude, Reading, Stamp};
use crate::signal::{Sample, Summary, TraceHistory};

/// Something that happened at a time, drawn on the trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Where it begins.
    pub from: Stamp,
    /// Where it ends.
    pub to: Stamp,
    /// What it is.
    pub kind: DisturbanceKind,
}

/// What was read and said.
#[derive(Debug, Default)]
pub struct History {
    trace: TraceHistory,
    summary: Summary,
    counts: Counts,
    last: Option<Reading>,
    marks: Vec<Mark>,
    tick: Option<(Stamp, Tick)>,
    prompt: Option<String>,
    troubles: BTreeMap<Trouble, String>,
    caution: Option<String>,
    verdict: Option<CheckResult>,
}

/// How many readings of each kind.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Numbers.
    pub numbers: u64,
    /// Over-range.
    pub over: u64,
    /// Blank.
    pub blank: u64,
    /// Times over-range was entered.
    pub over_entered: u64,
}

impl History {
    /// Marks kept; the oldest go first.
    const MOST_MARKS: usize = 200;

    pub(super) fn reading(&mut self, reading: &Reading) {
        match reading.measured.magnitude {
            Magnitude::Number(decimal) => {
                // Volts and ohms have no mean.
                let quantity = reading.measured.quantity;
                if self
                    .last
                    .is_some_and(|last| last.measured.quantity.unit() != quantity.unit())
                {
                    self.summary = Summary::default();
                }
                self.summary.record(decimal.to_f64());
                self.counts.numbers += 1;
            }
            Magnitude::Over { .. } => {
                self.counts.over += 1;
                let before = self.last.map(|last| last.measured.magnitude);
                if !matches!(before, Some(Magnitude::Over { .. })) {
                    self.counts.over_entered += 1;
                }
            }
            Magnitude::Blank => self.counts.blank += 1,
        }
        // What a port lacks is no news once the meter is heard over it.
        self.caution = None;
        let sample = Sample::from(&reading.measured);
        self.trace.push(reading.at, sample);
        self.last = Some(*reading);
    }

    pub(super) fn notice(&mut self, at: Stamp, notice: &Notice) {
        match notice {
            Notice::Step(step) => {
                self.prompt = Some(step.prompt.clone());
                self.tick = None;
            }
            Notice::Tick(tick) => self.tick = Some((at, tick.clone())),
            Notice::Phase {
                phase: Phase::Lifting,
                ..
            } => {
                self.prompt = Some("Lift the probes.".to_owned());
                self.tick = None;
            }
            Notice::Phase {
                phase: Phase::Flexing,
                ..
            } => {
                self.prompt = None;
                self.tick = None;
            }
            Notice::Disturbance(seen) => {
                if self.marks.len() >= Self::MOST_MARKS {
                    self.marks.remove(0);
                }
                self.marks.push(Mark {
                    from: seen.from,
                    to: seen.to,
                    kind: seen.kind,
                });
            }
            Notice::Trouble { what, text } => {
                self.troubles.insert(*what, text.clone());
            }
            Notice::Verdict(result) => {
                self.prompt = None;
                self.verdict = Some(result.clone());
            }
            Notice::Opened(_)
            | Notice::Phase { .. }
            | Notice::Reading(_)
            | Notice::StepDone(_) => {}
        }
    }

    pub(super) fn caution(&mut self, caution: Option<String>) {
        self.caution = caution;
    }

    /// The trace.
    pub const fn trace(&self) -> &TraceHistory {
        &self.trace
    }

    /// Statistics of all numbers read.
    pub const fn summary(&self) -> &Summary {
        &self.summary
    }

    /// How many readings of each kind.
    pub const fn counts(&self) -> Counts {
        self.counts
    }

    /// The last reading.
    pub const fn last(&self) -> Option<&Reading> {
        self.last.as_ref()
    }

    /// Breaks and touches, oldest first.
    pub fn marks(&self) -> &[Mark] {
        &self.marks
    }

    /// The last tick and when it was, while bending goes on.
    pub const fn tick(&self) -> Option<&(Stamp, Tick)> {
        self.tick.as_ref()
    }

    /// What the operator is asked to do now.
    pub fn prompt(&self) -> Option<&str> {
        self.prompt.as_deref()
    }

    /// The sentence of this trouble when it last began.
    pub fn trouble_of(&self, what: Trouble) -> Option<&str> {
        self.troubles.get(&what).map(String::as_str)
    }

    /// What the user should know about the port.
    pub fn port_caution(&self) -> Option<&str> {
        self.caution.as_deref()
    }

    /// The verdict, once there is one.
    pub const fn verdict(&self) -> Option<&CheckResult> {
        self.verdict.as_ref()
    }
}
