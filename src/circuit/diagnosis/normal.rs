//! Tails of the normal and the chi-squared distribution, kept in logarithms where they vanish.
//!
//! NIST Digital Library of Mathematical Functions (dlmf.nist.gov), from memory: 7.6.2 (series
//! of the error function), 7.9.2 (continued fraction of its complement), 8.4.8 and 8.4.11 (the
//! chi-squared tail as finite sums).

use std::f64::consts::{LN_2, PI, SQRT_2, TAU};

/// From here on the continued fraction is taken instead of the series.
const FAR: f64 = 1.0;
/// Terms that bring either to the last digits on its side of [`FAR`].
const TERMS: u32 = 120;

/// The complement of the error function times `exp(x²)`, for `x` from [`FAR`] up.
fn scaled_complement(x: f64) -> f64 {
    let fraction = (1..=TERMS)
        .rev()
        .fold(x, |below, term| x + f64::from(term) / 2.0 / below);
    1.0 / (PI.sqrt() * fraction)
}

/// The error function, for sizes below [`FAR`].
fn near(x: f64) -> f64 {
    let (sum, _) = (1..=TERMS).fold((x, x), |(sum, term), index| {
        let next = term * 2.0 * x * x / (2.0 * f64::from(index) + 1.0);
        (sum + next, next)
    });
    2.0 / PI.sqrt() * (-x * x).exp() * sum
}

/// The complement of the error function.
pub fn complement(x: f64) -> f64 {
    if x >= FAR {
        (-x * x).exp() * scaled_complement(x)
    } else if x <= -FAR {
        2.0 - (-x * x).exp() * scaled_complement(-x)
    } else {
        1.0 - near(x)
    }
}

/// The logarithm of the chance that a standard normal number is above `x`.
pub fn log_above(x: f64) -> f64 {
    if x < 0.0 {
        // Near certainty what is lacking is the small number.
        return (-log_above(-x).exp()).ln_1p();
    }
    let argument = x / SQRT_2;
    if argument >= FAR {
        scaled_complement(argument).ln() - argument * argument - LN_2
    } else {
        (complement(argument) / 2.0).ln()
    }
}

/// The logarithm of the chance that a standard normal number is between two.
pub fn log_between(low: f64, high: f64) -> f64 {
    if low > 0.0 {
        // Both far up: what is above the one, less what is above the other.
        let above = log_above(low);
        if above == f64::NEG_INFINITY {
            return above;
        }
        return above + (-(log_above(high) - above).exp()).ln_1p();
    }
    if high < 0.0 {
        return log_between(-high, -low);
    }
    (-log_above(high).exp() - log_above(-low).exp()).ln_1p()
}

/// The logarithm of the normal density of `value`.
pub fn log_density(value: f64, mean: f64, variance: f64) -> f64 {
    let distance = value - mean;
    -0.5 * ((TAU * variance).ln() + distance * distance / variance)
}

/// The chance that a chi-squared number of so many degrees of freedom is above `value`.
///
/// None of freedom: nothing is ever above.
pub fn chi_squared_above(value: f64, freedom: u32) -> f64 {
    if freedom == 0 || value <= 0.0 {
        return 1.0;
    }
    let half = value / 2.0;
    let odd = freedom % 2 == 1;
    let (start, first) = if odd {
        // half^(1/2) / Gamma(3/2)
        (1.5, half.sqrt() * 2.0 / PI.sqrt())
    } else {
        (1.0, 1.0)
    };
    let (sum, _, _) = (0..freedom / 2).fold((0.0, first, start), |(sum, term, gamma), _| {
        (sum + term, term * half / gamma, gamma + 1.0)
    });
    let head = if odd { complement(half.sqrt()) } else { 0.0 };
    (head + (-half).exp() * sum).clamp(0.0, 1.0)
}

/// The logarithm of the sum of numbers given by their logarithms; minus infinity for none.
pub fn log_sum(logs: impl IntoIterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().into_iter().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    let sum: f64 = logs.into_iter().map(|log| (log - most).exp()).sum();
    most + sum.ln()
}
