//! The law of a track: what part of the resistance lies below the wiper at a part of the turn.
//!
//! Tracks sold as logarithmic are exponential, and printed in two to four straight pieces: a
//! kink at one place is normal, and no track is graded against the ideal curve.

/// How the resistance grows with the turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// In proportion.
    Linear,
    /// Slowly first: (bˣ - 1)/(b - 1), b = (1/m - 1)².
    Exponential {
        /// The part of the total at half the turn, m.
        mid: f64,
    },
    /// Fast first: the exponential law from the other end.
    Reverse {
        /// The part of the total that is left at half the turn.
        mid: f64,
    },
    /// Two straight pieces that meet at half the turn.
    TwoSlope {
        /// The part of the total at half the turn.
        mid: f64,
    },
}

/// Parts at half the turn outside these make no track.
const LEAST_MID: f64 = 0.001;

/// A base this near to one is a straight line.
const STRAIGHT: f64 = 1e-6;

impl Law {
    /// The part of the total below the wiper, at a part of the turn from the low end.
    pub fn fraction(self, turn: f64) -> f64 {
        let turn = turn.clamp(0.0, 1.0);
        match self {
            Self::Linear => turn,
            Self::Exponential { mid } => exponential(mid, turn),
            Self::Reverse { mid } => 1.0 - exponential(mid, 1.0 - turn),
            Self::TwoSlope { mid } => {
                let mid = sane(mid);
                if turn <= 0.5 {
                    2.0 * mid * turn
                } else {
                    mid + (1.0 - mid) * (2.0 * turn - 1.0)
                }
            }
        }
    }

    /// The part of the turn at which this part of the total lies below the wiper.
    pub fn turn(self, fraction: f64) -> f64 {
        let fraction = fraction.clamp(0.0, 1.0);
        match self {
            Self::Linear => fraction,
            Self::Exponential { mid } => logarithm(mid, fraction),
            Self::Reverse { mid } => 1.0 - logarithm(mid, 1.0 - fraction),
            Self::TwoSlope { mid } => {
                let mid = sane(mid);
                if fraction <= mid {
                    fraction / (2.0 * mid)
                } else {
                    0.5 + 0.5 * (fraction - mid) / (1.0 - mid)
                }
            }
        }
    }

    /// How much of the total passes for each part of the turn, there.
    pub fn slope(self, turn: f64) -> f64 {
        let turn = turn.clamp(0.0, 1.0);
        match self {
            Self::Linear => 1.0,
            Self::Exponential { mid } => steepness(mid, turn),
            Self::Reverse { mid } => steepness(mid, 1.0 - turn),
            Self::TwoSlope { mid } if turn <= 0.5 => 2.0 * sane(mid),
            Self::TwoSlope { mid } => 2.0 * (1.0 - sane(mid)),
        }
    }

    /// The base b of the exponential law for the part at half the turn.
    pub fn base(mid: f64) -> f64 {
        (1.0 / sane(mid) - 1.0).powi(2)
    }
}

fn sane(mid: f64) -> f64 {
    if mid.is_nan() {
        0.5
    } else {
        mid.clamp(LEAST_MID, 1.0 - LEAST_MID)
    }
}

fn exponential(mid: f64, turn: f64) -> f64 {
    let growth = Law::base(mid).ln();
    if growth.abs() < STRAIGHT {
        turn
    } else {
        (growth * turn).exp_m1() / growth.exp_m1()
    }
}

fn logarithm(mid: f64, fraction: f64) -> f64 {
    let growth = Law::base(mid).ln();
    if growth.abs() < STRAIGHT {
        fraction
    } else {
        (fraction * growth.exp_m1()).ln_1p() / growth
    }
}

fn steepness(mid: f64, turn: f64) -> f64 {
    let growth = Law::base(mid).ln();
    if growth.abs() < STRAIGHT {
        1.0
    } else {
        growth * (growth * turn).exp() / growth.exp_m1()
    }
}
