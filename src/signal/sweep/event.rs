//! What a sweep can show to be wrong: once in one pass (an event), and over all passes (a
//! finding).

use crate::reading::{Seconds, Stamp};
use crate::signal::sweep::Zone;

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum EventKind {
    /// The wiper had no contact.
    Break,
    /// Contact came and went several times within a short window.
    Flicker,
    /// The reading stepped suddenly and stayed.
    Jump,
    /// Readings stood above the smooth sweep by more than the limit.
    NoisyZone,
    /// Readings stood below the smooth sweep: fingers or debris across the probes, never the
    /// wiper's contact.
    Dip,
    /// The reading stood still while the hand moved, or the hand stood still: a dead spot if it
    /// comes again at the same place.
    Flat,
}

impl EventKind {
    /// The word in event lines.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Break => "break",
            Self::Flicker => "flicker",
            Self::Jump => "jump",
            Self::NoisyZone => "noisy_zone",
            Self::Dip => "dip",
            Self::Flat => "flat",
        }
    }

    /// In the words of the bench.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Break => "break",
            Self::Flicker => "flicker",
            Self::Jump => "jump",
            Self::NoisyZone => "noisy zone",
            Self::Dip => "dip",
            Self::Flat => "flat spot",
        }
    }
}

/// How large a residual is, against limits borrowed from data sheets and standards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Grade {
    /// Within the lower limit.
    Clean,
    /// Between the limits.
    Noisy,
    /// Above the upper limit, or no contact.
    Bad,
}

/// One thing that happened in one pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// How bad.
    pub grade: Grade,
    /// Where on the track: from the last good reading before it to the first after it for a
    /// break, the readings concerned for the rest.
    pub zone: Zone,
    /// The first reading concerned.
    pub from: Stamp,
    /// The last reading concerned.
    pub to: Stamp,
    /// The least it can have lasted.
    pub at_least: Seconds,
    /// The most it can have lasted.
    pub at_most: Seconds,
    /// The largest residual in it, in parts of the total; `None` for over-range.
    pub height: Option<f64>,
    /// The largest reading in it, in ohms; `None` for over-range.
    pub ohms: Option<f64>,
    /// How many readings are concerned.
    pub readings: u32,
    /// Whether it came and went no faster than the hand was turning, so that the hand may only
    /// have turned back a little: weaker evidence than a step.
    pub smooth: bool,
    /// The pass it happened in, counted from 0.
    pub pass: usize,
}

/// Where a fault sits, from how it comes again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    /// At the same place on passes in both directions: the track.
    Track,
    /// At the same place on several passes, always turned the same way: the track, or a wiper
    /// that tilts.
    OneWay,
    /// At other places on other passes: the wiper, or the probes.
    Moving,
    /// At the low end.
    LowEnd,
    /// At the high end.
    HighEnd,
    /// Seen once, and not on the other passes over that place, if there were any.
    Once,
}

impl Cause {
    /// In the words of the bench.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Track => "the same place turned both ways: the track",
            Self::OneWay => "the same place, turned one way only: the track or a tilting wiper",
            Self::Moving => "at a different place each time: the wiper or the probes",
            Self::LowEnd => "at the low end",
            Self::HighEnd => "at the high end",
            Self::Once => "seen once",
        }
    }
}

/// A fault over all passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The worst of what happened there.
    pub kind: EventKind,
    /// How bad at its worst.
    pub grade: Grade,
    /// Where on the track: the stretch common to its events where they share one, else all of
    /// it.
    pub zone: Zone,
    /// What it points to.
    pub cause: Cause,
    /// Whether it came again at its place, and so is no chance. What the hand may have done
    /// counts only if every pass over that place shows it.
    pub confirmed: bool,
    /// On how many passes it was seen.
    pub seen: usize,
    /// On how many passes it was bad.
    pub bad: usize,
    /// On how many passes readings were taken there at all.
    pub watched: usize,
    /// The largest residual, in parts of the total; `None` if only over-range was seen.
    pub height: Option<f64>,
    /// What it is made of, in order of time.
    pub events: Vec<Event>,
}

impl Finding {
    /// Contact lost in a zone on so many passes, told from the whole sweep and not from the events
    /// of its passes.
    pub const fn lost(zone: Zone, cause: Cause, passes: usize) -> Self {
        Self {
            kind: EventKind::Break,
            grade: Grade::Bad,
            zone,
            cause,
            confirmed: true,
            seen: passes,
            bad: passes,
            watched: passes,
            height: None,
            events: Vec::new(),
        }
    }

    /// In one sentence.
    pub fn sentence(&self) -> String {
        let height = self.height.map_or_else(String::new, |height| {
            format!(", {:.1} % of the total", 100.0 * height)
        });
        format!(
            "{} at {}{height}; on {} of {} passes there: {}",
            self.kind.words(),
            self.zone.words(),
            self.seen,
            self.watched.max(self.seen),
            self.cause.words()
        )
    }
}
