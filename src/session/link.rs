//! How a session takes over the link, and leaves it.

use std::sync::Arc;

use crate::check::notice::{Notice, Opened};
use crate::protocol::{Decoder, Joining};
use crate::record;
use crate::session::{Effect, Session};

/// How a session uses the link.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct LinkUse {
    /// It was open before: what was asked may still be answered, and half a frame may be in.
    pub(super) taken_over: bool,
    /// It stays open for the next session.
    pub(super) handed_on: bool,
}

impl Session {
    /// The same, on a link that a session before used until now, and that stays open: decoding
    /// goes on in the frame it is in, and a question that is out is not asked again.
    #[must_use]
    pub fn following(mut self, before: &mut Self) -> Self {
        std::mem::swap(&mut self.decoder, &mut before.decoder);
        std::mem::swap(&mut self.poll, &mut before.poll);
        self.poll.begin_anew();
        self.link = LinkUse {
            taken_over: true,
            handed_on: true,
        };
        self
    }

    /// No other session follows on the link: what to send in parting.
    pub fn part(&mut self) -> Vec<Vec<u8>> {
        self.poll.close()
    }

    pub(super) fn opened(&mut self, mid_stream: bool, caution: Option<String>) {
        let now = self.now;
        let goes_on = std::mem::take(&mut self.link.taken_over) && self.poll.is_under_way();
        if !goes_on {
            let joining = if mid_stream && self.poll.is_idle_protocol() {
                Joining::MidStream
            } else {
                Joining::AtStart
            };
            self.decoder = Decoder::new(Arc::clone(&self.protocol), joining);
        }
        self.repeats.restart();
        self.record(record::Mark::Opened { mid_stream });
        self.mind(now, |session| session.watchdog.opened(now));
        self.history.caution(caution);
        if !goes_on {
            let sent = self.poll.start(now);
            self.effects.extend(sent.into_iter().map(Effect::Send));
        }
        self.out.say(Notice::Opened(Opened {
            source: self.source.clone(),
            protocol: self.protocol.id().to_owned(),
            interval: self.meter.facts.interval,
        }));
        if !self.begun {
            self.begun = true;
            if let Some(check) = &mut self.check {
                check.begin(now, &mut self.out);
            }
        }
    }
}
