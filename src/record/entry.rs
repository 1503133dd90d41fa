//! What a run leaves behind, in the order it happened.

use crate::protocol::Item;
use crate::reading::Stamp;

/// One thing to keep.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// Bytes as they arrived.
    Bytes {
        /// When they were read.
        at: Stamp,
        /// The bytes.
        chunk: Vec<u8>,
    },
    /// What they meant.
    Item {
        /// When it arrived.
        at: Stamp,
        /// The item.
        item: Item,
    },
    /// Something else that the run depends on.
    Mark {
        /// When.
        at: Stamp,
        /// What.
        mark: Mark,
    },
}

/// Something besides readings that a run depends on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mark {
    /// The port opened.
    Opened {
        /// Whether the stream may begin in the middle of a frame.
        mid_stream: bool,
    },
    /// The port vanished, and why.
    Lost(String),
    /// The operator pressed Enter.
    Confirm,
    /// The operator ended the run.
    Stopped,
    /// The input was over.
    Ended,
    /// The check was over.
    Finished,
}

impl Mark {
    const LOST: &'static str = "lost: ";

    /// The text of the `mark` column.
    pub fn text(&self) -> String {
        match self {
            Self::Opened { mid_stream: true } => "opened".to_owned(),
            Self::Opened { mid_stream: false } => "opened at a frame".to_owned(),
            // A row never holds a line end.
            Self::Lost(why) => format!("{}{}", Self::LOST, why.replace(['\r', '\n'], " ")),
            Self::Confirm => "confirm".to_owned(),
            Self::Stopped => "stopped".to_owned(),
            Self::Ended => "ended".to_owned(),
            Self::Finished => "finished".to_owned(),
        }
    }

    /// The mark of a text.
    pub fn from_text(text: &str) -> Option<Self> {
        match text {
            "opened" => Some(Self::Opened { mid_stream: true }),
            "opened at a frame" => Some(Self::Opened { mid_stream: false }),
            "confirm" => Some(Self::Confirm),
            "stopped" => Some(Self::Stopped),
            "ended" => Some(Self::Ended),
            "finished" => Some(Self::Finished),
            other => other
                .strip_prefix(Self::LOST)
                .map(|why| Self::Lost(why.to_owned())),
        }
    }
}
