//! What a stream of readings shows, and what it could not have shown.

mod interval;

mod baseline;

mod summary;

mod blind_spot;

pub use baseline::{Baseline, MAD_TO_SIGMA, median, quantisation, scaled_mad};
pub use blind_spot::{Basis, BlindSpot};
pub use interval::IntervalMeter;
pub use summary::Summary;
