//! The layout of numbers alone in a line, one or several: the replies of IEEE 488.2 and
//! SCPI-1999 in their text forms, and the looser spellings found in the field.
//!
//! The line says nothing of the function, so the file does. The digits sent are not those of
//! a display: no resolution is taken from them.

use std::fmt::Write as _;

use toml::Spanned;

use crate::protocol::decoder::{Garble, Item};
use crate::protocol::document::NumberListText;
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::shape::{Shape, Shown};
use crate::protocol::special::{Specials, minus_if};
use crate::protocol::words;
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// Numbers separated by one character.
#[derive(Debug, Clone)]
pub(crate) struct NumberList {
    quantity: Quantity,
    separator: char,
    specials: Specials,
    over_words: Vec<String>,
    blank_words: Vec<String>,
}

/// Judges the description.
pub(crate) fn build(text: &NumberListText) -> Result<NumberList, Fault> {
    let separator = *text.separator.get_ref();
    if !separator.is_ascii_punctuation() || "+-.".contains(separator) {
        return Err(Fault::at(
            &text.separator.span(),
            Refusal::Number {
                key: "separator",
                allowed: "a comma or another mark that is no part of a number",
                found: format!("{separator:?}"),
            },
        ));
    }
    let mut known: Vec<String> = Vec::new();
    let mut list = |texts: &[Spanned<String>]| -> Result<Vec<String>, Fault> {
        let start = known.len();
        for text in texts {
            words::room(known.len(), &text.span())?;
            let word = words::word(text)?;
            if known.contains(&word) {
                let what = format!("the word {word:?}");
                return Err(Fault::at(&text.span(), Refusal::ClaimedTwice { what }));
            }
            known.push(word);
        }
        Ok(known.get(start..).unwrap_or_default().to_vec())
    };
    Ok(NumberList {
        quantity: words::quantity(&text.quantity)?,
        separator,
        specials: Specials::new(&text.over_from, text.not_a_number.as_ref())?,
        over_words: list(&text.over_words)?,
        blank_words: list(&text.blank_words)?,
    })
}

impl NumberList {
    /// Reads a line: all of its numbers, or none if any is bad, since a damaged line is
    /// damaged everywhere.
    pub(crate) fn read(&self, line: &[u8], items: &mut Vec<Item>) -> Result<(), Garble> {
        let text = std::str::from_utf8(line).map_err(|_bytes| Garble::NotText)?;
        let before = items.len();
        for part in text.split(self.separator) {
            let Some(measured) = self.one(part.trim()) else {
                items.truncate(before);
                return Err(Garble::NotANumber);
            };
            items.push(Item::Reading(measured));
        }
        Ok(())
    }

    fn one(&self, text: &str) -> Option<Measured> {
        let none = Annunciators::NONE;
        let (magnitude, annunciators) = if self.over_words.iter().any(|word| word == text) {
            (
                Magnitude::Over { beyond: None },
                minus_if(text.starts_with('-')),
            )
        } else if self.blank_words.iter().any(|word| word == text) {
            (Magnitude::Blank, none)
        } else {
            let decimal: Decimal = text.parse().ok()?;
            let number = (Magnitude::Number(decimal), none);
            self.specials.meaning(decimal.to_f64()).unwrap_or(number)
        };
        Some(Measured {
            quantity: self.quantity,
            magnitude,
            resolution: None,
            annunciators,
        })
    }

    /// The line that may show a value, in NR3 form.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let special = |value: f64| Decimal::from_f64(value).map(exponent_form);
        let text = match measured.magnitude {
            Magnitude::Number(decimal) => Some(exponent_form(decimal)),
            Magnitude::Over { .. } if measured.annunciators.has(Annunciator::Minus) => {
                special(self.specials.over(true))
            }
            Magnitude::Over { .. } => special(self.specials.over(false)),
            Magnitude::Blank => self
                .specials
                .not_a_number()
                .and_then(special)
                .or_else(|| self.blank_words.first().cloned()),
        };
        text.into_iter().map(String::into_bytes).collect()
    }

    /// Every value the line can show.
    pub(crate) fn shapes(&self) -> Vec<Shape> {
        let shape = |shown, marks| Shape {
            quantity: self.quantity,
            shown,
            marks,
        };
        let none = Annunciators::NONE;
        let mut shapes: Vec<Shape> = (-15..=9)
            .map(|exponent| Shown::Number {
                exponent,
                most: 999_999_999_999,
                negative: true,
                resolution: None,
            })
            .map(|shown| shape(shown, none))
            .collect();
        let over = Shown::Over {
            beyond: None,
            resolution: None,
        };
        shapes.push(shape(over, none.with(Annunciator::Minus)));
        if self.specials.not_a_number().is_some() || !self.blank_words.is_empty() {
            shapes.push(shape(Shown::Blank, none));
        }
        shapes
    }
}

/// Sign, one digit, point, the rest of the digits, signed exponent: `+1.234E+03`.
fn exponent_form(decimal: Decimal) -> String {
    let digits = decimal.digits.unsigned_abs().to_string();
    let sign = if decimal.digits < 0 { '-' } else { '+' };
    let (first, rest) = digits.split_at(1);
    let point = if rest.is_empty() { "" } else { "." };
    let places = i16::try_from(rest.len()).unwrap_or(0);
    let power = i16::from(decimal.exponent).saturating_add(places);
    let mut text = format!("{sign}{first}{point}{rest}E");
    // Writing to a string cannot fail.
    let _written = write!(text, "{power:+03}");
    text
}
