//! What was read, and how far the meter is to be trusted.

use std::collections::BTreeMap;

use crate::reading::{Decimal, Magnitude, Measured};

/// No reading is better than a microohm.
const LEAST_VARIANCE: f64 = 1e-12;

/// What the meter showed at a measurement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// A resistance in ohms.
    Ohms(f64),
    /// Over-range: more than `beyond` ohms where the range is known, and nothing else.
    Over {
        /// The end of the range in ohms.
        beyond: Option<f64>,
    },
}

/// One measurement taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// What was shown.
    pub seen: Seen,
    /// The weight of the last digit in ohms; zero where it is not known.
    pub resolution: f64,
    /// It would not stand still although nothing was moved. Its value then says nothing, its
    /// moving does.
    pub unsteady: bool,
    /// How often it came out so, the probes lifted and set again between.
    pub times: u32,
}

impl Observation {
    /// A steady reading taken once.
    pub const fn once(seen: Seen) -> Self {
        Self {
            seen,
            resolution: 0.0,
            unsteady: false,
            times: 1,
        }
    }

    /// A steady reading of the meter, taken once, less the resistance of the probe leads.
    /// Nothing if it is not a resistance or shows no value.
    pub fn of(measured: &Measured, tare: f64) -> Option<Self> {
        if !measured.quantity.is_resistance() {
            return None;
        }
        let seen = match measured.magnitude {
            Magnitude::Number(number) => Seen::Ohms(number.to_f64() - tare),
            Magnitude::Over { beyond } => Seen::Over {
                beyond: beyond.map(Decimal::to_f64),
            },
            Magnitude::Blank => return None,
        };
        let resolution = measured
            .resolution
            .map_or(0.0, |power| 10.0_f64.powi(i32::from(power)));
        Some(Self {
            resolution,
            ..Self::once(seen)
        })
    }

    /// The same, seen moving.
    #[must_use]
    pub const fn moving(self) -> Self {
        Self {
            unsteady: true,
            ..self
        }
    }

    /// The same, seen so many times.
    #[must_use]
    pub const fn again(self, times: u32) -> Self {
        Self { times, ..self }
    }
}

/// All that was read: at most one observation a measurement, in the order of the measurements
/// and not of time, so that the order of taking cannot matter.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence(BTreeMap<usize, Observation>);

impl Evidence {
    /// Nothing read yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes an observation in place of an earlier one of the same measurement. One without a
    /// value (not a number) is left out.
    pub fn take(&mut self, measurement: usize, observation: Observation) {
        let sound = match observation.seen {
            Seen::Ohms(ohms) => ohms.is_finite(),
            Seen::Over { beyond } => beyond.is_none_or(f64::is_finite),
        };
        if sound && observation.resolution.is_finite() {
            self.0.insert(measurement, observation);
        }
    }

    /// The observation of a measurement.
    pub fn at(&self, measurement: usize) -> Option<&Observation> {
        self.0.get(&measurement)
    }

    /// All but one.
    #[must_use]
    pub fn without(&self, measurement: usize) -> Self {
        let mut rest = self.clone();
        rest.0.remove(&measurement);
        rest
    }

    /// Measurement and observation, in the order of the measurements.
    pub fn iter(&self) -> impl Iterator<Item = (usize, &Observation)> {
        self.0.iter().map(|(index, seen)| (*index, seen))
    }

    /// How many measurements were taken.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether none was.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// How far a resistance shown by the meter may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// Limit of error as a part of the reading.
    pub accuracy: f64,
    /// Limit of error in units of the last digit, besides.
    pub counts: f64,
    /// Standard deviation of what the probes' contact adds, in ohms.
    pub contact: f64,
    /// The end of its highest range in ohms.
    pub top: f64,
    /// How many units of the last digit a range has, for readings whose digit is not known.
    pub span: f64,
}

impl Default for Meter {
    /// A handheld meter of the middling sort: common practice, no source.
    fn default() -> Self {
        Self {
            accuracy: 0.008,
            counts: 3.0,
            contact: 0.2,
            top: 40e6,
            span: 4000.0,
        }
    }
}

impl Meter {
    /// The last digit at a resistance, where the display did not tell: ranges are taken as
    /// decades of the span.
    pub fn digit(&self, ohms: f64) -> f64 {
        ohms.abs().max(1.0) / self.span * 3.0
    }

    /// The variance of what is shown for a resistance, in ohms squared.
    ///
    /// Limits count as rectangles (JCGM 100:2008, 4.3.7) and rounding too (F.2.2.1).
    pub fn variance(&self, ohms: f64, resolution: f64) -> f64 {
        let digit = if resolution > 0.0 {
            resolution
        } else {
            self.digit(ohms)
        };
        let gain = self.accuracy * ohms;
        let offset = self.counts * digit;
        let variance =
            (gain * gain + offset * offset) / 3.0 + digit * digit / 12.0 + self.contact.powi(2);
        variance.max(LEAST_VARIANCE)
    }

    /// The most a reading may be off by the meter alone, in ohms; contact at three deviations.
    pub fn limit(&self, ohms: f64, resolution: f64) -> f64 {
        let digit = if resolution > 0.0 {
            resolution
        } else {
            self.digit(ohms)
        };
        self.accuracy * ohms.abs() + (self.counts + 0.5) * digit + 3.0 * self.contact
    }
}
