//! The chance that a sample holds so many bad ones: binomial and hypergeometric, summed term
//! by term from the exact one on.
//!
//! Both distributions have one peak, so terms away from it only shrink; a sum begins at the
//! count that is asked about and goes away from the peak until nothing is added any more.

/// A distribution of the number of bad ones in a sample.
#[derive(Debug, Clone, Copy)]
pub(super) enum Count {
    /// Of a supply without end, of which this share is bad.
    Binomial {
        /// How many are drawn.
        drawn: u32,
        /// The share of bad ones, 0 to 1.
        share: f64,
    },
    /// Of a lot of known size, none drawn twice.
    Hypergeometric {
        /// How many are drawn.
        drawn: u32,
        /// How many there are.
        size: u32,
        /// How many of them are bad.
        bad: u32,
    },
}

impl Count {
    /// The chance of at most `k` bad ones.
    pub(super) fn at_most(self, k: u32) -> f64 {
        let (least, most) = self.support();
        if k < least {
            0.0
        } else if k >= most {
            1.0
        } else if f64::from(k) < self.mean() {
            self.sum_down(k)
        } else {
            1.0 - self.sum_up(k + 1)
        }
    }

    /// The chance of at least `k` bad ones.
    pub(super) fn at_least(self, k: u32) -> f64 {
        let (least, most) = self.support();
        if k <= least {
            1.0
        } else if k > most {
            0.0
        } else if f64::from(k) > self.mean() {
            self.sum_up(k)
        } else {
            1.0 - self.sum_down(k - 1)
        }
    }

    /// The least and the greatest count that can come.
    fn support(self) -> (u32, u32) {
        match self {
            Self::Binomial { drawn, share } if share <= 0.0 || drawn == 0 => (0, 0),
            Self::Binomial { drawn, share } if share >= 1.0 => (drawn, drawn),
            Self::Binomial { drawn, .. } => (0, drawn),
            Self::Hypergeometric { drawn, size, bad } => {
                let good = size.saturating_sub(bad);
                (drawn.saturating_sub(good), drawn.min(bad))
            }
        }
    }

    fn mean(self) -> f64 {
        match self {
            Self::Binomial { drawn, share } => f64::from(drawn) * share,
            Self::Hypergeometric { drawn, size, bad } => {
                f64::from(drawn) * f64::from(bad) / f64::from(size.max(1))
            }
        }
    }

    /// The chance of exactly `k`, which lies in the support.
    fn exactly(self, k: u32) -> f64 {
        match self {
            Self::Binomial { drawn, share } => {
                let rest = drawn.saturating_sub(k);
                (ln_choose(drawn, k)
                    + f64::from(k) * share.ln()
                    + f64::from(rest) * (-share).ln_1p())
                .exp()
            }
            Self::Hypergeometric { drawn, size, bad } => (ln_choose(bad, k)
                + ln_choose(size.saturating_sub(bad), drawn.saturating_sub(k))
                - ln_choose(size, drawn))
            .exp(),
        }
    }

    /// The chance of exactly `k` + 1 over that of exactly `k`.
    fn step(self, k: u32) -> f64 {
        let count = f64::from(k);
        match self {
            Self::Binomial { drawn, share } => {
                (f64::from(drawn) - count) / (count + 1.0) * share / (1.0 - share)
            }
            Self::Hypergeometric { drawn, size, bad } => {
                let (drawn, size, bad) = (f64::from(drawn), f64::from(size), f64::from(bad));
                (bad - count) / (count + 1.0) * (drawn - count)
                    / (size - bad - drawn + count + 1.0)
            }
        }
    }

    fn sum_down(self, from: u32) -> f64 {
        let (least, _) = self.support();
        let steps = (least..from).rev().map(|k| 1.0 / self.step(k));
        sum(self.exactly(from), steps)
    }

    fn sum_up(self, from: u32) -> f64 {
        let (_, most) = self.support();
        let steps = (from..most).map(|k| self.step(k));
        sum(self.exactly(from), steps)
    }
}

/// The sum of a first term and all after it, each given by its ratio to the one before, until
/// no term counts any more.
fn sum(first: f64, ratios: impl Iterator<Item = f64>) -> f64 {
    let (mut total, mut term) = (first, first);
    for ratio in ratios {
        term *= ratio;
        total += term;
        if term <= total * 1e-18 {
            break;
        }
    }
    total.min(1.0)
}

/// The natural logarithm of the number of ways to choose `k` of `n`, `k` being at most `n`.
fn ln_choose(n: u32, k: u32) -> f64 {
    ln_factorial(n) - ln_factorial(k) - ln_factorial(n.saturating_sub(k))
}

/// ln n!: the product itself while it is exact, then Stirling's series (Abramowitz and Stegun,
/// Handbook of Mathematical Functions, 6.1.41; from memory, tested against another library).
fn ln_factorial(n: u32) -> f64 {
    const EXACT: u32 = 20;
    if n <= EXACT {
        return (2..=n).map(f64::from).product::<f64>().ln();
    }
    let x = f64::from(n) + 1.0;
    let square = x * x;
    let series = (1.0 / 12.0
        - (1.0 / 360.0 - (1.0 / 1260.0 - 1.0 / (1680.0 * square)) / square) / square)
        / x;
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Binomial, DiscreteCDF as _, Hypergeometric};
    use statrs::function::factorial;

    fn close(value: f64, reference: f64, tolerance: f64, of: &str) {
        assert!(
            (value - reference).abs() <= tolerance,
            "{of}: {value} is not {reference}"
        );
    }

    /// Reference: ln n! of statrs.
    #[test]
    fn factorials() {
        for n in [
            0_u32, 1, 2, 3, 10, 19, 20, 21, 22, 30, 100, 170, 171, 1000, 1_000_000,
        ] {
            let reference = factorial::ln_factorial(u64::from(n));
            close(
                ln_factorial(n),
                reference,
                1e-13 * reference.max(1.0),
                &n.to_string(),
            );
        }
    }

    /// Reference: the distribution functions of statrs.
    #[test]
    fn tails() {
        for drawn in [1_u32, 2, 7, 30, 100] {
            for share in [0.0, 0.001, 0.1, 0.5, 0.93, 1.0] {
                let reference = Binomial::new(share, u64::from(drawn)).unwrap();
                let count = Count::Binomial { drawn, share };
                for k in 0..=drawn {
                    let of = format!("{k} of {drawn} at {share}");
                    let below = reference.cdf(u64::from(k));
                    close(count.at_most(k), below, 1e-11, &of);
                    close(count.at_least(k + 1), 1.0 - below, 1e-11, &of);
                }
            }
        }
        for (size, bad, drawn) in [
            (1, 1, 1),
            (10, 1, 9),
            (50, 5, 22),
            (200, 20, 27),
            (80, 70, 40),
        ] {
            let reference =
                Hypergeometric::new(u64::from(size), u64::from(bad), u64::from(drawn)).unwrap();
            let count = Count::Hypergeometric { drawn, size, bad };
            for k in 0..=drawn {
                let of = format!("{k} of {drawn} from {bad} in {size}");
                let below = reference.cdf(u64::from(k));
                close(count.at_most(k), below, 1e-10, &of);
                close(count.at_least(k + 1), 1.0 - below, 1e-10, &of);
            }
        }
    }

    /// A tail far out keeps its digits: 0.5^100, and one way in the 2 598 960 hands of five.
    #[test]
    fn small_tails_keep_their_digits() {
        let none = Count::Binomial {
            drawn: 100,
            share: 0.5,
        };
        let exact = 0.5_f64.powi(100);
        close(none.at_most(0) / exact, 1.0, 1e-12, "none of 100");
        close(none.at_least(100) / exact, 1.0, 1e-12, "all of 100");
        let hand = Count::Hypergeometric {
            drawn: 5,
            size: 52,
            bad: 5,
        };
        close(hand.at_least(5) * 2_598_960.0, 1.0, 1e-11, "one hand");
    }
}
