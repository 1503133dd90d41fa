//! How long a conductor is.

use std::fmt;
use std::str::FromStr;

use crate::circuit::conductor::ConductorError;
use crate::circuit::conductor::gauge::unsigned;

/// A length in metres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Metres(pub f64);

/// The units of length, each as a quotient of metres: a hundredth is not exact in binary, and
/// 300 cm should be 3 m.
const UNITS: [(&str, f64, f64); 7] = [
    ("", 1.0, 1.0),
    ("m", 1.0, 1.0),
    ("cm", 1.0, 100.0),
    ("mm", 1.0, 1000.0),
    ("ft", 3048.0, 10_000.0),
    ("feet", 3048.0, 10_000.0),
    ("in", 254.0, 10_000.0),
];

/// The longest lead, in metres.
const LONGEST: f64 = 1000.0;

impl FromStr for Metres {
    type Err = ConductorError;

    /// Reads `3m`, `3 m`, `300cm`, `3000 mm`, `10ft`, `118in`; a bare number is metres.
    fn from_str(text: &str) -> Result<Self, ConductorError> {
        let plain = text.trim().to_lowercase();
        let number = plain.trim_end_matches(char::is_alphabetic);
        let unit = plain.strip_prefix(number).unwrap_or_default();
        let length = unsigned(number.trim_end()).and_then(|number| {
            let (_word, times, parts) = UNITS.into_iter().find(|(word, ..)| *word == unit)?;
            Some(number * times / parts)
        });
        match length {
            None => Err(ConductorError::Length {
                text: text.to_owned(),
            }),
            Some(metres) if metres > 0.0 && metres <= LONGEST => Ok(Self(metres)),
            Some(metres) => Err(ConductorError::LengthOutside { metres }),
        }
    }
}

impl fmt::Display for Metres {
    /// `3 m`; reads back equal.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} m", self.0)
    }
}
