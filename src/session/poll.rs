//! Asking a meter that only speaks when spoken to: one question outstanding at a time, and
//! growing patience when no answer comes.

use crate::protocol::Ask;
use crate::reading::{Seconds, Stamp};

/// The asking side of a format.
#[derive(Debug, Clone)]
pub(super) struct Poll {
    ask: Ask,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Not open, or the meter talks by itself.
    Idle,
    /// A question is out.
    Asked { since: Stamp, patience: Seconds },
}

/// Patience never grows beyond this many times the documented reply time.
const MOST_PATIENCE: f64 = 4.0;

impl Poll {
    pub(super) fn new(ask: &Ask) -> Self {
        Self {
            ask: ask.clone(),
            state: State::Idle,
        }
    }

    /// Whether the meter talks by itself, so that the first bytes may be half a frame.
    pub(super) const fn is_idle_protocol(&self) -> bool {
        matches!(self.ask, Ask::Listen)
    }

    /// The port is open: what to send.
    pub(super) fn start(&mut self, now: Stamp) -> Vec<Vec<u8>> {
        match &self.ask {
            Ask::Listen => Vec::new(),
            Ask::Request(request) => {
                self.state = State::Asked {
                    since: now,
                    patience: request.reply_within,
                };
                let mut sent = request.at_open.clone();
                sent.push(request.ask.clone());
                sent
            }
        }
    }

    /// The port is gone.
    pub(super) const fn stop(&mut self) {
        self.state = State::Idle;
    }

    /// An answer came: the next question.
    pub(super) fn answered(&mut self, now: Stamp) -> Option<Vec<u8>> {
        match (&self.ask, self.state) {
            (Ask::Request(request), State::Asked { .. }) => {
                self.state = State::Asked {
                    since: now,
                    patience: request.reply_within,
                };
                Some(request.ask.clone())
            }
            _ => None,
        }
    }

    pub(super) fn due(&self) -> Option<Stamp> {
        match self.state {
            State::Idle => None,
            State::Asked { since, patience } => Some(since + patience),
        }
    }

    /// No answer in time: the question again.
    pub(super) fn time(&mut self, now: Stamp) -> Option<Vec<u8>> {
        let (Ask::Request(request), State::Asked { since, patience }) = (&self.ask, self.state)
        else {
            return None;
        };
        if since + patience > now {
            return None;
        }
        let longest = request.reply_within.0 * MOST_PATIENCE;
        let patience = Seconds((patience.0 * 2.0).min(longest));
        self.state = State::Asked {
            since: now,
            patience,
        };
        Some(request.ask.clone())
    }

    /// The run is over: what to send in parting.
    pub(super) fn close(&mut self) -> Vec<Vec<u8>> {
        let asking = self.state != State::Idle;
        self.state = State::Idle;
        match &self.ask {
            Ask::Request(request) if asking => request.at_close.clone(),
            _ => Vec::new(),
        }
    }
}
