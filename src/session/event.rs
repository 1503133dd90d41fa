//! What goes into a session and what comes out of it.

use crate::check::notice::{Notice, Verdict};
use crate::protocol::Item;
use crate::reading::Stamp;
use crate::record::Entry;

/// Everything that can happen to a session.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// The port is open.
    Opened {
        /// When.
        at: Stamp,
        /// Whether the stream may begin in the middle of a frame.
        mid_stream: bool,
        /// Something the user should know about the port.
        caution: Option<String>,
    },
    /// The port vanished, and may come back.
    Lost {
        /// When.
        at: Stamp,
        /// Why, in words.
        why: String,
    },
    /// The input is over for good.
    Ended {
        /// When.
        at: Stamp,
    },
    /// Bytes arrived.
    Bytes {
        /// When they were read.
        at: Stamp,
        /// The bytes.
        chunk: Vec<u8>,
    },
    /// A decoded item, from a recording.
    Item {
        /// When it arrived.
        at: Stamp,
        /// The item.
        item: Item,
    },
    /// The operator did something.
    Command {
        /// When.
        at: Stamp,
        /// What.
        command: Command,
    },
    /// Time has passed.
    Tick {
        /// The time now.
        at: Stamp,
    },
}

impl Event {
    /// When it happened.
    pub const fn at(&self) -> Stamp {
        match self {
            Self::Opened { at, .. }
            | Self::Lost { at, .. }
            | Self::Ended { at }
            | Self::Bytes { at, .. }
            | Self::Item { at, .. }
            | Self::Command { at, .. }
            | Self::Tick { at } => *at,
        }
    }
}

/// What the operator can do to a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// Enter: "it is on".
    Confirm,
    /// End the run now.
    Quit,
}

/// What is to be done.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Send these bytes to the meter.
    Send(Vec<u8>),
    /// Tell this.
    Emit(Notice),
    /// Keep this.
    Record(Entry),
    /// Let this be heard.
    Cue(Cue),
    /// The run is over. Always the last.
    Finish(Outcome),
}

/// What is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cue {
    /// Bend now.
    Tick,
    /// The operator is asked for something.
    Ask,
    /// A step is done: lift.
    StepDone,
    /// A break or a touch.
    Break,
    /// The meter needs attention.
    Trouble,
    /// The check is over.
    Verdict(Verdict),
}

/// How a run ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// With a verdict.
    Judged {
        /// The verdict.
        verdict: Verdict,
        /// False if the run ended because the meter never gave a single reading.
        meter_heard: bool,
    },
    /// A watch without verdict was ended.
    Watched,
    /// A watch was ended in which the meter never gave a single reading.
    NeverHeard,
}

impl Outcome {
    /// Whether it is the end of a watch, which has no verdict.
    pub const fn is_watch(&self) -> bool {
        matches!(self, Self::Watched | Self::NeverHeard)
    }
}
