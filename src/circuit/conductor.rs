//! What a length of copper reads.
//!
//! Resistivity and temperature coefficient: IEC 60028 (1925), standard annealed copper.
//! Diameters: ASTM B258 (formula from memory; it agrees with a published wire table on all rows
//! from 18 to 30). Largest resistances: IEC 60228.

use crate::reading::Ohms;

mod gauge;
mod length;
mod maximum;

pub use gauge::{Gauge, SquareMillimetres};
pub use length::Metres;
pub use maximum::{Construction, maximum_resistance};

/// Resistance of one metre of standard annealed copper of 1 mm² at 20 °C: 1/58 Ω.
pub const COPPER_RESISTIVITY: f64 = 1.0 / 58.0;

/// Rise of that resistance for each kelvin above 20 °C, as a part of it.
pub const COPPER_COEFFICIENT: f64 = 0.003_93;

/// How much more than a solid wire of the same gauge a stranded one reads, for its lay and its
/// tinning: two to five per cent, from memory.
pub const STRANDING: (f64, f64) = (1.02, 1.05);

/// A text that should describe a conductor does not.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ConductorError {
    /// Not a gauge.
    #[error(
        "the gauge {text:?} could not be read; write an AWG number like 24 or 24AWG, or an area \
         like 0.22mm2"
    )]
    Gauge {
        /// What was written.
        text: String,
    },
    /// An AWG number that is none.
    #[error("there is no gauge AWG {number}; the numbers go from 0 (thick) to 56 (thin)")]
    GaugeNumber {
        /// What was written.
        number: u64,
    },
    /// An area no lead has.
    #[error("a conductor of {area} mm² is no lead; write an area from 0.001 to 1000 mm²")]
    Area {
        /// What was written, in square millimetres.
        area: f64,
    },
    /// Not a length.
    #[error("the length {text:?} could not be read; write it like 3m, 300cm or 10ft")]
    Length {
        /// What was written.
        text: String,
    },
    /// A length no lead has.
    #[error(
        "a lead of {metres} m cannot be reckoned with; write a length above 0 and up to 1000 m"
    )]
    LengthOutside {
        /// What was written, in metres.
        metres: f64,
    },
}

/// A temperature in degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Celsius(pub f64);

impl std::fmt::Display for Celsius {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} °C", self.0)
    }
}

impl Celsius {
    /// The temperature the standards state resistances at.
    pub const REFERENCE: Self = Self(20.0);
}

/// The resistance of one metre of solid copper wire.
pub fn resistance_per_metre(gauge: Gauge, temperature: Celsius) -> Ohms {
    let warmer = temperature.0 - Celsius::REFERENCE.0;
    Ohms(COPPER_RESISTIVITY / gauge.area().0 * (1.0 + COPPER_COEFFICIENT * warmer))
}

/// The resistance of a solid copper wire from end to end: one core of a lead, one way.
pub fn resistance(length: Metres, gauge: Gauge, temperature: Celsius) -> Ohms {
    Ohms(length.0 * resistance_per_metre(gauge, temperature).0)
}

/// What one core of a lead ought to read, without probes and contacts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// As a solid wire.
    pub solid: Ohms,
    /// As a stranded wire, the least.
    pub stranded_from: Ohms,
    /// As a stranded wire, the most.
    pub stranded_to: Ohms,
}

impl Expected {
    /// The expectation for a length of wire, with [`STRANDING`] allowed for.
    pub fn of(length: Metres, gauge: Gauge, temperature: Celsius) -> Self {
        let solid = resistance(length, gauge, temperature);
        Self {
            solid,
            stranded_from: Ohms(solid.0 * STRANDING.0),
            stranded_to: Ohms(solid.0 * STRANDING.1),
        }
    }

    /// In words, for the screen and the report.
    pub fn sentence(&self) -> String {
        format!(
            "The copper alone reads {} as solid wire, and {} to {} stranded (two to five per \
             cent more for lay and tinning).",
            self.solid, self.stranded_from, self.stranded_to
        )
    }
}
