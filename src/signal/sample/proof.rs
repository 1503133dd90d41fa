//! What a finished sample proves.

use crate::signal::sample::risk;
use crate::signal::sample::tail::Count;

/// A finished sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tested {
    tested: u32,
    failed: u32,
}

/// Between which shares, 0 to 1, the true one lies: both ends at once, each missed with half
/// of the risk (two-sided).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShareInterval {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// Between which counts the number of bad ones in a lot lies, those tested included: both ends
/// at once, each missed with at most half of the risk (two-sided).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CountInterval {
    /// The lower end.
    pub low: u32,
    /// The upper end.
    pub high: u32,
}

impl Tested {
    /// So many tested, of which so many failed; none if more failed than were tested.
    pub fn new(tested: u32, failed: u32) -> Option<Self> {
        (failed <= tested).then_some(Self { tested, failed })
    }

    /// How many were tested.
    pub const fn tested(self) -> u32 {
        self.tested
    }

    /// How many of them failed.
    pub const fn failed(self) -> u32 {
        self.failed
    }

    /// The greatest share of bad ones, 0 to 1, that goes with this sample at this confidence:
    /// Clopper and Pearson's one-sided upper bound. One where nothing is bounded.
    pub fn upper(self, confidence: f64) -> f64 {
        self.share_above(1.0 - confidence)
    }

    /// The least share of bad ones, 0 to 1, that goes with this sample at this confidence:
    /// Clopper and Pearson's one-sided lower bound. Zero where nothing is bounded.
    pub fn lower(self, confidence: f64) -> f64 {
        self.share_below(1.0 - confidence)
    }

    /// Clopper and Pearson's two-sided interval at this confidence.
    pub fn interval(self, confidence: f64) -> ShareInterval {
        let each = (1.0 - confidence) / 2.0;
        ShareInterval {
            low: self.share_below(each),
            high: self.share_above(each),
        }
    }

    /// The greatest number of bad ones that a lot of this size may hold, those tested
    /// included, at this confidence: the exact one-sided upper bound. None if the sample does
    /// not fit into the lot.
    pub fn most_in_lot(self, size: u32, confidence: f64) -> Option<u32> {
        self.count_above(size, risk(confidence)?)
    }

    /// The least number of bad ones that such a lot holds, those tested included, at this
    /// confidence: the exact one-sided lower bound.
    pub fn least_in_lot(self, size: u32, confidence: f64) -> Option<u32> {
        self.count_below(size, risk(confidence)?)
    }

    /// The exact two-sided interval for the number of bad ones in such a lot.
    pub fn interval_in_lot(self, size: u32, confidence: f64) -> Option<CountInterval> {
        let each = risk(confidence)? / 2.0;
        Some(CountInterval {
            low: self.count_below(size, each)?,
            high: self.count_above(size, each)?,
        })
    }

    /// The greatest share that gives so few failures with at least the chance `risk`.
    fn share_above(self, risk: f64) -> f64 {
        if self.failed == self.tested || risk.is_nan() || risk <= 0.0 {
            return 1.0;
        }
        let drawn = self.tested;
        let goes = |share| Count::Binomial { drawn, share }.at_most(self.failed) >= risk;
        // From above, so that the noise of the arithmetic makes the bound no better.
        halve(goes).1
    }

    /// The least share that gives so many failures with at least the chance `risk`.
    fn share_below(self, risk: f64) -> f64 {
        if self.failed == 0 || risk.is_nan() || risk <= 0.0 {
            return 0.0;
        }
        let drawn = self.tested;
        let short = |share| Count::Binomial { drawn, share }.at_least(self.failed) < risk;
        halve(short).0
    }

    fn count_above(self, size: u32, risk: f64) -> Option<u32> {
        let (least, most) = self.possible(size)?;
        // The least number already gives what was seen, so it cannot be excluded.
        let goes = |bad| bad == least || self.in_lot(size, bad).at_most(self.failed) > risk;
        Some(last_that(least, most, goes))
    }

    fn count_below(self, size: u32, risk: f64) -> Option<u32> {
        let (least, most) = self.possible(size)?;
        // Counted down from the greatest possible number, which cannot be excluded either.
        let goes = |fewer: u32| {
            let bad = most - fewer;
            bad == most || self.in_lot(size, bad).at_least(self.failed) > risk
        };
        Some(most - last_that(0, most - least, goes))
    }

    /// The least and the greatest number of bad ones in a lot of which this was seen.
    fn possible(self, size: u32) -> Option<(u32, u32)> {
        let unseen = size.checked_sub(self.tested)?;
        Some((self.failed, self.failed + unseen))
    }

    const fn in_lot(self, size: u32, bad: u32) -> Count {
        Count::Hypergeometric {
            drawn: self.tested,
            size,
            bad,
        }
    }
}

/// The two neighbours between which a condition on a share stops holding, the first of which
/// holds or is zero.
fn halve(holds: impl Fn(f64) -> bool) -> (f64, f64) {
    let (mut low, mut high) = (0.0, 1.0);
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return (low, high);
        }
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// The last number from `least` to `most` that holds, given that `least` does and that what
/// holds for a number holds for all smaller ones.
fn last_that(mut least: u32, mut most: u32, holds: impl Fn(u32) -> bool) -> u32 {
    while least < most {
        let middle = most - (most - least) / 2;
        if holds(middle) {
            least = middle;
        } else {
            most = middle - 1;
        }
    }
    least
}
