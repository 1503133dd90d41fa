//! The numbers that stand for no number: 9.9E+37 and its kin, in text and in binary.

use toml::Spanned;

use crate::protocol::error::{Fault, Refusal};
use crate::reading::{Annunciator, Annunciators, Magnitude};

/// How near a number must be to a special value to be it: a single-precision 9.9E37 reads
/// back as 9.900000302E37.
const NEAR: f64 = 1e-4;

/// No resistance is written so large; between this and over-range a value says nothing.
const ABSURD: f64 = 1e37;

/// The numbers that stand for no number.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Specials {
    over_from: f64,
    not_a_number: Option<f64>,
}

impl Specials {
    /// Judges the two values.
    pub(crate) fn new(
        over_from: &Spanned<f64>,
        not_a_number: Option<&Spanned<f64>>,
    ) -> Result<Self, Fault> {
        Ok(Self {
            over_from: special(over_from, "over_from")?,
            not_a_number: match not_a_number {
                Some(value) => Some(special(value, "not_a_number")?),
                None => None,
            },
        })
    }

    /// What a value stands for, unless it is the number that it is.
    pub(crate) fn meaning(&self, value: f64) -> Option<(Magnitude, Annunciators)> {
        let is = |special: f64| (value.abs() / special - 1.0).abs() <= NEAR;
        let none = Annunciators::NONE;
        if value.is_nan() || self.not_a_number.is_some_and(is) {
            Some((Magnitude::Blank, none))
        } else if is(self.over_from) || value.abs() >= self.over_from {
            Some((Magnitude::Over { beyond: None }, minus_if(value < 0.0)))
        } else if value.abs() > ABSURD {
            Some((Magnitude::Blank, none))
        } else {
            None
        }
    }

    /// The value that is sent for over-range.
    pub(crate) const fn over(&self, negative: bool) -> f64 {
        if negative {
            -self.over_from
        } else {
            self.over_from
        }
    }

    /// The value that is sent for no number, if there is one.
    pub(crate) const fn not_a_number(&self) -> Option<f64> {
        self.not_a_number
    }
}

/// The minus mark, for over-range in the negative.
pub(crate) const fn minus_if(negative: bool) -> Annunciators {
    if negative {
        Annunciators::NONE.with(Annunciator::Minus)
    } else {
        Annunciators::NONE
    }
}

fn special(value: &Spanned<f64>, key: &'static str) -> Result<f64, Fault> {
    let number = *value.get_ref();
    if number.is_finite() && number >= ABSURD {
        return Ok(number);
    }
    let refusal = Refusal::Number {
        key,
        allowed: "a number from 1e37 up",
        found: number.to_string(),
    };
    Err(Fault::at(&value.span(), refusal))
}
