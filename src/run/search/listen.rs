//! Listening at one setting of the line.

use std::time::Duration;

use tokio::time::{Instant as Deadline, timeout_at};

use super::Found;
use crate::protocol::{Identification, Identifier, Identity, SerialSettings};
use crate::source::{Link, PortEvent, Stamped};

/// How long bytes are heard of which no format makes a frame.
const NOTHING_IN_IT: Duration = Duration::from_millis(1_800);

/// The longest time at one setting.
pub(super) const LONGEST: Duration = Duration::from_millis(3_500);

/// The longest time, and the most bytes, at an input that cannot be had again.
pub(super) const INPUT_LONGEST: Duration = Duration::from_secs(10);
const INPUT_MOST: u64 = 65_536;

/// How long to listen.
pub(super) struct Patience {
    silent: Duration,
    nothing_in_it: Duration,
    longest: Duration,
    most: u64,
}

impl Patience {
    /// For input that cannot be had again.
    pub(super) const INPUT: Self = Self {
        silent: INPUT_LONGEST,
        nothing_in_it: INPUT_LONGEST,
        longest: INPUT_LONGEST,
        most: INPUT_MOST,
    };

    /// For a port that can be opened again.
    pub(super) const fn line(silent: Duration) -> Self {
        Self {
            silent,
            nothing_in_it: NOTHING_IN_IT,
            longest: LONGEST,
            most: INPUT_MOST,
        }
    }
}

/// Listens until it is sure, or out of patience.
pub(super) async fn listen(
    link: &mut Link,
    mut identifier: Identifier,
    patience: &Patience,
) -> Heard {
    let start = Deadline::now();
    let mut events = Vec::new();
    let mut identification = identifier.verdict();
    loop {
        let until = match &identification.outcome {
            _ if identifier.heard() == 0 => patience.silent,
            Identity::None => patience.nothing_in_it,
            Identity::Right(_) | Identity::NotSure { .. } => patience.longest,
        };
        let Ok(Some(stamped)) = timeout_at(start + until, link.events.recv()).await else {
            break;
        };
        let over = match &stamped.event {
            PortEvent::Bytes(chunk) => {
                identifier.push(chunk);
                identification = identifier.verdict();
                matches!(identification.outcome, Identity::Right(_))
                    || identifier.heard() >= patience.most
            }
            PortEvent::Opened { .. } => false,
            PortEvent::Lost { .. } | PortEvent::Ended => true,
        };
        events.push(stamped);
        if over {
            break;
        }
    }
    Heard {
        identification,
        bytes: identifier.heard(),
        events,
    }
}

impl Heard {
    /// As what was found there.
    pub(super) fn found(self, line: Option<SerialSettings>, asked: bool) -> Found {
        Found {
            identification: self.identification,
            heard: self.bytes,
            line,
            asked,
            link: None,
        }
    }
}

/// What was found out at one setting.
pub(super) struct Heard {
    /// What the bytes say.
    pub(super) identification: Identification,
    /// How many came.
    pub(super) bytes: u64,
    /// Everything that happened.
    pub(super) events: Vec<Stamped>,
}
