//! What the screen and the report show of a rewire: expected against measured, state by state.

use crate::check::notice::{Phase, Verdict};
use crate::circuit::diagnosis::Observation;
use crate::circuit::diagnosis::standing::Band;

/// A rewire as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct RewireView<'a> {
    /// The states in order, those asked for by the diagnosis last.
    pub states: &'a [StateLine],
    /// Where the state under way is; none once all is over.
    pub phase: Option<Phase>,
    /// The likeliest faults in words, the likeliest first; none while nothing is wrong.
    pub likeliest: &'a [String],
    /// What would be measured next, if it is not measured in this run.
    pub next: Option<&'a str>,
}

/// One state.
#[derive(Debug, Clone, PartialEq)]
pub struct StateLine {
    /// In words.
    pub name: String,
    /// What it reads with every part at its nominal value, in ohms; infinite for open.
    pub ohms: f64,
    /// Between what a sound instrument reads.
    pub band: Band,
    /// What was read.
    pub seen: Option<Observation>,
    /// What that is worth; none before it was read.
    pub verdict: Option<Verdict>,
}
