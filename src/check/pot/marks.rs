//! The law from three marks of the turn: all the way down, half, all the way up.

use crate::check::pot::options::ToldLaw;
use crate::check::pot::total::AtRest;
use crate::reading::Ohms;

/// What the operator is asked for, mark by mark; the first is in the step's own sentence.
const ASKS: [&str; 2] = [
    "Turn to half of the turn, by the pointer or the middle of the dial, then press Enter.",
    "Turn all the way up, then press Enter.",
];

/// Nothing was on the probes when Enter was pressed.
pub(super) const NO_NUMBER: &str = "the meter shows no number: put the probes on the wiper and the \
low lug, wait for a steady number, then press Enter.";

/// The marks taken so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Marks {
    pub(super) rest: AtRest,
    taken: Vec<Ohms>,
}

impl Marks {
    /// Takes the mark the operator confirms; gives the next thing to ask, or nothing once all
    /// are taken.
    pub(super) fn take(&mut self) -> Option<&'static str> {
        let Some(level) = self.rest.latest() else {
            return Some(NO_NUMBER);
        };
        self.taken.push(level);
        self.rest.restart();
        ASKS.get(self.taken.len() - 1).copied()
    }

    /// What they tell, once all are taken: the part at half, between what the ends read.
    pub(super) fn told(&self) -> Option<ToldLaw> {
        let [zero, half, full] = self.taken.as_slice() else {
            return None;
        };
        let span = full.0 - zero.0;
        (span > 0.0 && (*zero..=*full).contains(half))
            .then(|| ToldLaw::of((half.0 - zero.0) / span))
    }

    /// Whether all marks are taken.
    pub(super) const fn complete(&self) -> bool {
        self.taken.len() == 3
    }
}
