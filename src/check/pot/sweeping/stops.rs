//! Where the hand comes to rest: at a stop, or only on its way to where a sweep begins.

use crate::check::pot::circuit::Circuit;
use crate::check::pot::sweeping::Sweeping;
use crate::reading::Seconds;
use crate::signal::sweep::Pass;

/// Both ends of a loaded control read below this part of its peak.
const LOW: f64 = 0.35;

/// A turn from end to end that is quicker is no pass.
const QUICK: Seconds = Seconds(2.5);

/// Nor is one of fewer readings, however long a meter took to find its range in it.
const READINGS: u32 = 6;

/// A rest this near the lowest or highest reading so far, as a part of the total, is at an end.
const AT_END: f64 = 0.02;

impl Sweeping {
    /// Whether all turning so far was too quick for a pass: the hand went to where the sweep
    /// begins.
    pub(super) fn is_only_the_way_there(&self) -> bool {
        let readings = self.sweep.readings();
        let Some((first, last)) = readings.first().zip(readings.last()) else {
            return true;
        };
        let begun = if let Some(track) = self.circuit.track() {
            let passes = self.sweep.analyse(track).passes;
            let real = |pass: &Pass| pass.duration() >= QUICK && pass.readings >= READINGS;
            passes.iter().any(real)
        } else {
            let moved = last.at.since(first.at).0 - self.rest.lasted(last.at).0;
            moved >= 2.0 * QUICK.0
        };
        // A hand that flicks the knob, or a control that gives no pass, is not waited for.
        self.rests.len() < 2 && self.opens == 0 && self.begun_anew < 4 && !begun
    }

    /// Whether the rest is at a stop.
    pub(super) fn is_at_end(&self) -> bool {
        let level = self.rest.level();
        let near = |end: f64| (level - end).abs() <= AT_END * self.scale();
        let extreme = self
            .extent
            .is_some_and(|(low, high)| near(low) || near(high));
        match (&self.circuit, self.circuit.track()) {
            (Circuit::Jack(_), Some(track)) => {
                // Where the reading peaks between the ends, the highest is no end.
                let loaded = track.peak() > 0.0;
                let extreme = extreme && !loaded;
                let low = loaded && level <= LOW * self.scale();
                near(track.reading(0.0).0) || near(track.reading(1.0).0) || low || extreme
            }
            // Both ends of a loaded control read low, and nothing is worked out yet.
            (Circuit::Jack(_), None) => level <= LOW * self.scale() || extreme,
            _ => extreme,
        }
    }
}
