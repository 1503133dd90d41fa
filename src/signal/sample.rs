//! How many of a stock to test, and what a finished sample proves.
//!
//! Two cases are kept apart. *Such leads*: the tested ones stand for a supply without end, and
//! the count of failures is binomial. *This lot*: so many of a lot of known size, none of them
//! twice, and the count is hypergeometric; a sample of a small lot proves more.
//! All bounds are exact (Clopper and Pearson, "The Use of Confidence or Fiducial Limits
//! Illustrated in the Case of the Binomial", Biometrika 26, 1934, 404-413, and the same
//! construction on the hypergeometric count), none rests on an approximation.
//! One-sided and two-sided bounds differ and each is named for what it is: the rule of three
//! is the one-sided one.

mod plan;
mod proof;
mod tail;
mod words;

pub use plan::{Plan, tests_needed, tests_needed_of_lot};
pub use proof::{CountInterval, ShareInterval, Tested};
pub use words::{DRAWN_BLINDLY, Noun};

/// A lot of known size, and the number of bad ones in it that must not go unnoticed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lot {
    /// How many there are.
    pub size: u32,
    /// How many bad ones among them are too many.
    pub bad: u32,
}

impl Lot {
    /// The lot in which this share of bad ones, 0 to 1, is too much: the least whole number
    /// that is at least that share, and at least one. None for an empty lot or a share that is
    /// none.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the number is checked to lie between one and the size"
    )]
    pub fn with_share(size: u32, share: f64) -> Option<Self> {
        if size == 0 || share.is_nan() || share <= 0.0 || share > 1.0 {
            return None;
        }
        // A product that is whole but for the last bits is whole.
        let exact = f64::from(size) * share;
        let bad = (exact * (1.0 - 1e-12)).ceil().max(1.0);
        Some(Self {
            size,
            bad: (bad as u32).min(size),
        })
    }
}

/// What may be missed at this confidence, 0 to 1, widened by the noise of the arithmetic, so
/// that a risk that is reached exactly counts as reached. Certainty is never widened.
fn risk(confidence: f64) -> Option<f64> {
    if confidence.is_nan() {
        return None;
    }
    Some((1.0 - confidence.clamp(0.0, 1.0)) * (1.0 + 1e-9))
}
