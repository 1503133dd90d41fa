//! Asking a meter that says nothing by itself.

use std::sync::Arc;
use std::time::Duration;

use tokio::time::{Instant as Deadline, timeout_at};

use super::Progress;
use super::listen::{Heard, LONGEST};
use super::{PARTING, settling};
use crate::protocol::{Identifier, Protocol, Request, SerialSettings};
use crate::source::{Link, PortEvent};

/// How often an answering meter is asked, and at how many of a format's speeds.
pub(super) const QUESTIONS: usize = 3;
pub(super) const SPEEDS_ASKED: usize = 2;

/// A question and how the line is set for it.
pub(super) struct Question<'q> {
    pub(super) format: &'q Protocol,
    pub(super) request: &'q Request,
    pub(super) line: Option<SerialSettings>,
}

impl Question<'_> {
    /// Whether the meter would be asked the same.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.line == other.line && self.request.ask == other.request.ask
    }

    /// The longest one reply can take to come, or not to come.
    pub(super) fn longest(&self) -> Duration {
        let opening = self.line.as_ref().map(|line| settling(line) + PARTING);
        seconds(self.request.reply_within.0) + opening.unwrap_or_default()
    }

    /// Asks politely: one question, and again only if it was answered. `None` if the port
    /// turned out to talk by itself, so that nothing was sent.
    pub(super) async fn put(
        &self,
        link: &mut Link,
        formats: &[Arc<Protocol>],
        tell: &mut dyn FnMut(&Progress<'_>),
    ) -> Option<Heard> {
        let mut events = Vec::new();
        while let Ok(stamped) = link.events.try_recv() {
            if matches!(stamped.event, PortEvent::Bytes(_)) {
                return None;
            }
            events.push(stamped);
        }
        let Self {
            format,
            request,
            line,
        } = *self;
        let sends = request.at_open.iter().chain([&request.ask]);
        tell(&Progress::Asking {
            format,
            line,
            sends: sends.clone().map(Vec::as_slice).collect(),
        });
        let mut to_send: Vec<&Vec<u8>> = sends.collect();
        let mut identifier = Identifier::answering(formats, format.id());
        for answered in 1..=QUESTIONS {
            for message in to_send.drain(..) {
                // A port that is gone answers nothing, which is what is then found.
                drop(link.outgoing.send(message.clone()).await);
            }
            let until = Deadline::now() + seconds(request.reply_within.0);
            let whole = u32::try_from(answered).unwrap_or(u32::MAX);
            while identifier.expected_frames() < whole {
                let Ok(Some(stamped)) = timeout_at(until, link.events.recv()).await else {
                    break;
                };
                if let PortEvent::Bytes(chunk) = &stamped.event {
                    identifier.push(chunk);
                }
                events.push(stamped);
            }
            if identifier.expected_frames() < whole {
                break;
            }
            to_send.push(&request.ask);
        }
        for message in &request.at_close {
            drop(link.outgoing.send(message.clone()).await);
        }
        Some(Heard {
            identification: identifier.verdict(),
            bytes: identifier.heard(),
            events,
        })
    }
}

fn seconds(seconds: f64) -> Duration {
    Duration::try_from_secs_f64(seconds).unwrap_or(LONGEST)
}
