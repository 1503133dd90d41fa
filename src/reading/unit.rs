//! The two units the house counts in, and the time of an event.

use std::fmt;
use std::ops::{Add, Sub};

/// A resistance in ohms.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Ohms(pub f64);

/// A length of time in seconds.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Seconds(pub f64);

/// Time since the start of the session, in whole microseconds.
///
/// Whole, so that a recording reads back to exactly the same stamps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Stamp(u64);

impl Stamp {
    /// The start of the session.
    pub const START: Self = Self(0);

    /// A stamp from whole microseconds.
    pub const fn from_micros(micros: u64) -> Self {
        Self(micros)
    }

    /// A stamp from seconds, rounded to a microsecond; negative times are the start.
    pub fn from_seconds(seconds: f64) -> Self {
        Self(Seconds(seconds).micros())
    }

    /// Whole microseconds since the start.
    pub const fn micros(self) -> u64 {
        self.0
    }

    /// Seconds since the start.
    pub fn seconds(self) -> f64 {
        std::time::Duration::from_micros(self.0).as_secs_f64()
    }

    /// The time from `earlier` to this stamp; zero if it is not earlier.
    pub fn since(self, earlier: Self) -> Seconds {
        Self(self.0.saturating_sub(earlier.0)).into()
    }
}

impl From<Stamp> for Seconds {
    fn from(stamp: Stamp) -> Self {
        Self(stamp.seconds())
    }
}

impl Seconds {
    /// Whole microseconds, rounded; zero for negative times.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "float-to-integer casts saturate, and negative times are defined as zero"
    )]
    pub fn micros(self) -> u64 {
        (self.0 * 1e6).round() as u64
    }

    /// The larger of two times.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
}

impl Add<Seconds> for Stamp {
    type Output = Self;

    fn add(self, span: Seconds) -> Self {
        Self(self.0.saturating_add(span.micros()))
    }
}

impl Sub for Stamp {
    type Output = Seconds;

    fn sub(self, earlier: Self) -> Seconds {
        self.since(earlier)
    }
}

impl fmt::Display for Ohms {
    /// Four significant digits with the trade's prefixes: `0.318 Ω`, `4.700 kΩ`, `22.00 MΩ`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = self.0.abs();
        let (scaled, prefix) = match size {
            _ if size >= 999_950.0 => (self.0 / 1e6, "M"),
            _ if size >= 999.95 => (self.0 / 1e3, "k"),
            _ => (self.0, ""),
        };
        let places = match scaled.abs() {
            shown if shown >= 99.995 => 1,
            shown if shown >= 9.9995 => 2,
            _ => 3,
        };
        write!(f, "{scaled:.places$} {prefix}Ω")
    }
}

impl fmt::Display for Seconds {
    /// `0.77 s` from a tenth of a second up, `58 ms` below it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 == 0.0 || self.0 >= 0.0995 {
            write!(f, "{:.2} s", self.0)
        } else if self.0 >= 0.00995 {
            write!(f, "{:.0} ms", self.0 * 1e3)
        } else {
            write!(f, "{:.2} ms", self.0 * 1e3)
        }
    }
}
