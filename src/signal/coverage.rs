//! How much bending is enough, and what clean bending shows.
//!
//! For a fault that opens for a moment at a bend, seen each time with chance p, bends
//! independent and alike: n of them miss it with probability (1 - p)^n.
//! The bound after n clean bends is the exact one-sided form of the rule of three (Hanley and
//! Lippman-Hand, "If Nothing Goes Wrong, Is Everything All Right?", JAMA 249, 1983, 1743-1745).

use crate::reading::Seconds;

/// What the bending should show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goal {
    /// The length of a momentary break that should be seen.
    pub momentary: Seconds,
    /// The chance with which at least one of its breaks should be seen, 0 to 1.
    pub confidence: f64,
    /// Bends below which neither both ends nor the length were bent.
    pub least_flexes: u32,
}

impl Goal {
    /// 100 ms, 95 %, ten bends.
    pub const DEFAULT: Self = Self {
        momentary: Seconds(0.1),
        confidence: 0.95,
        least_flexes: 10,
    };

    /// The bends to make when one shows a break of the wanted length with this chance.
    /// `None` where no number of bends is enough.
    pub fn flexes(&self, chance: f64) -> Option<u32> {
        flexes_needed(chance, self.confidence).map(|needed| needed.max(self.least_flexes))
    }
}

impl Default for Goal {
    fn default() -> Self {
        Self::DEFAULT
    }
}

/// The fewest bends that show a fault at least once with the chance `confidence`, when one
/// bend shows it with the chance `p`: ⌈ln(1 - A) / ln(1 - p)⌉, and at least one.
///
/// `None` where no number of bends helps: when `p` is zero, when certainty is asked of chance,
/// or when the number is beyond counting.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the number is checked to lie between one and the largest count"
)]
pub fn flexes_needed(p: f64, confidence: f64) -> Option<u32> {
    if p.is_nan() || confidence.is_nan() || p <= 0.0 {
        return None;
    }
    if p >= 1.0 {
        return Some(1);
    }
    let exact = (-confidence.clamp(0.0, 1.0)).ln_1p() / (-p).ln_1p();
    // A quotient that is whole but for the last bits is whole: 1 - 0.75 = (1 - 0.5)².
    let needed = (exact * (1.0 - 1e-12)).ceil().max(1.0);
    (needed <= f64::from(u32::MAX)).then_some(needed as u32)
}

/// The chance that `n` bends show a fault at least once: 1 - (1 - p)^n.
pub fn shown_chance(p: f64, n: u32) -> f64 {
    match p {
        _ if n == 0 || p.is_nan() || p <= 0.0 => 0.0,
        _ if p >= 1.0 => 1.0,
        _ => -(f64::from(n) * (-p).ln_1p()).exp_m1(),
    }
}

/// After `n` clean bends, the upper bound at `confidence` on the chance that a bend opens the
/// conductor, when an opening is seen with the chance `p`: (1 - (1 - A)^(1/n)) / p.
///
/// One where nothing is bounded: after no bend, or when `p` is zero.
pub fn rate_bound(p: f64, n: u32, confidence: f64) -> f64 {
    if n == 0 || p.is_nan() || confidence.is_nan() || p <= 0.0 {
        return 1.0;
    }
    let seen = -((-confidence.clamp(0.0, 1.0)).ln_1p() / f64::from(n)).exp_m1();
    (seen / p.min(1.0)).min(1.0)
}
