//! All that a sweep shows, from its readings and the circuit they were taken in.

use crate::reading::{Ohms, Seconds};
use crate::signal::sweep::{Finding, Pass, TrackBin, Zone, bins};

/// What a sweep showed, and what it could not have shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// The passes, in order of time.
    pub passes: Vec<Pass>,
    /// The track from the low end, over all passes.
    pub bins: Vec<TrackBin>,
    /// Faults, worst first.
    pub findings: Vec<Finding>,
    /// The median time between readings; `None` below two readings.
    pub interval: Option<Seconds>,
    /// Over-range or blank moments that were the meter's own range changes.
    pub range_changes: u32,
    /// Readings lost in them.
    pub range_readings: u32,
    /// Contact lost and not found again before the readings ended: where it was last seen.
    /// A lifted probe looks the same.
    pub ended_open: Option<f64>,
    /// The largest reading of a sound sweep, by the circuit.
    pub highest: Ohms,
    /// Readings beyond the capacity, which were not looked at.
    pub dropped: usize,
}

impl Analysis {
    /// The part of the track read on at least so many passes.
    pub fn coverage(&self, passes: usize) -> f64 {
        bins::covered(&self.bins, passes)
    }

    /// Stretches without a reading on at least so many passes: they are not passed.
    pub fn unread(&self, passes: usize) -> Vec<Zone> {
        let mut zones: Vec<Zone> = Vec::new();
        for bin in self.bins.iter().filter(|bin| bin.passes < passes) {
            match zones.last_mut() {
                Some(last) if (last.to - bin.zone.from).abs() < 1e-9 => last.to = bin.zone.to,
                _ => zones.push(bin.zone),
            }
        }
        zones
    }

    /// The largest track residual off the ends, in parts of the total, over all passes.
    pub fn residual(&self) -> Option<f64> {
        self.passes
            .iter()
            .filter_map(|pass| pass.residual)
            .map(|residual| residual.part)
            .reduce(f64::max)
    }

    /// Whether a locked range would help, in a sentence.
    pub fn range_advice(&self) -> Option<String> {
        (self.range_readings >= 2).then(|| {
            format!(
                "{} readings were lost while the meter changed its range: lock the range that \
                 shows {}",
                self.range_readings, self.highest
            )
        })
    }
}
