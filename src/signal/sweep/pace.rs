//! How fast the hand may turn, and what it is told while it does.

use crate::reading::{Ohms, Seconds};
use crate::signal::sweep::{Branch, SweepReading, SweepSettings, Track};

/// The least time for one pass: so many readings for each hundredth of the track, and so many
/// readings lost to range changes.
pub fn sweep_time(rate: f64, per_hundredth: f64, lost: f64) -> Seconds {
    Seconds((100.0 * per_hundredth + lost) / rate)
}

/// The smallest zone a steady pass shows for certain, as a part of the track: one whole reading
/// must lie within it, so two readings' worth of travel.
pub fn smallest_zone(rate: f64, pass: Seconds) -> f64 {
    2.0 / (rate * pass.0)
}

/// What the hand should do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Advice {
    /// Go on.
    Steady,
    /// So much of the track passed between two readings.
    Slower {
        /// In parts of the track.
        step: f64,
    },
}

impl Advice {
    /// In words; `None` where there is nothing to say.
    pub fn sentence(self) -> Option<String> {
        match self {
            Self::Steady => None,
            Self::Slower { step } => Some(format!(
                "slower: {:.0} % of the track passed between two readings",
                100.0 * step
            )),
        }
    }
}

/// Follows the wiper reading by reading, for the screen and the coach. What it says of the
/// position is for now; the analysis looks at the whole sweep and may know better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    branch: Option<Branch>,
    /// The highest reading since the last valley, for telling that the peak was passed.
    top: f64,
    last: Option<f64>,
}

impl Default for Pace {
    fn default() -> Self {
        Self {
            branch: None,
            top: 0.0,
            last: None,
        }
    }
}

impl Pace {
    /// How near the peak counts as on it, as a part of its reading.
    const AT_PEAK: f64 = 0.03;

    /// How much above the full-up reading may still be the full-up reading.
    const AT_FULL: f64 = 0.6;

    /// The position now, and whether the hand is too fast.
    pub fn feed<T: Track + ?Sized>(
        &mut self,
        reading: &SweepReading,
        track: &T,
        settings: &SweepSettings,
    ) -> Option<(f64, Advice)> {
        let Some(ohms) = reading.ohms() else {
            self.last = None;
            return None;
        };
        let branch = self.follow(ohms, track);
        let position = track.position(Ohms(ohms), branch);
        let step = self.last.map_or(0.0, |last| (position - last).abs());
        self.last = Some(position);
        let most = 1.0 / (f64::from(settings.bins.max(1)) * settings.readings_per_bin.max(0.1));
        let advice = if step > most {
            Advice::Slower { step }
        } else {
            Advice::Steady
        };
        Some((position, advice))
    }

    fn follow<T: Track + ?Sized>(&mut self, ohms: f64, track: &T) -> Branch {
        let peak = track.peak();
        if peak >= 1.0 {
            return Branch::Rising;
        }
        if peak <= 0.0 {
            return Branch::Falling;
        }
        let (full, highest) = (track.reading(1.0).0, track.highest().0);
        let mut branch = self.branch.unwrap_or(Branch::Rising);
        self.top = self.top.max(ohms);
        if ohms < Self::AT_FULL * full {
            // Only the low end reads less than full up.
            branch = Branch::Rising;
            self.top = ohms;
        } else if self.top > (1.0 - Self::AT_PEAK) * highest
            && ohms < (1.0 - 2.0 * Self::AT_PEAK) * highest
        {
            branch = match branch {
                Branch::Rising => Branch::Falling,
                Branch::Falling => Branch::Rising,
            };
            self.top = ohms;
        }
        self.branch = Some(branch);
        branch
    }
}
