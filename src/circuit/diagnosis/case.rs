//! All that is known of one instrument: what it might read, what it did, and what practice says.

use crate::circuit::diagnosis::cause;
use crate::circuit::diagnosis::evidence::{Evidence, Meter};
use crate::circuit::diagnosis::likelihood::{Likelihood, likelihood};
use crate::circuit::diagnosis::posterior::Diagnosis;
use crate::circuit::diagnosis::priors::Priors;
use crate::circuit::forecast::{Ailment, Forecast, Forecasts, Hypothesis, Measurement};

/// A fault's own value is known only to within its step of sizes, too far for its slope to hold
/// to the end: this part of what it does to a reading is taken as each reading's own.
const BEND: f64 = 0.15;

/// One instrument on the bench.
#[derive(Debug, Clone)]
pub struct Case<'a> {
    /// What every fault would make every measurement read.
    pub forecasts: &'a Forecasts,
    /// What practice says.
    pub priors: &'a Priors,
    /// How far the meter is trusted.
    pub meter: Meter,
    /// What was read.
    pub evidence: Evidence,
    families: Vec<usize>,
    holding: Vec<usize>,
}

impl<'a> Case<'a> {
    /// An instrument of which nothing is read yet.
    pub fn new(forecasts: &'a Forecasts, priors: &'a Priors, meter: Meter) -> Self {
        let families = cause::families(&forecasts.hypotheses);
        let holding = cause::holding(&forecasts.hypotheses, &families);
        Self {
            forecasts,
            priors,
            meter,
            evidence: Evidence::new(),
            families,
            holding,
        }
    }

    /// What the readings make of it.
    pub fn diagnosis(&self) -> Diagnosis {
        Diagnosis::of(self)
    }

    /// How well a row of the table explains what was read.
    pub fn likelihood(&self, row: usize) -> Likelihood {
        likelihood(self, row, &self.evidence)
    }

    /// A row's description.
    pub fn hypothesis(&self, row: usize) -> Option<&'a Hypothesis> {
        self.forecasts.hypotheses.get(row)
    }

    /// A measurement's description.
    pub fn measurement(&self, index: usize) -> Option<&'a Measurement> {
        self.forecasts.measurements.get(index)
    }

    /// What a row says a measurement reads.
    pub fn forecast(&self, row: usize, measurement: usize) -> Option<&'a Forecast> {
        self.forecasts.rows.get(row)?.get(measurement)
    }

    /// The first row of the same fault at whatever size.
    pub fn family(&self, row: usize) -> usize {
        self.families.get(row).copied().unwrap_or(row)
    }

    /// The row that holds while a fault that comes and goes does not show; itself for others.
    pub fn holding(&self, row: usize) -> usize {
        self.holding.get(row).copied().unwrap_or(row)
    }

    /// Whether a fault that comes and goes would show here: two readings that this meter
    /// tells apart.
    pub fn shows(&self, row: usize, measurement: usize) -> bool {
        let held = self.holding(row);
        if held == row {
            return false;
        }
        let both = self
            .forecast(row, measurement)
            .zip(self.forecast(held, measurement));
        both.is_some_and(
            |(open, held)| match (open.ohms.is_finite(), held.ohms.is_finite()) {
                (true, true) => {
                    let noise = self.meter.variance(held.ohms, 0.0).sqrt();
                    (open.ohms - held.ohms).abs() > 4.0 * noise
                }
                (open, held) => open != held,
            },
        )
    }

    /// Whose other values are all that a row supposes, where nobody gave them: what is typical
    /// was only a guess. Empty for every other row.
    pub fn unknown_values(&self, row: usize) -> Vec<&'a str> {
        let causes = self.hypothesis(row).map_or(&[][..], |one| &one.causes);
        let spreads = &self.forecasts.spreads;
        let guessed = causes.iter().filter_map(|cause| {
            let mut typical = spreads.iter().filter(|spread| spread.typical);
            let spread = typical.find(|spread| cause.part.ends_with(&spread.name))?;
            (cause.ailment == Ailment::WrongValue).then_some(spread.name.as_str())
        });
        let guessed: Vec<&str> = guessed.collect();
        if guessed.len() == causes.len() {
            guessed
        } else {
            Vec::new()
        }
    }

    /// The gradient of a forecast, each part's weighed by its standard deviation: ohms.
    pub(super) fn weighed(&self, row: usize, measurement: usize) -> Vec<f64> {
        let Some((forecast, hypothesis)) =
            self.forecast(row, measurement).zip(self.hypothesis(row))
        else {
            return Vec::new();
        };
        let spreads = self.forecasts.spreads.iter().chain(&hypothesis.own);
        let pairs = forecast.gradient.iter().zip(spreads);
        pairs
            .map(|(slope, spread)| slope * spread.deviation())
            .collect()
    }

    /// The variance of a reading that a fault's own value bends off its slope: of weighed
    /// gradients, in ohms squared.
    pub(super) fn bend(&self, weighed: &[f64]) -> f64 {
        let own = weighed.iter().skip(self.forecasts.spreads.len());
        own.map(|one| bend(*one)).sum()
    }
}

/// The same of one slope.
pub(super) const fn bend(own: f64) -> f64 {
    BEND * BEND * own * own
}
