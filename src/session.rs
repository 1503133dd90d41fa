//! The pure heart: events in, effects out.
//!
//! A live run, a replay and a test are three feeders of the same [`Session::update`].
//! The session owns decoder, watchdog, check and history; it reads no clock and waits for
//! nothing. Everything that happens at a time of its own (a tick of the bend, a stall, a
//! time-out) is a deadline computed from stamped inputs, and fires at *its* time, in order,
//! before any later input is taken: how often the session is ticked changes nothing, which is
//! why a recording replays to the same events and the same verdict.

mod ending;
mod event;
mod history;
mod link;
mod poll;
mod rate;
mod recorded;
mod repeats;

pub use event::{Command, Cue, Effect, Event, Outcome};
pub use history::{Counts, History, Mark};
pub use recorded::{Recording, events};

use std::sync::Arc;

use crate::check::meter::{MeterFacts, MeterView};
use crate::check::notice::{Notice, Trouble};
use crate::check::watchdog::Watchdog;
use crate::check::{Check, Outbox};
use crate::protocol::{Decoder, Item, Joining, Protocol};
use crate::reading::{Measured, Reading, Seconds, Stamp};
use crate::record;
use crate::signal::IntervalMeter;
use link::LinkUse;
use poll::Poll;
use rate::Rate;
use repeats::Repeats;

/// What a session is set up with.
#[derive(Debug)]
pub struct Setup {
    /// The wire format.
    pub protocol: Arc<Protocol>,
    /// Where the bytes come from, as the user wrote it.
    pub source: String,
    /// What is stated about the meter.
    pub facts: MeterFacts,
    /// The check; none to watch only.
    pub check: Option<Box<dyn Check>>,
    /// How long the meter may be unusable before the check ends.
    pub patience: Seconds,
}

/// A run under way.
#[derive(Debug)]
pub struct Session {
    protocol: Arc<Protocol>,
    source: String,
    decoder: Decoder,
    poll: Poll,
    /// How the link is shared with the sessions before and after.
    link: LinkUse,
    repeats: Repeats,
    watchdog: Watchdog,
    check: Option<Box<dyn Check>>,
    begun: bool,
    meter: MeterView,
    rate: Rate,
    history: History,
    patience: Seconds,
    doubt: Option<String>,
    /// Whether the operator ended the run.
    stopped: bool,
    now: Stamp,
    outcome: Option<Outcome>,
    out: Outbox,
    effects: Vec<Effect>,
}

impl Session {
    /// Sets a session up.
    pub fn new(setup: Setup) -> Self {
        Self {
            decoder: Decoder::new(Arc::clone(&setup.protocol), Joining::MidStream),
            poll: Poll::new(setup.protocol.ask()),
            link: LinkUse::default(),
            repeats: Repeats::new(setup.protocol.repeats_within()),
            protocol: setup.protocol,
            source: setup.source,
            watchdog: Watchdog::default(),
            check: setup.check,
            begun: false,
            meter: MeterView {
                facts: setup.facts,
                interval: None,
                arrival: None,
            },
            rate: Rate::default(),
            history: History::default(),
            patience: setup.patience,
            doubt: None,
            stopped: false,
            now: Stamp::START,
            outcome: None,
            out: Outbox::default(),
            effects: Vec::new(),
        }
    }

    /// The same, on input that is not to be trusted, such as a damaged recording: neither pass
    /// nor fail can rest on it.
    #[must_use]
    pub fn doubting(mut self, why: Option<String>) -> Self {
        self.doubt = why;
        self
    }

    /// Takes one event; gives what is to be done about it, in order.
    pub fn update(&mut self, event: Event) -> Vec<Effect> {
        let at = event.at().max(self.now);
        self.catch_up(at);
        self.now = at;
        if self.outcome.is_none() {
            self.take(event);
            self.publish();
        }
        std::mem::take(&mut self.effects)
    }

    /// When the session next wants to be called, if nothing else happens before.
    pub fn due(&self) -> Option<Stamp> {
        if self.outcome.is_some() {
            return None;
        }
        let check = self
            .check
            .as_ref()
            .filter(|_| self.begun && self.watchdog.is_well());
        [
            self.watchdog.due(&self.meter),
            check.and_then(|check| check.due()),
            self.gives_up_at(),
            self.poll.due(),
        ]
        .into_iter()
        .flatten()
        .min()
    }

    /// The check under way.
    pub fn check(&self) -> Option<&dyn Check> {
        self.check.as_deref()
    }

    /// The meter as it is now.
    pub const fn meter(&self) -> &MeterView {
        &self.meter
    }

    /// The time between readings.
    pub const fn intervals(&self) -> &IntervalMeter {
        self.rate.readings()
    }

    /// What is wrong with the meter now.
    pub const fn watchdog(&self) -> &Watchdog {
        &self.watchdog
    }

    /// What was read and said.
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// The wire format.
    pub fn protocol(&self) -> &Protocol {
        &self.protocol
    }

    /// Where the bytes come from, as the user wrote it.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The time of the last event.
    pub const fn now(&self) -> Stamp {
        self.now
    }

    /// How it ended, once it has.
    pub const fn outcome(&self) -> Option<&Outcome> {
        self.outcome.as_ref()
    }

    /// Fires every deadline up to `at`, each at its own time.
    fn catch_up(&mut self, at: Stamp) {
        while let Some(due) = self.due().filter(|due| *due <= at) {
            self.now = due.max(self.now);
            self.fire(self.now);
            self.publish();
        }
    }

    fn fire(&mut self, now: Stamp) {
        if self.gives_up_at().is_some_and(|at| at <= now) {
            return self.give_up();
        }
        self.mind(now, |session| {
            session.watchdog.time(now, &session.meter, &mut session.out);
        });
        if self.begun
            && self.watchdog.is_well()
            && let Some(check) = &mut self.check
        {
            check.time(now, &self.meter, &mut self.out);
        }
        if let Some(bytes) = self.poll.time(now) {
            self.effects.push(Effect::Send(bytes));
        }
    }

    fn take(&mut self, event: Event) {
        let now = self.now;
        match event {
            Event::Opened {
                mid_stream,
                caution,
                ..
            } => self.opened(mid_stream, caution),
            Event::Lost { why, .. } => {
                self.record(record::Mark::Lost(why.clone()));
                self.poll.stop();
                self.link.taken_over = false;
                self.rate.interrupted();
                self.mind(now, |session| {
                    session.watchdog.lost(now, &why, &mut session.out);
                });
            }
            Event::Ended { .. } => {
                self.record(record::Mark::Ended);
                self.end("the input ended before the check was over");
            }
            Event::Bytes { chunk, .. } => {
                let items = self.decoder.push(&chunk);
                self.effects
                    .push(Effect::Record(record::Entry::Bytes { at: now, chunk }));
                for item in items {
                    self.item(&item);
                }
            }
            Event::Item { item, .. } => self.item(&item),
            Event::Command { command, .. } => self.command(command),
            Event::Tick { .. } => {}
        }
    }

    fn item(&mut self, item: &Item) {
        // Several items of one chunk are taken as a replay takes them: one by one.
        self.catch_up(self.now);
        if self.outcome.is_some() {
            return;
        }
        let now = self.now;
        if self.repeats.is_repeat(item, now) {
            return;
        }
        self.effects.push(Effect::Record(record::Entry::Item {
            at: now,
            item: item.clone(),
        }));
        if let Some(bytes) = self.poll.answered(now) {
            self.effects.push(Effect::Send(bytes));
        }
        match item {
            Item::Reading(measured) => self.reading(*measured),
            Item::Garbled { .. } => {
                if let Some(check) = self.check.as_mut().filter(|_| self.begun) {
                    check.missed();
                }
                self.mind(now, |session| {
                    session.watchdog.garbled(now, &mut session.out);
                });
            }
        }
        self.publish();
    }

    fn reading(&mut self, measured: Measured) {
        let reading = Reading {
            at: self.now,
            measured,
        };
        let silent = self
            .watchdog
            .active()
            .any(|trouble| trouble == Trouble::Stalled);
        self.rate.reading(reading.at, silent);
        self.measure_interval();
        self.history.reading(&reading);
        self.out.say(Notice::Reading(reading));
        self.mind(reading.at, |session| {
            session.watchdog.reading(&reading, &mut session.out);
        });
        if self.begun
            && self.watchdog.is_well()
            && let Some(check) = &mut self.check
        {
            check.reading(&reading, &self.meter, &mut self.out);
        }
    }

    /// Takes the interval anew; on a long stream a percentile hardly moves from one reading
    /// to the next, and costs a walk through the histogram.
    fn measure_interval(&mut self) {
        const EVERY: u64 = 32;
        let count = self.rate.readings().count();
        if count < EVERY || count.is_multiple_of(EVERY) {
            self.meter.interval = self.rate.interval();
            self.meter.arrival = self.rate.arrival();
        }
    }

    fn command(&mut self, command: Command) {
        match command {
            Command::Confirm => {
                self.record(record::Mark::Confirm);
                if let Some(check) = &mut self.check {
                    check.confirm(self.now, &self.meter, &mut self.out);
                }
            }
            Command::Quit => {
                self.record(record::Mark::Stopped);
                self.stopped = true;
                self.end(record::STOPPED_BY_OPERATOR);
            }
        }
    }

    /// Lets the watchdog look, and tells the check when judging stops or goes on.
    fn mind(&mut self, now: Stamp, look: impl FnOnce(&mut Self)) {
        let was_well = self.watchdog.is_well();
        look(self);
        if let Some(check) = self.check.as_mut().filter(|_| self.begun) {
            match (was_well, self.watchdog.is_well()) {
                (true, false) => check.suspend(now, &mut self.out),
                (false, true) => check.resume(now, &self.meter, &mut self.out),
                _ => {}
            }
        }
    }

    fn record(&mut self, mark: record::Mark) {
        self.effects
            .push(Effect::Record(record::Entry::Mark { at: self.now, mark }));
    }
}
