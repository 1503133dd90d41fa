//! A control turned from end to end and back: what its readings show of the track, and what
//! they could not have shown.
//!
//! The truth falls or rises with the turn, so each stretch of one direction gets a monotone
//! fit; what stands above it is poor contact, since poor contact can only add resistance.
//! What is left over is called *track residual*, in parts of the total. It is not the contact
//! resistance variation of the standards: that is measured at 100 Hz to 50 kHz (from memory), a
//! meter's stream ends at half its reading rate.
//!
//! Positions are electrical: 0 is the low end of the track, 1 the high end, and halves are
//! halves of the resistance, whatever the law. A flat start and end of a turn are normal.

use crate::reading::{Decimal, Magnitude, Ohms, Reading, Seconds, Stamp};

mod analysis;

mod bins;

mod cut;

mod event;

mod faults;

mod fit;

mod gaps;

mod group;

mod isotonic;

mod pace;

mod pass;

mod place;

mod settings;

mod store;

mod track;

mod zones;

pub use analysis::{Analysis, analyse};
pub use bins::{BinState, TrackBin};
pub use cut::{Landmarks, beside_numbers, landmarks};
pub use event::{Cause, Event, EventKind, Finding, Grade};
pub use fit::{RobustFit, robust_fit};
pub use isotonic::isotonic;
pub use pace::{Advice, Pace, smallest_zone, sweep_time};
pub use pass::{Direction, Pass, Residual};
pub use settings::SweepSettings;
pub use store::{MOST_READINGS, Sweep};
pub use track::{Branch, Track};

/// What the meter showed at one moment of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Level {
    /// A resistance, tare subtracted.
    Ohms(f64),
    /// Over-range, with the full scale of that range in ohms where it is told.
    Over(Option<f64>),
    /// No value.
    Blank,
}

/// One reading of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweepReading {
    /// When it arrived.
    pub at: Stamp,
    /// What it said.
    pub level: Level,
    /// The weight of the last shown digit in ohms, where there is a display: it tells the
    /// range.
    pub resolution: Option<f64>,
}

impl SweepReading {
    /// A reading less the resistance of the probe leads. A reading that is not of a resistance
    /// says nothing here.
    pub fn of(reading: &Reading, tare: Ohms) -> Self {
        let measured = &reading.measured;
        let level = match measured.magnitude {
            _ if !measured.quantity.is_resistance() => Level::Blank,
            Magnitude::Number(number) => Level::Ohms(number.to_f64() - tare.0),
            Magnitude::Over { beyond } => Level::Over(beyond.map(Decimal::to_f64)),
            Magnitude::Blank => Level::Blank,
        };
        Self {
            at: reading.at,
            level,
            resolution: measured.resolution_value(),
        }
    }

    /// The resistance, if it is a sane one.
    pub fn ohms(&self) -> Option<f64> {
        match self.level {
            Level::Ohms(ohms) if ohms.is_finite() => Some(ohms),
            _ => None,
        }
    }

    /// Whether it is over-range.
    pub const fn is_over(&self) -> bool {
        matches!(self.level, Level::Over(_))
    }
}

/// A stretch of the track, electrical, `from` not above `to`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zone {
    /// Its low end, 0 to 1.
    pub from: f64,
    /// Its high end, 0 to 1.
    pub to: f64,
}

impl Zone {
    /// The stretch between two positions in either order.
    pub fn between(one: f64, other: f64) -> Self {
        Self {
            from: one.min(other).clamp(0.0, 1.0),
            to: one.max(other).clamp(0.0, 1.0),
        }
    }

    /// Its middle.
    pub const fn middle(&self) -> f64 {
        f64::midpoint(self.from, self.to)
    }

    /// Its width.
    pub fn width(&self) -> f64 {
        self.to - self.from
    }

    /// Whether two stretches come as near as `slack`.
    pub fn meets(&self, other: &Self, slack: f64) -> bool {
        self.from - slack <= other.to && other.from - slack <= self.to
    }

    /// The smallest stretch that holds both.
    #[must_use]
    pub const fn with(&self, other: &Self) -> Self {
        Self {
            from: self.from.min(other.from),
            to: self.to.max(other.to),
        }
    }

    /// In the words of the bench: `34 to 37 % from the low end`.
    pub fn words(&self) -> String {
        let (from, to) = (100.0 * self.from, 100.0 * self.to);
        if to - from < 1.0 {
            format!("{:.0} % from the low end", f64::midpoint(from, to))
        } else {
            format!("{from:.0} to {to:.0} % from the low end")
        }
    }
}

/// Seconds between two stamps.
fn span(from: Stamp, to: Stamp) -> Seconds {
    to.since(from)
}
