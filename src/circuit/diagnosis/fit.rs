//! Whether the likeliest explanation explains anything: a predictive check.
//!
//! If it were true, its numbers would lie about their forecasts with a chi-squared distance,
//! and strays would be rare. The smaller of the two chances, doubled for having looked twice,
//! is the level of the fit; below the table's line nothing on the list fits.

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::grouping::Group;
use crate::circuit::diagnosis::joint::{Item, Solved};
use crate::circuit::diagnosis::likelihood::Likelihood;
use crate::circuit::diagnosis::normal::chi_squared_above;

/// How well the likeliest explanation fits the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The chance of readings as far off as these, were it true.
    pub level: f64,
    /// The chance below which it is refused.
    pub line: f64,
    /// The measurements it can take only as strays.
    pub stray: Vec<usize>,
}

impl Fit {
    /// Whether nothing on the list explains the readings.
    pub fn nothing_fits(&self) -> bool {
        self.level < self.line
    }
}

pub(super) fn of(case: &Case<'_>, groups: &[Group], likelihoods: &[Likelihood]) -> Fit {
    let line = case.priors.judging.misfit;
    // Of the likeliest group, the row that explains best: a prior is no reason not to fit.
    let rows = groups.first().map_or(&[][..], |group| &group.rows);
    let fits = rows.iter().take(16).filter_map(|row| {
        let likelihood = likelihoods.get(*row)?;
        Some((level(case, *row, likelihood), likelihood))
    });
    let best = fits.max_by(|(left, _), (right, _)| left.total_cmp(right));
    best.map_or(
        Fit {
            level: 1.0,
            line,
            stray: Vec::new(),
        },
        |(level, likelihood)| Fit {
            level,
            line,
            stray: likelihood.stray.clone(),
        },
    )
}

fn level(case: &Case<'_>, row: usize, likelihood: &Likelihood) -> f64 {
    (2.0 * numbers(case, row, likelihood).min(strays(case, row, likelihood))).min(1.0)
}

/// The chance that the numbers taken as its own lie this far off.
fn numbers(case: &Case<'_>, row: usize, likelihood: &Likelihood) -> f64 {
    let items = Item::all_of(case, row, &likelihood.sound);
    let freedom = u32::try_from(items.len()).unwrap_or(u32::MAX);
    let solved = Solved::of(&items.iter().collect::<Vec<_>>());
    solved.map_or(1.0, |solved| chi_squared_above(solved.distance, freedom))
}

/// No more than the chance that so many strays come: every choice of so many places.
fn strays(case: &Case<'_>, row: usize, likelihood: &Likelihood) -> f64 {
    let mut chance = 1.0;
    let mut places: f64 = case.evidence.iter().map(|_| 1.0).sum();
    let mut count = 1.0;
    for measurement in &likelihood.stray {
        if case.shows(row, *measurement) {
            // The fault itself, caught while it showed.
            continue;
        }
        let times = case
            .evidence
            .at(*measurement)
            .map_or(1, |seen| seen.times.max(1));
        let stray = case.priors.judging.stray.powf(f64::from(times));
        chance *= stray * places / count;
        places -= 1.0;
        count += 1.0;
    }
    chance.min(1.0)
}
