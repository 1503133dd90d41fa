//! Where to look next: the measurement that tells most for its effort.
//!
//! What a measurement tells is the mutual information between which fault it is and what will
//! be read, in nats: the mean fall of the entropy over faults (T. Cover, J. Thomas, Elements of
//! Information Theory, 2.3; from memory). It is worked out over the rows that matter, those
//! that foresee the same taken together, and the integral over readings is a trapezoid rule:
//! the same case gives the same answer.

use std::collections::BTreeMap;

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::normal::log_sum;
use crate::circuit::diagnosis::posterior::Diagnosis;
use crate::circuit::diagnosis::predictive::{Learnt, Outlook};

/// Rows looked at: at most so many, until so much of the chance is covered.
const MOST_ROWS: usize = 64;
const COVERED: f64 = 0.995;

/// A measurement worth taking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// Which.
    pub measurement: usize,
    /// What it is expected to tell, in nats.
    pub gain: f64,
    /// What it costs, in the units of the table.
    pub effort: f64,
}

impl Probe {
    /// What it tells for its effort.
    pub fn worth(&self) -> f64 {
        self.gain / self.effort
    }
}

/// What to do next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Next {
    /// Take this measurement.
    Take(Probe),
    /// One fault, or none, is as good as certain.
    Sure {
        /// The first row of that fault.
        row: usize,
    },
    /// No measurement left tells enough for its effort; the likeliest group is as far as
    /// measuring goes.
    NothingWorth,
}

impl Diagnosis {
    /// What to do next; `opened` when the instrument already is.
    pub fn next(&self, case: &Case<'_>, opened: bool) -> Next {
        if let Some(row) = self.certain(case) {
            return Next::Sure { row };
        }
        let probes = self.probes(case, opened);
        let best = probes.first().copied();
        best.filter(|probe| probe.worth() >= case.priors.judging.worth)
            .map_or(Next::NothingWorth, Next::Take)
    }

    /// The chance of each fault, its sizes together, by its first row.
    fn faults(&self, case: &Case<'_>) -> BTreeMap<usize, f64> {
        let mut faults = BTreeMap::new();
        for (row, chance) in self.probabilities.iter().enumerate() {
            *faults.entry(case.family(row)).or_default() += chance;
        }
        faults
    }

    /// The first row of a fault as likely as the table's line of certainty.
    fn certain(&self, case: &Case<'_>) -> Option<usize> {
        let sure = case.priors.judging.sure;
        let faults = self.faults(case).into_iter();
        faults
            .filter(|(_, chance)| *chance >= sure)
            .map(|(row, _)| row)
            .next()
    }

    /// What is still not known of which fault it is: the entropy in nats, 0 when it is certain.
    pub fn uncertainty(&self, case: &Case<'_>) -> f64 {
        let faults = self.faults(case).into_values();
        faults
            .filter(|chance| *chance > 0.0)
            .map(|chance| -chance * chance.ln())
            .sum()
    }

    /// Every measurement not taken, the one of most worth first; of equals the first listed.
    pub fn probes(&self, case: &Case<'_>, opened: bool) -> Vec<Probe> {
        let rows = self.likeliest(MOST_ROWS, COVERED);
        let learnt: Vec<(f64, usize, Learnt<'_>)> = rows
            .into_iter()
            .filter_map(|row| {
                let chance = *self.probabilities.get(row)?;
                let likelihood = self.likelihoods.get(row)?;
                Some((chance, case.family(row), Learnt::of(case, row, likelihood)))
            })
            .collect();
        let untaken = case
            .forecasts
            .measurements
            .iter()
            .enumerate()
            .filter(|(index, _)| case.evidence.at(*index).is_none());
        let mut probes: Vec<Probe> = untaken
            .map(|(index, measurement)| Probe {
                measurement: index,
                gain: gain(&learnt, index),
                effort: case.priors.effort(measurement, opened),
            })
            .collect();
        probes.sort_by(|left, right| right.worth().total_cmp(&left.worth()));
        probes
    }
}

/// The expected gain of a measurement in nats.
fn gain(learnt: &[(f64, usize, Learnt<'_>)], measurement: usize) -> f64 {
    // Rows that foresee alike are one class; each fault has a weight in each class.
    let mut classes: Vec<Outlook> = Vec::new();
    let mut faults: BTreeMap<usize, BTreeMap<usize, f64>> = BTreeMap::new();
    let all: f64 = learnt.iter().map(|(chance, _, _)| chance).sum();
    for (chance, family, learnt) in learnt {
        let outlook = learnt.outlook(measurement);
        let found = classes.iter().position(|class| class.alike(&outlook));
        let class = found.unwrap_or(classes.len());
        if found.is_none() {
            classes.push(outlook);
        }
        let weights = faults.entry(*family).or_default();
        *weights.entry(class).or_default() += chance / all;
    }
    if classes.len() < 2 {
        return 0.0;
    }
    let mut whole: BTreeMap<usize, f64> = BTreeMap::new();
    for (class, weight) in faults.values().flatten() {
        *whole.entry(*class).or_default() += weight;
    }
    let each = classes.iter().enumerate();
    let sum: f64 = each
        .map(|(class, outlook)| {
            let outcomes = outlook.outcomes().into_iter();
            let parts = outcomes.map(|(share, outcome)| {
                let logs: Vec<f64> = classes.iter().map(|other| other.log(outcome)).collect();
                let common = mixture(&whole, &logs);
                let told = faults.values().filter_map(|weights| {
                    let weight = weights.get(&class)?;
                    Some(weight * (mixture(weights, &logs) - common))
                });
                share * told.sum::<f64>()
            });
            parts.sum::<f64>()
        })
        .sum();
    sum.max(0.0)
}

/// The logarithm of a mixture's density, its weights brought to 1.
fn mixture(weights: &BTreeMap<usize, f64>, logs: &[f64]) -> f64 {
    let all: f64 = weights.values().sum();
    let parts = weights
        .iter()
        .filter_map(|(class, weight)| Some((weight / all).ln() + logs.get(*class)?));
    log_sum(parts.collect::<Vec<f64>>())
}
