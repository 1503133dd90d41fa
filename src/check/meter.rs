//! What a check needs to know about the meter behind the readings.

mod tried;

pub use tried::{Lift, Tried};

use crate::reading::{Magnitude, Measured, Ohms, Quantity, Seconds};
use crate::signal::{Accuracies, BlindSpot};

/// Facts about the meter that its format's document or the operator states.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MeterFacts {
    /// Time between readings, as documented.
    pub interval: Option<Seconds>,
    /// How long one reading averages, as documented.
    pub aperture: Option<Seconds>,
    /// Full scale of the display in counts, where its last digit tells the range.
    pub counts: Option<u32>,
    /// The range the operator says is selected.
    pub range: Option<Ohms>,
    /// The accuracies its maker states.
    pub accuracy: Accuracies,
    /// What a trial of this meter found.
    pub tried: Option<Tried>,
}

impl MeterFacts {
    /// The full scale of the range a reading was taken on, as far as its frame tells.
    pub fn told_scale(&self, measured: &Measured) -> Option<Ohms> {
        match measured.magnitude {
            Magnitude::Over {
                beyond: Some(beyond),
            } => Some(Ohms(beyond.to_f64())),
            _ => self
                .counts
                .zip(measured.resolution_value())
                .map(|(counts, step)| Ohms(f64::from(counts) * step)),
        }
    }

    /// The same, or else what the operator says. The operator's range is that of the ohms
    /// function: the buzzer has one of its own.
    pub fn full_scale(&self, measured: &Measured) -> Option<Ohms> {
        let said = self
            .range
            .filter(|_| measured.quantity == Quantity::Resistance);
        self.told_scale(measured).or(said)
    }
}

/// The meter as it is seen at this moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterView {
    /// What is stated about it.
    pub facts: MeterFacts,
    /// Time between readings as measured on the stream; none before it is known.
    pub interval: Option<Seconds>,
    /// Time between arrivals: longer than the interval where several readings come together,
    /// as through a USB adapter's buffer.
    pub arrival: Option<Seconds>,
}

impl MeterView {
    /// The interval taken for timing before one is measured.
    const UNKNOWN_INTERVAL: Seconds = Seconds(0.5);

    /// Time between readings: measured, else documented, else a slow guess used for timing
    /// only, never for coverage.
    pub fn pacing_interval(&self) -> Seconds {
        self.interval
            .or(self.facts.interval)
            .unwrap_or(Self::UNKNOWN_INTERVAL)
    }

    /// The blind spot for an event that must lift a reading so; without one, as a trial found
    /// it, or as far as it can be told without.
    pub fn blind_spot(&self, lift: Option<Lift>) -> Option<BlindSpot> {
        let interval = self.interval?;
        let tried = self.facts.tried;
        if let Some(spot) = tried.and_then(|tried| tried.blind_spot(interval, lift.as_ref())) {
            return Some(spot);
        }
        let fraction = lift.and_then(|lift| lift.fraction());
        Some(match self.facts.aperture {
            Some(aperture) => BlindSpot::documented(interval, aperture, fraction),
            None => BlindSpot::assumed(interval),
        })
    }
}
