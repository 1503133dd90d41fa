//! The meter's rate as the stream shows it: what counts as an interval, and what is a silence.

use crate::reading::{Seconds, Stamp};
use crate::signal::IntervalMeter;

/// The time between readings, and between their arrivals.
#[derive(Debug, Default)]
pub(super) struct Rate {
    readings: IntervalMeter,
    /// However many readings come at once, they arrive once.
    arrivals: IntervalMeter,
    last: Option<Stamp>,
    /// Silences in a row, with one reading after each.
    silences: u32,
}

impl Rate {
    /// So many silences one after another are how fast the meter now is.
    const SILENCES: u32 = 3;

    /// A reading came, after the stream had been called silent or not.
    ///
    /// A silence says nothing about the rate, once that is known; but a meter that has changed
    /// its rate is silent before every reading, and its rate is then learnt anew.
    pub(super) fn reading(&mut self, at: Stamp, silent: bool) {
        self.silences = if silent {
            self.silences.saturating_add(1)
        } else {
            0
        };
        if self.silences >= Self::SILENCES {
            *self = Self::default();
        } else if silent && self.interval().is_some() {
            self.interrupted();
        }
        self.readings.record(at);
        if self.last.is_none_or(|last| last < at) {
            self.arrivals.record(at);
        }
        self.last = Some(at);
    }

    /// The stream was lost: the next reading ends no interval.
    pub(super) fn interrupted(&mut self) {
        self.readings.restart();
        self.arrivals.restart();
    }

    /// The time between readings.
    pub(super) const fn readings(&self) -> &IntervalMeter {
        &self.readings
    }

    /// The time between readings to reckon with, once it is known.
    pub(super) fn interval(&self) -> Option<Seconds> {
        self.readings.high()
    }

    /// The time between arrivals to reckon with, once it is known.
    pub(super) fn arrival(&self) -> Option<Seconds> {
        self.arrivals.high()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known() -> Rate {
        let mut rate = Rate::default();
        for reading in 0..100 {
            rate.reading(Stamp::from_seconds(f64::from(reading) * 0.125), false);
        }
        rate
    }

    fn about(rate: &Rate) -> f64 {
        rate.interval().map_or(f64::NAN, |interval| interval.0)
    }

    #[test]
    fn a_lone_silence_is_no_interval() {
        let mut rate = known();
        for (at, silent) in [(60.0, true), (60.125, false), (90.0, true), (120.0, true)] {
            rate.reading(Stamp::from_seconds(at), silent);
        }
        assert!((about(&rate) - 0.125).abs() < 0.001, "{}", about(&rate));
    }

    #[test]
    fn silence_before_every_reading_is_a_slower_rate() {
        let mut rate = known();
        for reading in 0..3 {
            rate.reading(Stamp::from_seconds(14.0 + f64::from(reading)), true);
        }
        assert_eq!(rate.interval(), None, "learnt anew");
        for reading in 3..6 {
            rate.reading(Stamp::from_seconds(14.0 + f64::from(reading)), false);
        }
        assert!((about(&rate) - 1.0).abs() < 0.01, "{}", about(&rate));
        assert_eq!(rate.interval(), rate.arrival());
    }
}
