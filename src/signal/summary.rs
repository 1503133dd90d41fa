//! Mean, spread, extremes and lag-1 autocorrelation of a stream of any length.
//!
//! Each is carried forward about the running mean (Welford 1962 for the squares; the lagged
//! products moved the same way), so memory is constant and nothing is lost to cancellation
//! when the spread is small beside the mean.

/// A summary of the numbers so far.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Summary {
    count: u64,
    mean: f64,
    /// Σ (x - mean)².
    squares: f64,
    /// Σ (x - mean)(next x - mean).
    lagged: f64,
    ends: Option<Ends>,
}

/// What a non-empty stream has.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Ends {
    first: f64,
    last: f64,
    min: f64,
    max: f64,
}

impl Summary {
    /// Takes in a number. What is not finite is passed over: over-range is not a number, and
    /// no mean of it has a meaning.
    pub fn record(&mut self, value: f64) {
        if !value.is_finite() {
            return;
        }
        let pairs = float(self.count.saturating_sub(1));
        self.count = self.count.saturating_add(1);
        let before = value - self.mean;
        let step = before / float(self.count);
        let old_mean = self.mean;
        self.mean += step;
        self.squares += before * (value - self.mean);
        self.ends = Some(match self.ends {
            None => Ends {
                first: value,
                last: value,
                min: value,
                max: value,
            },
            Some(ends) => {
                // Deviations from the old mean sum to zero, so leaving out the first or the
                // last leaves the negative of it: the old products can be moved to the new
                // mean without the values.
                let outer = (ends.first - old_mean) + (ends.last - old_mean);
                self.lagged += step * (outer + pairs * step);
                self.lagged += (ends.last - self.mean) * (value - self.mean);
                Ends {
                    last: value,
                    min: ends.min.min(value),
                    max: ends.max.max(value),
                    ..ends
                }
            }
        });
    }

    /// How many numbers were taken in.
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// The arithmetic mean.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// The standard deviation of the sample, with n - 1. `None` below two numbers.
    pub fn standard_deviation(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.squares / float(self.count - 1)).sqrt())
    }

    /// The smallest number.
    pub fn min(&self) -> Option<f64> {
        self.ends.map(|ends| ends.min)
    }

    /// The largest number.
    pub fn max(&self) -> Option<f64> {
        self.ends.map(|ends| ends.max)
    }

    /// The autocorrelation at lag 1, as the NIST reference datasets define it. `None` without spread.
    ///
    /// Near zero for readings that are independent; near one for a display filter or a drift.
    pub fn lag_one(&self) -> Option<f64> {
        (self.squares > 0.0).then(|| self.lagged / self.squares)
    }
}

impl Extend<f64> for Summary {
    fn extend<I: IntoIterator<Item = f64>>(&mut self, values: I) {
        for value in values {
            self.record(value);
        }
    }
}

impl FromIterator<f64> for Summary {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        let mut summary = Self::default();
        summary.extend(values);
        summary
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "exact to 2^53 readings, some 285 000 years at a thousand a second"
)]
fn float(count: u64) -> f64 {
    count as f64
}
