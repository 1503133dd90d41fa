//! What a format can show at all, for whoever wants to send something in it.

use crate::reading::{Annunciators, Decimal, Magnitude, Measured, Quantity};

/// A family of values a format can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// The quantity.
    pub quantity: Quantity,
    /// The form of the value.
    pub shown: Shown,
    /// The marks it can show with it.
    pub marks: Annunciators,
}

/// The form of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// A number of up to `most`, times ten to the `exponent`.
    Number {
        /// The power of ten of the last digit.
        exponent: i8,
        /// The largest whole number of digits.
        most: i64,
        /// Whether a minus sign can be shown.
        negative: bool,
        /// The resolution the reading carries.
        resolution: Option<i8>,
    },
    /// Over-range.
    Over {
        /// The full scale that is told with it.
        beyond: Option<Decimal>,
        /// The resolution the reading carries.
        resolution: Option<i8>,
    },
    /// No value.
    Blank,
}

impl Shape {
    /// The value of this shape nearest to `digits`, with those of the marks it can show.
    pub fn measured(&self, digits: i64, marks: Annunciators) -> Measured {
        let (magnitude, resolution) = match self.shown {
            Shown::Number {
                exponent,
                most,
                negative,
                resolution,
            } => {
                let least = if negative { -most } else { 0 };
                let digits = digits.clamp(least, most);
                let decimal = Decimal { digits, exponent };
                let decimal = match resolution {
                    Some(_) => decimal,
                    None => shortest(decimal),
                };
                (Magnitude::Number(decimal), resolution)
            }
            Shown::Over { beyond, resolution } => (Magnitude::Over { beyond }, resolution),
            Shown::Blank => (Magnitude::Blank, None),
        };
        Measured {
            quantity: self.quantity,
            magnitude,
            resolution,
            annunciators: marks.iter().filter(|mark| self.marks.has(*mark)).collect(),
        }
    }
}

/// The same number without closing zeros, as a double has it.
pub(crate) fn shortest(mut decimal: Decimal) -> Decimal {
    if decimal.digits == 0 {
        return Decimal {
            digits: 0,
            exponent: 0,
        };
    }
    while decimal.digits % 10 == 0 && decimal.exponent < i8::MAX {
        decimal.digits /= 10;
        decimal.exponent += 1;
    }
    decimal
}
