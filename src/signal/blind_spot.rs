//! What the meter, at its present rate, could not have seen.

use crate::reading::Seconds;

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
