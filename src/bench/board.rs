//! A board that opens a closed loop by the clock, for a trial of the meter.
//!
//! For each length in turn: one long opening of two periods, a period of rest, and the gaps,
//! one a period; after the last length one more long opening. It hears nothing.

use crate::reading::{Seconds, Stamp};

use super::agenda::Act;
use super::lead::Probes;

/// What the board does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoardPlan {
    lengths: [Option<Seconds>; Self::MOST],
    /// Gaps of each length.
    pub gaps: u32,
    /// From the start of one gap to the start of the next.
    pub every: Seconds,
    /// How long the loop rests closed before the first long opening.
    pub lead_in: Seconds,
}

impl BoardPlan {
    /// So many lengths are made at most.
    pub const MOST: usize = 12;

    /// A board that makes these lengths, the first dozen of them.
    pub fn new(lengths: &[Seconds], gaps: u32, every: Seconds, lead_in: Seconds) -> Self {
        let mut own = [None; Self::MOST];
        for (place, length) in own.iter_mut().zip(lengths) {
            *place = Some(*length);
        }
        Self {
            lengths: own,
            gaps,
            every,
            lead_in,
        }
    }

    /// All that the board does from `begin` on.
    pub(super) fn acts(&self, begin: Stamp) -> Vec<(Stamp, Act)> {
        let mut acts = vec![(begin, Act::Probes(Probes::Together))];
        let mut open = |at: Stamp, length: Seconds| {
            acts.push((at, Act::Contact(false)));
            acts.push((at + length, Act::Contact(true)));
        };
        let long = Seconds(2.0 * self.every.0);
        let mut at = begin + self.lead_in;
        for length in self.lengths.iter().flatten() {
            open(at, long);
            for gap in 1..=self.gaps {
                let after = Seconds(long.0 + f64::from(gap) * self.every.0);
                open(at + after, *length);
            }
            at = at + Seconds((f64::from(self.gaps) + 3.0) * self.every.0);
        }
        open(at, long);
        acts
    }
}
