//! What a stream of readings shows, and what it could not have shown.

mod interval;

mod baseline;

mod summary;

mod blind_spot;

mod coverage;

mod decimation;

mod gap;

mod bent_scale;

mod sample;
pub mod sweep;
pub mod trial;
mod uncertainty;

pub use baseline::{Baseline, MAD_TO_SIGMA, median, quantisation, scaled_mad};
pub use bent_scale::BentScale;
pub use blind_spot::{Basis, BlindSpot, hit_fraction, percent};
pub use coverage::{Goal, flexes_needed, rate_bound, shown_chance};
pub use decimation::{Column, Point, Sample, TraceHistory, columns};
pub use gap::{FlickerFinder, Gap, GapFinder, Standing};
pub use interval::IntervalMeter;
pub use sample::{
    CountInterval, DRAWN_BLINDLY, Lot, Noun, Plan, ShareInterval, Tested, tests_needed,
    tests_needed_of_lot,
};
pub use summary::Summary;
pub use sweep::{Branch, Sweep, SweepReading, SweepSettings, Track};
pub use uncertainty::{Accuracies, Accuracy, AccuracyError, uncertainty};
