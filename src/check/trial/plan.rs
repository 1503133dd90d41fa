//! What the board does, what a trial finds, and the names of its steps.

use crate::check::meter::Tried;
use crate::check::notice::StepName;
use crate::reading::Seconds;
use crate::signal::trial::{Batch, Fit};

/// The step in which the closed loop is read at rest.
pub(super) const REST: &str = "rest";
/// So many lengths can be tried at once.
pub const MOST_LENGTHS: usize = 12;

/// What the board does.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialOptions {
    /// How long the gaps are open, in turn.
    pub lengths: Vec<Seconds>,
    /// Gaps of each length.
    pub gaps: u32,
    /// From the start of one gap to the start of the next.
    pub every: Seconds,
    /// How long the trial waits for the closed loop, and for the board to start.
    pub wait: Seconds,
}

impl TrialOptions {
    /// How long a long opening is.
    pub fn long_opening(&self) -> Seconds {
        Seconds(2.0 * self.every.0)
    }

    /// From one long opening to the next: itself, a period of rest, and the gaps.
    pub fn cycle(&self) -> Seconds {
        Seconds((f64::from(self.gaps) + 3.0) * self.every.0)
    }

    /// The longest of the lengths.
    pub fn longest(&self) -> Seconds {
        self.lengths
            .iter()
            .fold(Seconds(0.0), |most, length| most.max(*length))
    }

    /// How long the board works, in all.
    pub fn duration(&self) -> Seconds {
        let lengths = u32::try_from(self.lengths.len()).unwrap_or(u32::MAX);
        Seconds(f64::from(lengths) * self.cycle().0 + self.long_opening().0)
    }
}

/// What a trial found.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// What checks reckon with from now on.
    pub tried: Tried,
    /// Aperture and fraction with their intervals.
    pub fit: Fit,
    /// The counts.
    pub batches: Vec<Batch>,
    /// Mean time between readings while gaps were made.
    pub interval: Seconds,
}

/// The step after so many long openings: one a length.
pub(super) fn step_of(openings: usize) -> StepName {
    if openings == 0 {
        REST.into()
    } else {
        format!("gaps {openings}").into()
    }
}
