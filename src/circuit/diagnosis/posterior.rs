//! Bayes' rule over all rows.

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::fit::{self, Fit};
use crate::circuit::diagnosis::grouping::{self, Group};
use crate::circuit::diagnosis::likelihood::Likelihood;
use crate::circuit::diagnosis::normal::log_sum;

/// What the readings make of every row.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// Each row's chance; they add up to 1.
    pub probabilities: Vec<f64>,
    /// How well each row explains the readings.
    pub likelihoods: Vec<Likelihood>,
    /// Explanations that no reading so far tells apart, the likeliest first. Every row is in
    /// one.
    pub groups: Vec<Group>,
    /// How well the likeliest explanation fits.
    pub fit: Fit,
}

impl Diagnosis {
    /// Of a case as it stands.
    pub fn of(case: &Case<'_>) -> Self {
        let rows = 0..case.forecasts.hypotheses.len();
        let likelihoods: Vec<Likelihood> = rows.map(|row| case.likelihood(row)).collect();
        let hypotheses = case.forecasts.hypotheses.iter();
        let logs: Vec<f64> = hypotheses
            .zip(&likelihoods)
            .map(|(row, likelihood)| case.priors.log_odds(&row.causes) + likelihood.log)
            .collect();
        let all = log_sum(logs.iter().copied());
        let probabilities: Vec<f64> = logs.iter().map(|log| (log - all).exp()).collect();
        let groups = grouping::groups(case, &probabilities, &likelihoods);
        let fit = fit::of(case, &groups, &likelihoods);
        Self {
            probabilities,
            likelihoods,
            groups,
            fit,
        }
    }

    /// The chance that nothing is wrong.
    pub fn sound(&self) -> f64 {
        self.probabilities.first().copied().unwrap_or(0.0)
    }

    /// The likeliest explanations.
    pub fn first(&self) -> Option<&Group> {
        self.groups.first()
    }

    /// The place of a row's group in the order of likelihood, from 0.
    pub fn rank(&self, row: usize) -> Option<usize> {
        self.groups
            .iter()
            .position(|group| group.rows.contains(&row))
    }

    /// Rows from the likeliest down, at most so many, until this much of the chance is covered.
    pub(super) fn likeliest(&self, most: usize, covered: f64) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.probabilities.len()).collect();
        let chance = |row: &usize| self.probabilities.get(*row).copied().unwrap_or(0.0);
        order.sort_by(|left, right| chance(right).total_cmp(&chance(left)));
        let mut sum = 0.0;
        order
            .into_iter()
            .take(most)
            .take_while(|row| {
                let more = sum < covered;
                sum += chance(row);
                more
            })
            .collect()
    }
}
