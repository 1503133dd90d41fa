//! Several readings of one instrument as one normal vector: the parts' errors move them
//! together, the meter's each by itself.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use crate::circuit::diagnosis::case::Case;

/// One reading that a forecast has a number for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    /// Which measurement.
    pub(super) measurement: usize,
    /// Reading less forecast, in ohms.
    pub(super) residual: f64,
    /// What the parts' errors do to it, in ohms for one standard deviation each.
    pub(super) weighed: Vec<f64>,
    /// The meter's variance, in ohms squared.
    pub(super) noise: f64,
}

impl Item {
    /// A reading beside what a row says; nothing where the row has no number.
    pub(super) fn of(
        case: &Case<'_>,
        row: usize,
        (measurement, value, noise): (usize, f64, f64),
    ) -> Option<Self> {
        let forecast = case.forecast(row, measurement)?;
        forecast.ohms.is_finite().then(|| Self {
            measurement,
            residual: value - forecast.ohms,
            weighed: case.weighed(row, measurement),
            noise,
        })
    }

    /// The variance of this reading by itself.
    pub(super) fn variance(&self) -> f64 {
        covariance(&self.weighed, &self.weighed) + self.noise
    }
}

/// The covariance that common parts give two readings.
pub(super) fn covariance(left: &[f64], right: &[f64]) -> f64 {
    left.iter()
        .zip(right)
        .map(|(left, right)| left * right)
        .sum()
}

/// A normal vector solved: what its density is and what each reading is given the others.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    /// The inverse of the covariance.
    pub(super) precision: DMatrix<f64>,
    /// The covariance.
    pub(super) covariance: DMatrix<f64>,
    /// The precision times the residuals.
    pub(super) pull: DVector<f64>,
    /// The residuals' squared distance from nothing, in units of their own spread.
    pub(super) distance: f64,
    /// The logarithm of the density of all.
    pub(super) log_density: f64,
}

impl Solved {
    /// Nothing only if a number is not finite.
    pub(super) fn of(items: &[&Item]) -> Option<Self> {
        let size = items.len();
        let covariance = DMatrix::from_fn(size, size, |row, column| {
            let (left, right) = (items.get(row), items.get(column));
            let shared = left.zip(right).map_or(0.0, |(left, right)| {
                covariance(&left.weighed, &right.weighed)
            });
            let own = left
                .filter(|_| row == column)
                .map_or(0.0, |item| item.noise);
            shared + own
        });
        let residual = DVector::from_iterator(size, items.iter().map(|item| item.residual));
        let factor = covariance.clone().cholesky()?;
        let pull = factor.solve(&residual);
        let distance = residual.dot(&pull);
        let log_determinant: f64 = factor
            .l_dirty()
            .diagonal()
            .iter()
            .map(|pivot| 2.0 * pivot.ln())
            .sum();
        let dimensions: f64 = items.iter().map(|_| TAU.ln()).sum();
        let log_density = -0.5 * (dimensions + log_determinant + distance);
        log_density.is_finite().then(|| Self {
            precision: factor.inverse(),
            covariance,
            pull,
            distance,
            log_density,
        })
    }

    /// The logarithm of the density of one reading given all others.
    pub(super) fn log_alone(&self, index: usize) -> f64 {
        let precision = self.precision.get((index, index)).copied().unwrap_or(1.0);
        let pull = self.pull.get(index).copied().unwrap_or(0.0);
        // Given the others its variance is 1/precision and its residual pull/precision.
        -0.5 * (TAU.ln() - precision.ln() + pull * pull / precision)
    }

    /// The mean and variance, meter apart, of one more reading given these: `weighed` are its
    /// gradients, `mean` its forecast.
    pub(super) fn given(&self, items: &[&Item], mean: f64, weighed: &[f64]) -> (f64, f64) {
        let size = items.len();
        let shared = DVector::from_iterator(
            size,
            items.iter().map(|item| covariance(&item.weighed, weighed)),
        );
        let known = shared.dot(&(&self.precision * &shared));
        let variance = (covariance(weighed, weighed) - known).max(0.0);
        (mean + shared.dot(&self.pull), variance)
    }
}
