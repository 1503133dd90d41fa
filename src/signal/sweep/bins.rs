//! The track in stretches of equal resistance: what was read in each, in one pass and in all.

use crate::signal::sweep::pass::part;
use crate::signal::sweep::{Pass, Zone};

/// What one pass read in one bin.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BinState {
    /// Readings that tell something of the track there.
    pub readings: u32,
    /// The largest track residual, in parts of the total.
    pub residual: f64,
    /// Contact was lost there.
    pub open: bool,
    /// The meter changed its range there.
    pub hidden: bool,
}

/// What all passes read in one bin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackBin {
    /// The stretch.
    pub zone: Zone,
    /// Readings over all passes.
    pub readings: u32,
    /// Passes with at least one reading there.
    pub passes: usize,
    /// The largest track residual, in parts of the total.
    pub residual: f64,
    /// On how many passes contact was lost there.
    pub opens: usize,
}

/// The bins of all passes, from the low end.
pub(super) fn over(passes: &[Pass], bins: u16) -> Vec<TrackBin> {
    (0..bins)
        .map(|index| {
            let states: Vec<&BinState> = passes
                .iter()
                .filter_map(|pass| pass.bins.get(usize::from(index)))
                .collect();
            TrackBin {
                zone: Zone {
                    from: f64::from(index) / f64::from(bins),
                    to: (f64::from(index) + 1.0) / f64::from(bins),
                },
                readings: states
                    .iter()
                    .fold(0, |sum, state| sum.saturating_add(state.readings)),
                passes: states.iter().filter(|state| state.readings > 0).count(),
                residual: states
                    .iter()
                    .map(|state| state.residual)
                    .fold(0.0, f64::max),
                opens: states.iter().filter(|state| state.open).count(),
            }
        })
        .collect()
}

/// The bin of a position, where there are so many of them.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the position is held between 0 and 1, so the product is a small whole number"
)]
pub(super) fn index(position: f64, bins: u16) -> usize {
    let bin = (position.clamp(0.0, 1.0) * f64::from(bins)) as u16;
    usize::from(bin.min(bins.saturating_sub(1)))
}

/// The part of the bins read on at least `passes` passes.
pub(super) fn covered(bins: &[TrackBin], passes: usize) -> f64 {
    part(
        bins.iter().filter(|bin| bin.passes >= passes).count(),
        bins.len(),
    )
}
