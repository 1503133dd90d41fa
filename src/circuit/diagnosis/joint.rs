//! Several readings of one instrument as one normal vector: the parts' errors move them
//! together, the meter's each by itself.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::likelihood::standing_for;

/// Readings are taken as straight in the parts' errors, and that is never truer than this part
/// of their variance: it keeps readings of one part from a perfect meter apart, and the inverse
/// from losing its digits.
const LEAST: f64 = 1e-9;

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
        if !forecast.ohms.is_finite() {
            return None;
        }
        let weighed = case.weighed(row, measurement);
        let bend = case.bend(&weighed);
        Some(Self {
            measurement,
            residual: value - forecast.ohms,
            weighed,
            noise: noise + bend,
        })
    }

    /// The readings that a row takes as its own, each beside what it says.
    pub(super) fn all_of(case: &Case<'_>, row: usize, sound: &[usize]) -> Vec<Self> {
        let held = case.holding(row);
        sound
            .iter()
            .filter_map(|measurement| {
                let observation = case.evidence.at(*measurement)?;
                let (value, noise) = standing_for(observation, &case.meter);
                Self::of(case, held, (*measurement, value, noise))
            })
            .collect()
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
    residual: DVector<f64>,
    /// The logarithm of the density where all residuals are nothing.
    log_normal: f64,
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
            match left {
                Some(item) if row == column => shared * (1.0 + LEAST) + item.noise,
                _ => shared,
            }
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
        let log_normal = -0.5 * (dimensions + log_determinant);
        (log_normal - distance).is_finite().then(|| Self {
            precision: factor.inverse(),
            covariance,
            pull,
            distance,
            residual,
            log_normal,
        })
    }

    /// The logarithm of the density of one reading given all others.
    pub(super) fn log_alone(&self, index: usize) -> f64 {
        let precision = self.precision.get((index, index)).copied().unwrap_or(1.0);
        let pull = self.pull.get(index).copied().unwrap_or(0.0);
        // Given the others its variance is 1/precision and its residual pull/precision.
        -0.5 * (TAU.ln() - precision.ln() + pull * pull / precision)
    }

    /// The same without one reading, by a step on the inverse; the covariance is left whole.
    /// What is given of the reading taken out is nothing from here on.
    pub(super) fn drop(&mut self, index: usize) {
        let Some(own) = self.precision.get((index, index)).copied() else {
            return;
        };
        let column = self.precision.column(index).clone_owned();
        self.precision.ger(-1.0 / own, &column, &column, 1.0);
        // Exactly, so that no rounding of it comes back.
        self.precision.column_mut(index).fill(0.0);
        self.precision.row_mut(index).fill(0.0);
        self.log_normal -= 0.5 * (own.ln() - TAU.ln());
        // Afresh: a reading far out leaves no digits in a difference.
        self.pull = &self.precision * &self.residual;
        self.distance = self.residual.dot(&self.pull);
    }

    /// The logarithm of the density of all that are left.
    pub(super) fn log_density(&self) -> f64 {
        self.log_normal - 0.5 * self.distance
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
