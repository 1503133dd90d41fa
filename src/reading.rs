//! The values that flow through the house: what a meter said, and when.
//!
//! Every number has a type that carries its unit.
//! Over-range and blank are magnitudes of their own, never special numbers, so that no
//! arithmetic can run over them by accident.

mod annunciator;
mod decimal;
mod quantity;
mod unit;

pub use annunciator::{Annunciator, Annunciators};
pub use decimal::Decimal;
pub use quantity::Quantity;
pub use unit::{Ohms, Seconds, Stamp};

/// What the display shows as its value, in SI units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Magnitude {
    /// A number, with the digits the meter showed.
    Number(Decimal),
    /// Beyond the selected range (shown as OL).
    Over {
        /// The full scale of that range, where the frame or the format tells it.
        /// Over-range proves "more than this" and nothing else.
        beyond: Option<Decimal>,
    },
    /// No value: a range change, a blanked display, not-a-number.
    Blank,
}

/// One value as the meter's frame carries it, without the time of its arrival.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Measured {
    /// What is being measured; it fixes the unit.
    pub quantity: Quantity,
    /// The value.
    pub magnitude: Magnitude,
    /// The weight of the last shown digit as a power of ten in SI units (`-1` is 0.1 ohm), where the
    /// format has a display whose last digit means something.
    /// Present on over-range too, where it tells the range.
    pub resolution: Option<i8>,
    /// What the display also shows.
    pub annunciators: Annunciators,
}

impl Measured {
    /// The number in SI units, if there is one.
    pub fn number(&self) -> Option<f64> {
        match self.magnitude {
            Magnitude::Number(decimal) => Some(decimal.to_f64()),
            Magnitude::Over { .. } | Magnitude::Blank => None,
        }
    }

    /// The resistance, if this is a number on an ohms function.
    pub fn ohms(&self) -> Option<Ohms> {
        self.quantity
            .is_resistance()
            .then(|| self.number().map(Ohms))
            .flatten()
    }

    /// The weight of the last shown digit in SI units.
    pub fn resolution_value(&self) -> Option<f64> {
        self.resolution.map(|exponent| {
            Decimal {
                digits: 1,
                exponent,
            }
            .to_f64()
        })
    }
}

/// One value from the meter and the time it arrived.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Reading {
    /// When its last byte arrived, since the start of the session.
    pub at: Stamp,
    /// What it said.
    pub measured: Measured,
}
