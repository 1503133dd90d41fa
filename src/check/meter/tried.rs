//! What a trial of this meter found, and where it still holds.

use crate::reading::{Ohms, Seconds};
use crate::signal::BlindSpot;

/// What a reading must do to show an event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lift {
    /// Rise above the level of a closed conductor at rest, as at a break.
    Break {
        /// How far.
        rise: Ohms,
        /// How far as a share of the way to over-range, where the range is known.
        fraction: Option<f64>,
        /// The power of ten of the last digit at rest, where it tells the range.
        range: Option<i8>,
    },
    /// Fall from over-range, as at a touch.
    Touch,
}

impl Lift {
    /// The share of one aperture that an event must fill to be a hit, where it is known.
    pub const fn fraction(&self) -> Option<f64> {
        match self {
            Self::Break { fraction, .. } => *fraction,
            Self::Touch => None,
        }
    }
}

/// Aperture and fraction of this meter, found with gaps of known length.
///
/// Both are the cautious end of what the trial found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// How long one reading averages.
    pub aperture: Seconds,
    /// The share of it that a gap had to fill to lift a reading by `rise`.
    pub fraction: f64,
    /// How far above rest the threshold of the trial stood.
    pub rise: Ohms,
    /// The power of ten of the last digit in the trial, where it tells the range.
    pub range: Option<i8>,
    /// Time between readings in the trial.
    pub interval: Seconds,
}

impl Tried {
    /// A meter whose readings come at another pace than this share away from the trial's is
    /// set otherwise, or is another meter.
    const SAME_PACE: f64 = 0.2;

    /// The blind spot of this meter at its present pace; none where the trial says nothing: at
    /// another pace, on another range, and of touches.
    pub fn blind_spot(&self, interval: Seconds, lift: Option<&Lift>) -> Option<BlindSpot> {
        let change = (interval.0 - self.interval.0).abs();
        if change > Self::SAME_PACE * self.interval.0 {
            return None;
        }
        let higher = match lift {
            None => 1.0,
            Some(Lift::Touch) => return None,
            Some(Lift::Break { rise, range, .. }) => {
                if *range != self.range {
                    return None;
                }
                // A linear average needs the more of its aperture the higher it must rise; a
                // lower threshold than the trial's is not credited.
                (rise.0 / self.rise.0).max(1.0)
            }
        };
        let fraction = (self.fraction * higher).min(1.0);
        Some(BlindSpot::tried(interval, self.aperture, fraction))
    }
}
