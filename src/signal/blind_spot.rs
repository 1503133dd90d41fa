//! What the meter, at its present rate, could not have seen.
//!
//! Readings come every T; each averages linearly over an aperture a. The conductor opens once
//! for a time d, at a moment that has nothing to do with the meter's. A reading shows it when
//! the gap fills at least the share f of its aperture. The starts of a gap that do so span
//! d + a(1 - 2f), once in every T: hence [`BlindSpot::chance`].
//!
//! It holds while the range is held, the display does not filter, and the gap goes all the
//! way open.

mod words;

pub use words::percent;

use crate::reading::{Ohms, Seconds};

/// Where the aperture and the fraction of a [`BlindSpot`] come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Basis {
    /// The format's source document states the aperture, and the range is known.
    Documented,
    /// A meter trial with gaps of known length.
    Tried,
    /// Neither: an aperture as long as the interval is taken.
    Assumed,
}

/// The meter's view of short events.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlindSpot {
    /// Time between readings, measured on the stream.
    pub interval: Seconds,
    /// How long one reading averages.
    pub aperture: Seconds,
    /// The share of one aperture a gap must fill to lift the reading over the threshold,
    /// where it is known.
    pub fraction: Option<f64>,
    /// Where aperture and fraction come from.
    pub basis: Basis,
}

/// The share of one aperture that a gap must fill to lift a reading from rest to the
/// threshold, when a fully open conductor reads the clip value: (threshold - rest) /
/// (clip - rest).
///
/// At most one: a whole open aperture reads over-range, which is a hit whatever the threshold.
/// `None` unless rest lies below both and all three are finite.
pub fn hit_fraction(threshold: Ohms, at_rest: Ohms, clip: Ohms) -> Option<f64> {
    let lift = threshold.0 - at_rest.0;
    let full = clip.0 - at_rest.0;
    (lift.is_finite() && full.is_finite() && lift > 0.0 && full > 0.0)
        .then(|| (lift / full).min(1.0))
}

impl BlindSpot {
    /// The break lengths the chances are told for.
    pub const SHOWN_BREAKS: [Seconds; 4] =
        [Seconds(0.01), Seconds(0.05), Seconds(0.1), Seconds(0.3)];

    /// Nothing but the interval is known.
    ///
    /// The aperture is taken as long as the interval: a meter that integrates afresh for each
    /// reading cannot average longer, and every shorter aperture promises more.
    pub const fn assumed(interval: Seconds) -> Self {
        Self {
            interval,
            aperture: interval,
            fraction: None,
            basis: Basis::Assumed,
        }
    }

    /// The format's source document states the aperture.
    ///
    /// Without the fraction the chance is assumed all the same, since the fraction decides it
    /// too; the aperture is kept for the cautious figures.
    pub const fn documented(
        interval: Seconds,
        aperture: Seconds,
        fraction: Option<f64>,
    ) -> Self {
        Self {
            interval,
            aperture,
            fraction,
            basis: match fraction {
                Some(_) => Basis::Documented,
                None => Basis::Assumed,
            },
        }
    }

    /// Aperture and fraction were found with gaps of known length.
    pub const fn tried(interval: Seconds, aperture: Seconds, fraction: f64) -> Self {
        Self {
            interval,
            aperture,
            fraction: Some(fraction),
            basis: Basis::Tried,
        }
    }

    /// The fraction, if it is one and does not rest on an assumption.
    fn known_fraction(&self) -> Option<f64> {
        match self.basis {
            Basis::Documented | Basis::Tried => {
                self.fraction.filter(|share| (0.0..=1.0).contains(share))
            }
            Basis::Assumed => None,
        }
    }

    /// The chance that a single break of this length shows in a reading.
    ///
    /// Zero below f a, else (d + a(1 - 2f)) / T, at most one. Where the fraction is not known
    /// it is d / T, which is exact for a reading taken in an instant (a = 0); a reading that
    /// averages may see more of the short breaks or fewer, and [`Self::cautious_chance`] is
    /// never above either.
    pub fn chance(&self, length: Seconds) -> f64 {
        match self.known_fraction() {
            Some(share) => self.chance_at(share, length),
            None => self.share_of_interval(length.0),
        }
    }

    /// The chance when only a gap that fills a whole aperture shows (f = 1): the figure that
    /// holds whatever the fraction.
    pub fn cautious_chance(&self, length: Seconds) -> f64 {
        self.chance_at(1.0, length)
    }

    fn chance_at(&self, share: f64, length: Seconds) -> f64 {
        if length.0 < share * self.aperture.0 {
            0.0
        } else {
            self.share_of_interval(length.0 + self.aperture.0 * (1.0 - 2.0 * share))
        }
    }

    /// A span as a part of the interval, 0 to 1; nothing is claimed without an interval.
    fn share_of_interval(&self, span: f64) -> f64 {
        if self.interval.0 > 0.0 {
            (span / self.interval.0).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }

    /// The shortest break that shows for sure, by [`Self::chance`].
    pub fn sure(&self) -> Seconds {
        match self.known_fraction() {
            Some(share) => Seconds(self.interval.0 - self.aperture.0 * (1.0 - 2.0 * share))
                .max(Seconds(share * self.aperture.0)),
            None => self.interval,
        }
    }

    /// The shortest break that shows for sure, by [`Self::cautious_chance`].
    pub fn cautious_sure(&self) -> Seconds {
        Seconds(self.interval.0 + self.aperture.0)
    }

    /// How long a bend is held so that a fault open all the while cannot be missed, whatever
    /// the fraction: 2T + a, which holds two whole apertures.
    pub fn held(&self) -> Seconds {
        Seconds(2.0 * self.interval.0 + self.aperture.0)
    }

    /// The length below which a break never shows, however often it comes: f a. Zero where
    /// the fraction is only assumed, since then there is no such length to tell.
    pub fn shortest_visible(&self) -> Seconds {
        Seconds(self.known_fraction().unwrap_or(0.0) * self.aperture.0)
    }
}
