//! Whether the hand rests: a reading that stands still.

use crate::reading::{Seconds, Stamp};
use crate::signal::SweepReading;

/// For at least so long, and so many readings.
const STILL: Seconds = Seconds(0.9);
const READINGS: u32 = 3;

/// Within so many counts, and this part of the total; where a count is more than the second
/// part, within one.
const COUNTS: f64 = 2.0;
const PART: f64 = 0.0006;
const COARSE: f64 = 0.005;

/// Follows the reading for rests.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rest {
    level: f64,
    since: Option<Stamp>,
    readings: u32,
}

impl Rest {
    /// Takes a reading; true where the hand has rested until now.
    pub(super) fn feed(&mut self, reading: &SweepReading, total: f64) -> bool {
        let Some(ohms) = reading.ohms() else {
            *self = Self::default();
            return false;
        };
        let count = reading.resolution.unwrap_or(0.0);
        let slack = (COUNTS * count)
            .min((COARSE * total).max(0.5 * count))
            .max(PART * total);
        match self.since {
            Some(since) if (ohms - self.level).abs() <= slack => {
                self.readings = self.readings.saturating_add(1);
                self.readings >= READINGS && reading.at.since(since) >= STILL
            }
            _ => {
                *self = Self {
                    level: ohms,
                    since: Some(reading.at),
                    readings: 1,
                };
                false
            }
        }
    }

    /// Where it rests or last stood.
    pub(super) const fn level(&self) -> f64 {
        self.level
    }

    /// For how long it has stood there.
    pub(super) fn lasted(&self, now: Stamp) -> Seconds {
        self.since.map_or(Seconds(0.0), |since| now.since(since))
    }
}
