//! How far a reading may be off, and what that leaves of a limit.
//!
//! A reading closer to a limit than its own uncertainty is on neither side of it: the limit is
//! guarded by the expanded uncertainty (JCGM 106:2012, conformity with guard bands). Half a
//! digit of resolution and a stated accuracy are taken as rectangular, the parts are added as
//! squares and doubled (JCGM 100:2008).
//!
//! Where it lies: an accuracy that nobody states is left out, and with it most of what a
//! handheld is off; whoever prints the figure says so. A zero error that reading and tare
//! share cancels between them, and is counted here all the same.

use crate::reading::Ohms;

/// What a meter's maker states: so much of the reading and so many counts of its last digit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accuracy {
    /// Of the reading, as a part of it: 0.008 for 0.8 %.
    pub share: f64,
    /// Counts of the last digit.
    pub counts: f64,
}

/// The stated accuracies of a meter's ranges; none are known by default.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Accuracies([Option<(Ohms, Accuracy)>; Self::MOST]);

impl Accuracies {
    /// So many ranges are told apart; no meter has more for ohms.
    pub const MOST: usize = 12;

    /// The ranges with their full scales, the lowest first; those beyond [`Self::MOST`] are
    /// left out.
    pub fn of(ranges: impl IntoIterator<Item = (Ohms, Accuracy)>) -> Self {
        let mut ranges = ranges.into_iter();
        Self(std::array::from_fn(|_| ranges.next()))
    }

    /// The same accuracy on every range.
    pub fn everywhere(accuracy: Accuracy) -> Self {
        Self::of([(Ohms(f64::INFINITY), accuracy)])
    }

    /// These, or else others.
    #[must_use]
    pub fn or(self, others: Self) -> Self {
        if self.ranges().next().is_some() {
            self
        } else {
            others
        }
    }

    /// The ranges with their full scales.
    pub fn ranges(&self) -> impl Iterator<Item = (Ohms, Accuracy)> + '_ {
        self.0.iter().copied().flatten()
    }

    /// The accuracy of a reading: that of the lowest range which holds it.
    pub fn at(&self, reading: Ohms) -> Option<Accuracy> {
        self.ranges()
            .find(|(full_scale, _)| reading <= *full_scale)
            .map(|(_, accuracy)| accuracy)
    }
}

/// Coverage factor: about 95 %.
const COVERAGE: f64 = 2.0;

/// Expanded uncertainty of a reading from which a tare was taken off.
///
/// `step` is the weight of the last digit; the tare was read with the same one, if there was
/// a tare.
pub fn uncertainty(
    reading: Ohms,
    step: Option<Ohms>,
    tared: bool,
    accuracy: Option<Accuracy>,
) -> Ohms {
    let step = step.map_or(0.0, |step| step.0);
    let digit = step / 12.0_f64.sqrt();
    let readings = if tared { 2.0 } else { 1.0 };
    let stated = accuracy.map_or(0.0, |stated| {
        (stated.share * reading.0.abs() + stated.counts * step) / 3.0_f64.sqrt()
    });
    Ohms(COVERAGE * (readings * digit * digit + stated * stated).sqrt())
}

/// An accuracy could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "the accuracy {0:?} could not be read; write it like 0.8%+3: percent of the reading, then counts"
)]
pub struct AccuracyError(String);

impl std::str::FromStr for Accuracy {
    type Err = AccuracyError;

    fn from_str(text: &str) -> Result<Self, AccuracyError> {
        let read = || {
            let (share, counts) = match text.split_once('+') {
                Some((share, counts)) => (share, counts.trim().parse::<f64>().ok()?),
                None => (text, 0.0),
            };
            let percent: f64 = share.trim().strip_suffix('%')?.trim().parse().ok()?;
            let sound = (0.0..=50.0).contains(&percent) && (0.0..=1000.0).contains(&counts);
            sound.then_some(Self {
                share: percent / 100.0,
                counts,
            })
        };
        read().ok_or_else(|| AccuracyError(text.to_owned()))
    }
}

impl std::fmt::Display for Accuracy {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}%+{}", self.share * 100.0, self.counts)
    }
}
