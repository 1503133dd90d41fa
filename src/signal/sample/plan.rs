//! How many to test, so that too many bad ones would surely enough have shown.

use crate::signal::sample::tail::Count;
use crate::signal::sample::{Lot, risk};

/// A plan: test so many, and accept if no more than so many fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// How many are tested.
    pub tested: u32,
    /// How many of them may fail.
    pub allowed: u32,
}

impl Plan {
    /// The chance, 0 to 1, that leads of which this share is bad are accepted.
    pub fn accepts(self, share: f64) -> f64 {
        let count = Count::Binomial {
            drawn: self.tested,
            share: share.clamp(0.0, 1.0),
        };
        count.at_most(self.allowed)
    }

    /// The chance, 0 to 1, that a lot with so many bad ones is accepted.
    pub fn accepts_lot(self, lot: Lot) -> f64 {
        let count = Count::Hypergeometric {
            drawn: self.tested.min(lot.size),
            size: lot.size,
            bad: lot.bad.min(lot.size),
        };
        count.at_most(self.allowed)
    }
}

/// The fewest to test, so that with at most `allowed` failing the share of bad ones is below
/// `share`, at this confidence (both 0 to 1): a supply of which `share` or more is bad would
/// be accepted with at most the chance 1 - `confidence`.
///
/// `None` where no number is enough: when `share` is zero, when certainty is asked of chance,
/// or when the number is beyond counting.
pub fn tests_needed(share: f64, confidence: f64, allowed: u32) -> Option<u32> {
    let risk = risk(confidence)?;
    if share >= 1.0 {
        return allowed.checked_add(1);
    }
    // A risk of none is reached only where the arithmetic runs out of digits.
    if share.is_nan() || share <= 0.0 || risk <= 0.0 {
        return None;
    }
    let enough = |tested| Plan { tested, allowed }.accepts(share) <= risk;
    let least = allowed.checked_add(1)?;
    let mut most = least;
    while !enough(most) {
        if most == u32::MAX {
            return None;
        }
        most = most.saturating_mul(2);
    }
    Some(least_that(least, most, enough))
}

/// The fewest to test of a lot, so that with at most `allowed` failing there are fewer than
/// `lot.bad` bad ones in it, those tested included, at this confidence (0 to 1).
///
/// `None` where no number is enough: when so many bad ones are allowed in the sample, or when
/// the lot cannot hold that many.
pub fn tests_needed_of_lot(lot: Lot, confidence: f64, allowed: u32) -> Option<u32> {
    let risk = risk(confidence)?;
    if lot.bad > lot.size || allowed >= lot.bad {
        return None;
    }
    let enough = |tested| Plan { tested, allowed }.accepts_lot(lot) <= risk;
    // All of them show all bad ones, and the sample must be able to hold one too many.
    Some(least_that(allowed + 1, lot.size, enough))
}

/// The least number from `least` to `most` that holds, given that `most` does and that what
/// holds for a number holds for all greater ones.
fn least_that(mut least: u32, mut most: u32, holds: impl Fn(u32) -> bool) -> u32 {
    while least < most {
        let middle = least + (most - least) / 2;
        if holds(middle) {
            most = middle;
        } else {
            least = middle + 1;
        }
    }
    most
}
