//! What a stream of readings shows, and what it could not have shown.

mod interval;

mod blind_spot;

pub use blind_spot::{Basis, BlindSpot};
pub use interval::IntervalMeter;
