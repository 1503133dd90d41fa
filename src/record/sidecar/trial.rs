//! A meter trial as a sidecar keeps it: what was asked of it, and what an earlier one found.

use serde::{Deserialize, Serialize};

use crate::check::meter::Tried;
use crate::check::trial::TrialOptions;
use crate::reading::{Ohms, Seconds};

/// What a trial of the meter found; times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TriedKept {
    /// Aperture.
    pub aperture_s: f64,
    /// The share of it that a gap had to fill.
    pub fraction: f64,
    /// How far above rest the threshold stood, in ohms.
    pub rise_ohms: f64,
    /// The power of ten of the last digit, where it tells the range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range: Option<i8>,
    /// Time between readings.
    pub interval_s: f64,
}

impl From<&Tried> for TriedKept {
    fn from(tried: &Tried) -> Self {
        Self {
            aperture_s: tried.aperture.0,
            fraction: tried.fraction,
            rise_ohms: tried.rise.0,
            range: tried.range,
            interval_s: tried.interval.0,
        }
    }
}

impl From<&TriedKept> for Tried {
    fn from(kept: &TriedKept) -> Self {
        Self {
            aperture: Seconds(kept.aperture_s),
            fraction: kept.fraction,
            rise: Ohms(kept.rise_ohms),
            range: kept.range,
            interval: Seconds(kept.interval_s),
        }
    }
}

/// What was asked of a trial; times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrialKept {
    lengths_s: Vec<f64>,
    gaps: u32,
    every_s: f64,
    wait_s: f64,
}

impl From<&TrialOptions> for TrialKept {
    fn from(options: &TrialOptions) -> Self {
        Self {
            lengths_s: options.lengths.iter().map(|length| length.0).collect(),
            gaps: options.gaps,
            every_s: options.every.0,
            wait_s: options.wait.0,
        }
    }
}

impl From<&TrialKept> for TrialOptions {
    fn from(kept: &TrialKept) -> Self {
        Self {
            lengths: kept.lengths_s.iter().copied().map(Seconds).collect(),
            gaps: kept.gaps,
            every: Seconds(kept.every_s),
            wait: Seconds(kept.wait_s),
        }
    }
}
