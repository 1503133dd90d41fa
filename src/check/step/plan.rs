//! What one step asks for, as data: a check is a list of these.

use crate::check::notice::{StepName, Wants};
use crate::reading::{Ohms, Seconds};
use crate::signal::Goal;

/// One thing to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct StepPlan {
    /// Its name in the command contract.
    pub name: StepName,
    /// What the operator is asked to do.
    pub prompt: String,
    /// What is wanted, and the limits of it.
    pub limit: Limit,
    /// How the step comes to be on the work.
    pub reach: Reach,
    /// Where it is bent while it is watched, in turn; nowhere if it is only read at rest.
    pub bends: Vec<String>,
    /// Whether the probes are to be lifted before the next step.
    pub lift_after: bool,
    /// Whether the probe leads are what is measured.
    pub of_probes: bool,
    /// What to do when it is found open, beyond what any step says.
    pub when_open: Option<&'static str>,
}

impl StepPlan {
    /// Where to bend at this tick: the places in turn, each for its share of the bends.
    pub fn place(&self, flex: u32, of: u32) -> Option<&str> {
        let places = u32::try_from(self.bends.len()).ok()?;
        let turn = flex
            .saturating_sub(1)
            .saturating_mul(places)
            .checked_div(of)?;
        let turn = usize::try_from(turn).ok()?;
        self.bends
            .get(turn)
            .or_else(|| self.bends.last())
            .map(String::as_str)
    }

    /// What the step wants to see.
    pub const fn wants(&self) -> Wants {
        match self.limit {
            Limit::Closed { .. } => Wants::Closed,
            Limit::Open { .. } => Wants::Open,
        }
    }
}

/// The limits of a step.
#[derive(Debug, Clone, PartialEq)]
pub enum Limit {
    /// A conductor that should be closed.
    Closed {
        /// Passes up to this, after tare.
        pass: Ohms,
        /// Fails above this, after tare; in between is a retest.
        fail: Ohms,
        /// Where the limits come from, in words.
        basis: String,
    },
    /// Conductors that should be apart.
    Open {
        /// Passes from this up.
        pass: Ohms,
        /// Fails below this; in between is leakage, a retest.
        fail: Ohms,
    },
}

/// How a step comes to be on the work, which decides what proves contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// By touching: a closed reading proves its own contact.
    Touch,
    /// From a closed reading, by removing only the far-end short.
    PullShort,
    /// By the operator's word.
    Confirm,
}

/// How thoroughly and how fast a check works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// The opening that must not be missed, and how surely.
    pub goal: Goal,
    /// The shortest time from one tick to the next that a hand can follow.
    pub tick: Seconds,
    /// How long the hand takes to reach the bend after a tick.
    pub moving: Seconds,
    /// How long a step waits for contact before it asks again.
    pub wait: Seconds,
}

impl Default for Pace {
    /// 100 ms with 95 %, a bend every 0.8 s at the fastest (common practice, no source: the
    /// cord-flexing standards bend once a second or slower).
    fn default() -> Self {
        Self {
            goal: Goal::DEFAULT,
            tick: Seconds(0.8),
            moving: Seconds(0.4),
            wait: Seconds(30.0),
        }
    }
}
