//! The readings of one sweep, taken one by one and kept up to a stated number.

use crate::signal::sweep::{
    Advice, Analysis, Pace, SweepReading, SweepSettings, Track, analyse,
};

/// Readings kept: nine hours at 4 a second, 22 minutes at 200. Those after are counted and
/// not looked at; 40 bytes each.
pub const MOST_READINGS: usize = 262_144;

/// A sweep as it goes on.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    settings: SweepSettings,
    readings: Vec<SweepReading>,
    dropped: usize,
    pace: Pace,
}

impl Sweep {
    /// An empty sweep.
    pub fn new(settings: SweepSettings) -> Self {
        Self {
            settings,
            readings: Vec::new(),
            dropped: 0,
            pace: Pace::default(),
        }
    }

    /// Takes a reading; gives the wiper's position and what to tell the hand, where the
    /// reading tells one.
    pub fn push<T: Track + ?Sized>(
        &mut self,
        reading: SweepReading,
        track: &T,
    ) -> Option<(f64, Advice)> {
        if self.readings.len() < MOST_READINGS {
            self.readings.push(reading);
        } else {
            self.dropped = self.dropped.saturating_add(1);
        }
        self.pace.feed(&reading, track, &self.settings)
    }

    /// The readings kept.
    pub fn readings(&self) -> &[SweepReading] {
        &self.readings
    }

    /// What it is judged by.
    pub const fn settings(&self) -> &SweepSettings {
        &self.settings
    }

    /// What the readings so far show. It walks all of them: ask it a few times a second while
    /// the sweep goes on, and once at its end.
    pub fn analyse<T: Track + ?Sized>(&self, track: &T) -> Analysis {
        Analysis {
            dropped: self.dropped,
            ..analyse(&self.readings, track, &self.settings)
        }
    }
}
