//! What a check says while it runs: the words of the command contract, as values.
//!
//! These are plain types; their JSON form is a promise made in one place, at the edge.

use std::fmt;

use crate::reading::{Ohms, Reading, Seconds, Stamp};
use crate::signal::BlindSpot;

pub use crate::check::step_name::StepName;

/// One thing said.
#[derive(Debug, Clone, PartialEq)]
pub enum Notice {
    /// The meter's port is open.
    Opened(Opened),
    /// A step begins and waits for the operator.
    Step(StepBegins),
    /// The step moved on.
    Phase {
        /// The step.
        step: StepName,
        /// Where it is now.
        phase: Phase,
    },
    /// Bend now, and hold until the next tick.
    Tick(Tick),
    /// A reading arrived.
    Reading(Reading),
    /// The conductor did not hold still.
    Disturbance(Disturbance),
    /// Something stops the judging, or makes it doubtful.
    Trouble {
        /// Which.
        what: Trouble,
        /// A sentence for the person at the bench.
        text: String,
    },
    /// A step is over.
    StepDone(StepResult),
    /// The check is over. Always the last.
    Verdict(CheckResult),
}

/// The meter's port is open.
#[derive(Debug, Clone, PartialEq)]
pub struct Opened {
    /// Where the bytes come from, as the user wrote it.
    pub source: String,
    /// The format's ID.
    pub protocol: String,
    /// The documented time between readings, if the format's document tells one.
    pub interval: Option<Seconds>,
}

/// A step begins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepBegins {
    /// The step.
    pub step: StepName,
    /// What it wants to see.
    pub wants: Wants,
    /// What the operator is asked to do.
    pub prompt: String,
}

/// What a step wants to see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Wants {
    /// A low, steady resistance.
    Closed,
    /// No connection.
    Open,
    /// A control turned from end to end.
    Sweep,
    /// A resistance of some size, at rest.
    Value,
}

/// Where a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Phase {
    /// For the probes to touch the work, or for the far-end short to be pulled.
    Waiting,
    /// For the reading to come to rest.
    Settling,
    /// Reading at rest.
    Still,
    /// Reading while the work is bent.
    Flexing,
    /// Reading while a control is turned.
    Sweeping,
    /// For the probes to be lifted.
    Lifting,
    /// For the operator's word (Enter).
    Confirm,
}

/// One bend is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tick {
    /// The step.
    pub step: StepName,
    /// The number of this bend, from 1.
    pub flex: u32,
    /// How many the step needs.
    pub of: u32,
}

/// What kind of unsteadiness was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DisturbanceKind {
    /// A conductor that should be closed read above its open threshold.
    Break,
    /// Conductors that should be apart read below their threshold.
    Touch,
    /// Repeated entering and leaving of over-range within a short window.
    Flicker,
    /// A change of level that stays, and comes neither from motion nor from a range change.
    Jump,
    /// Readings stood above a smooth sweep by more than the limit.
    NoisyZone,
}

/// An interval in which the work was not what it should be.
#[derive(Debug, Clone, PartialEq)]
pub struct Disturbance {
    /// Which kind.
    pub kind: DisturbanceKind,
    /// The step it was seen in.
    pub step: StepName,
    /// The first reading of it.
    pub from: Stamp,
    /// The last reading of it.
    pub to: Stamp,
    /// It lasted at least this long.
    pub at_least: Seconds,
    /// It lasted at most this long.
    pub at_most: Seconds,
    /// The most telling number in it: the highest of a break, the lowest of a touch; none
    /// if it was over-range throughout.
    pub ohms: Option<Ohms>,
}

/// What stops the judging.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Trouble {
    /// The dial is not on ohms.
    WrongFunction,
    /// HOLD is shown.
    Hold,
    /// REL is shown.
    Relative,
    /// The battery is low.
    LowBattery,
    /// Readings stopped coming.
    Stalled,
    /// The port vanished.
    Lost,
    /// Bytes came that make no frame.
    Garbled,
    /// The meter changed its range by itself.
    RangeChange,
}

/// The three verdicts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// Everything wanted was seen, and enough of it.
    Pass,
    /// The evidence carries neither of the others.
    Retest,
    /// A fault was seen.
    Fail,
}

/// How it is known that the probes were on the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Proof {
    /// The readings themselves show it.
    Seen,
    /// The operator says so.
    Operator,
}

/// What is wrong with the work, as far as one step can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Finding {
    /// Nothing connects where something should.
    Open,
    /// It opens when bent.
    OpensWhenBent,
    /// Contact was lost for longer than a bend: a lifted probe or a parted conductor.
    ContactLost,
    /// It reads more than copper and contacts explain.
    HighResistance,
    /// Its level moves when bent, and stays.
    LevelMoves,
    /// What should be apart is joined.
    Joined,
    /// What should be apart touches when bent.
    TouchesWhenBent,
    /// Something between apart and joined conducts a little.
    Leakage,
}

/// What one step found.
#[derive(Debug, Clone, PartialEq)]
pub struct StepResult {
    /// The step.
    pub step: StepName,
    /// Its verdict.
    pub verdict: Verdict,
    /// The resistance at rest; none if there was no number.
    pub ohms: Option<Ohms>,
    /// How contact is known.
    pub proof: Proof,
    /// What is wrong, if something is: also where it is not certain enough for a fail.
    pub finding: Option<Finding>,
    /// The chance that a fault of the judged length at each bend would have shown, 0 to 1.
    pub coverage: f64,
    /// Why, in words.
    pub reasons: Vec<String>,
}

/// What the whole check found.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckResult {
    /// The check: a name of `check::CHECKS`.
    pub check: &'static str,
    /// Its verdict.
    pub verdict: Verdict,
    /// Why, in words.
    pub reasons: Vec<String>,
    /// What is wrong, in a few words each: `tip opens when bent`.
    pub findings: Vec<String>,
    /// What this way of checking cannot see at all.
    pub not_covered: Option<String>,
    /// Its steps.
    pub steps: Vec<StepResult>,
    /// What the meter could not have seen; none if no interval was ever measured.
    pub blind_spot: Option<BlindSpot>,
    /// False if the run ended because the meter never gave a single reading.
    pub meter_heard: bool,
}

macro_rules! words {
    ($type:ty { $($variant:ident => $word:literal),+ $(,)? }) => {
        impl $type {
            /// The word of the command contract.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word),+
                }
            }

            /// What a word of the command contract says; none if it is no such word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word {
                    $($word => Some(Self::$variant),)+
                    _ => None,
                }
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.word())
            }
        }
    };
}

words!(Wants { Closed => "closed", Open => "open", Sweep => "sweep", Value => "value" });
words!(Phase {
    Waiting => "waiting",
    Settling => "settling",
    Still => "still",
    Flexing => "flexing",
    Sweeping => "sweeping",
    Lifting => "lifting",
    Confirm => "confirm",
});
words!(DisturbanceKind {
    Break => "break",
    Touch => "touch",
    Flicker => "flicker",
    Jump => "jump",
    NoisyZone => "noisy_zone",
});
words!(Trouble {
    WrongFunction => "wrong_function",
    Hold => "hold",
    Relative => "relative",
    LowBattery => "low_battery",
    Stalled => "stalled",
    Lost => "lost",
    Garbled => "garbled",
    RangeChange => "range_change",
});
words!(Finding {
    Open => "open",
    OpensWhenBent => "opens_when_bent",
    ContactLost => "contact_lost",
    HighResistance => "high_resistance",
    LevelMoves => "level_moves",
    Joined => "joined",
    TouchesWhenBent => "touches_when_bent",
    Leakage => "leakage",
});
words!(Verdict { Pass => "pass", Retest => "retest", Fail => "fail" });
words!(Proof { Seen => "seen", Operator => "operator" });
