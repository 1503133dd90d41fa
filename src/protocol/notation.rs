//! A reading as a short text, for the examples of format files.
//!
//! `QUANTITY VALUE MARKS...`: `resistance 10.02e3 auto_range`, `resistance over>4000e4`,
//! `resistance over@4`, `resistance blank`. The digits of a number are those shown;
//! `over>N` is beyond N, and `@E` tells the weight of the last digit where it is not that
//! of the number before it (`@-` for none). Where the digits sent are not those of a display,
//! a number has none, and needs no mark to say so.

use std::fmt::Write as _;

use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// Writes a reading with everything it carries.
pub(crate) fn text(measured: &Measured, digits_mean: bool) -> String {
    let mut text = format!("{} ", measured.quantity.word());
    let implied = match measured.magnitude {
        Magnitude::Number(decimal) => {
            text.push_str(&decimal.to_string());
            digits_mean.then_some(decimal.exponent)
        }
        Magnitude::Over { beyond: None } => {
            text.push_str("over");
            None
        }
        Magnitude::Over {
            beyond: Some(beyond),
        } => {
            let Decimal { digits, exponent } = beyond;
            // Writing to a string cannot fail.
            let _written = write!(text, "over>{digits}e{exponent}");
            Some(exponent)
        }
        Magnitude::Blank => {
            text.push_str("blank");
            None
        }
    };
    if measured.resolution != implied {
        let _written = match measured.resolution {
            Some(exponent) => write!(text, "@{exponent}"),
            None => write!(text, "@-"),
        };
    }
    for mark in measured.annunciators.iter() {
        text.push(' ');
        text.push_str(mark.word());
    }
    text
}

/// Reads such a text.
pub(crate) fn parse(text: &str, digits_mean: bool) -> Option<Measured> {
    let mut words = text.split_whitespace();
    let quantity = Quantity::from_word(words.next()?)?;
    let value = words.next()?;
    let (value, told) = match value.split_once('@') {
        Some((value, "-")) => (value, Some(None)),
        Some((value, exponent)) => (value, Some(Some(exponent.parse().ok()?))),
        None => (value, None),
    };
    let (magnitude, implied) = match (value, value.strip_prefix("over>")) {
        ("over", _) => (Magnitude::Over { beyond: None }, None),
        ("blank", _) => (Magnitude::Blank, None),
        (_, Some(beyond)) => {
            let beyond: Decimal = beyond.parse().ok()?;
            let magnitude = Magnitude::Over {
                beyond: Some(beyond),
            };
            (magnitude, Some(beyond.exponent))
        }
        (number, None) => {
            let decimal: Decimal = number.parse().ok()?;
            let implied = digits_mean.then_some(decimal.exponent);
            (Magnitude::Number(decimal), implied)
        }
    };
    let annunciators: Option<Annunciators> = words.map(Annunciator::from_word).collect();
    Some(Measured {
        quantity,
        magnitude,
        resolution: told.unwrap_or(implied),
        annunciators: annunciators?,
    })
}
