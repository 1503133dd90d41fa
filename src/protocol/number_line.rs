//! The layout of a user's own board: one number in a line, with an optional label before it
//! and an optional unit and marks after it.
//!
//! ```text
//! line   = [label ("=" | ":" | spaces)] value {spaces mark}
//! value  = number [spaces] [prefix] [unit]  |  ">" number ...  |  a word for over or blank
//! number = [sign] (digits ["." [digits]] | "." digits) [("e" | "E") [sign] digits]
//! ```
//!
//! The layouts of columns and of JSON put such a line together from their parts and read it
//! with the same words.
//!
//! A line with a word that the file does not know is not read: no number is guessed.

mod build;
mod write;

pub(crate) use build::build;
pub(crate) use write::Part;

use crate::protocol::decoder::{Garble, Item};
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// The words of the lines.
#[derive(Debug, Clone)]
pub(crate) struct NumberLine {
    unit_if_missing: Quantity,
    /// The power of ten of a number without a unit.
    power_if_missing: i8,
    /// The mark between whole digits and decimals.
    point: char,
    prefixes: Vec<(String, i8)>,
    units: Vec<(String, Quantity)>,
    labels: Vec<(String, Quantity)>,
    marks: Vec<(String, Annunciator)>,
    ignored: Vec<String>,
    over_words: Vec<String>,
    blank_words: Vec<String>,
}

/// What a unit token says: its quantity, if it names one, and its prefix.
type Unit = (Option<Quantity>, i8);

impl NumberLine {
    /// Reads one line.
    pub(crate) fn read(&self, line: &[u8], items: &mut Vec<Item>) -> Result<(), Garble> {
        let text = text_of(line).ok_or(Garble::NotText)?;
        items.push(Item::Reading(self.line(text.trim())?));
        Ok(())
    }

    /// Reads the text of a line.
    pub(crate) fn line(&self, text: &str) -> Result<Measured, Garble> {
        if let Some(measured) = self.value(text, None)? {
            return Ok(measured);
        }
        let (label, rest) = label(text).ok_or(Garble::NotANumber)?;
        let named = find(&self.labels, label);
        self.value(rest, named)?.ok_or(Garble::NotANumber)
    }

    /// Reads a number in plain form, and the unit and marks that follow it.
    pub(crate) fn number(&self, number: &str, rest: &str) -> Result<Measured, Garble> {
        let decimal: Decimal = number.parse().map_err(|_not| Garble::NotANumber)?;
        self.finish(Magnitude::Number(decimal), rest, None)
    }

    /// Reads the unit and marks of a magnitude without a number.
    pub(crate) fn valueless(
        &self,
        magnitude: Magnitude,
        rest: &str,
    ) -> Result<Measured, Garble> {
        self.finish(magnitude, rest, None)
    }

    /// Whether this is the quantity of a number without a unit.
    pub(crate) fn is_if_missing(&self, quantity: Quantity) -> bool {
        quantity == self.unit_if_missing
    }

    /// Whether numbers have a comma for a point.
    pub(crate) const fn has_decimal_comma(&self) -> bool {
        self.point == ','
    }

    /// The value and what follows it; `None` if the text does not begin with a value.
    fn value(&self, text: &str, named: Option<Quantity>) -> Result<Option<Measured>, Garble> {
        let (first, after) = split_word(text);
        if let Some(negative) = special(first, &self.over_words) {
            let mut measured = self.finish(Magnitude::Over { beyond: None }, after, named)?;
            if negative {
                measured.annunciators = measured.annunciators.with(Annunciator::Minus);
            }
            return Ok(Some(measured));
        }
        if special(first, &self.blank_words).is_some() {
            return self.finish(Magnitude::Blank, after, named).map(Some);
        }
        let (over, number) = match text.strip_prefix('>') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, text),
        };
        let Some((number, rest)) = split_number(number, self.point) else {
            return Ok(None);
        };
        let number = number.replace(self.point, ".");
        let decimal: Decimal = number.parse().map_err(|_not| Garble::NotANumber)?;
        let magnitude = if over {
            let beyond = Some(decimal);
            Magnitude::Over { beyond }
        } else {
            Magnitude::Number(decimal)
        };
        self.finish(magnitude, rest, named).map(Some)
    }

    /// Applies the unit and the marks that follow a value.
    fn finish(
        &self,
        magnitude: Magnitude,
        rest: &str,
        named: Option<Quantity>,
    ) -> Result<Measured, Garble> {
        let (token, after) = split_word(rest.trim_start());
        let (unit, marks) = match self.unit(token) {
            Some(unit) => (unit, after),
            // A mark is a word of its own; what touches the number must be its unit.
            None if rest.is_empty() || rest.starts_with([' ', '\t']) => {
                ((None, self.power_if_missing), rest)
            }
            None => return Err(Garble::UnknownWord),
        };
        let (told, power) = unit;
        let quantity = match (named, told) {
            (Some(named), Some(told)) if named.unit() != told.unit() => {
                return Err(Garble::Contradiction);
            }
            (Some(named), _) => named,
            (None, told) => told.unwrap_or(self.unit_if_missing),
        };
        let scaled = |decimal: Decimal| decimal.scaled(power).ok_or(Garble::NotANumber);
        let (magnitude, resolution) = match magnitude {
            Magnitude::Number(decimal) => {
                let decimal = scaled(decimal)?;
                (Magnitude::Number(decimal), Some(decimal.exponent))
            }
            Magnitude::Over {
                beyond: Some(decimal),
            } => {
                let beyond = Some(scaled(decimal)?);
                (Magnitude::Over { beyond }, None)
            }
            other => (other, None),
        };
        Ok(Measured {
            quantity,
            magnitude,
            resolution,
            annunciators: self.marks(marks)?,
        })
    }

    fn unit(&self, token: &str) -> Option<Unit> {
        if token.is_empty() {
            return None;
        }
        if let Some(quantity) = find(&self.units, token) {
            return Some((Some(quantity), 0));
        }
        self.prefixes.iter().find_map(|(prefix, power)| {
            let unit = token.strip_prefix(prefix.as_str())?;
            if unit.is_empty() {
                return Some((None, *power));
            }
            find(&self.units, unit).map(|quantity| (Some(quantity), *power))
        })
    }

    /// Reads marks, and words that say nothing.
    pub(crate) fn marks(&self, text: &str) -> Result<Annunciators, Garble> {
        let mut marks = Annunciators::NONE;
        for word in text.split_whitespace() {
            if let Some(mark) = find(&self.marks, word) {
                marks = marks.with(mark);
            } else if !self.ignored.iter().any(|ignored| ignored == word) {
                return Err(Garble::UnknownWord);
            }
        }
        Ok(marks)
    }
}

fn find<T: Copy>(table: &[(String, T)], word: &str) -> Option<T> {
    table
        .iter()
        .find_map(|(known, meaning)| (known == word).then_some(*meaning))
}

/// Whether a word is in a list of specials, and if it carries a minus sign of its own.
fn special(word: &str, words: &[String]) -> Option<bool> {
    if words.iter().any(|known| known == word) {
        return Some(false);
    }
    let (negative, bare) = match word.strip_prefix('-') {
        Some(bare) => (true, bare),
        None => (false, word.strip_prefix('+')?),
    };
    words.iter().any(|known| known == bare).then_some(negative)
}

/// The text of a line: UTF-8, or ASCII with the Latin-1 micro sign; no control characters
/// but the tabulator.
pub(crate) fn text_of(line: &[u8]) -> Option<String> {
    let plain = |text: &String| !text.contains(|c: char| c.is_control() && c != '\t');
    let text = std::str::from_utf8(line).map_or_else(
        |_latin| {
            line.iter()
                .map(|byte| match byte {
                    0xB5 => Some('µ'),
                    byte if byte.is_ascii() => Some(char::from(*byte)),
                    _ => None,
                })
                .collect()
        },
        |text| Some(text.to_owned()),
    );
    text.filter(plain)
}

fn split_word(text: &str) -> (&str, &str) {
    text.split_at_checked(text.find([' ', '\t']).unwrap_or(text.len()))
        .unwrap_or((text, ""))
}

/// A label and what stands after its separator.
fn label(text: &str) -> Option<(&str, &str)> {
    let end = text.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))?;
    let (label, rest) = text.split_at_checked(end)?;
    let rest = rest.trim_start();
    let rest = rest.strip_prefix(['=', ':']).unwrap_or(rest);
    label
        .starts_with(|c: char| c.is_ascii_alphabetic())
        .then(|| (label, rest.trim_start()))
}

/// The number at the start of a text and what follows it.
fn split_number(text: &str, point: char) -> Option<(&str, &str)> {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        let run = bytes
            .iter()
            .skip(from)
            .take_while(|byte| byte.is_ascii_digit());
        from + run.count()
    };
    let is = |at: usize, set: &[u8]| bytes.get(at).is_some_and(|byte| set.contains(byte));
    let start = usize::from(is(0, b"+-"));
    let mut end = digits(start);
    let mut seen = end > start;
    if bytes
        .get(end)
        .is_some_and(|byte| char::from(*byte) == point)
    {
        let fraction = digits(end + 1);
        seen |= fraction > end + 1;
        end = fraction;
    }
    if !seen {
        return None;
    }
    if is(end, b"eE") {
        let power = end + 1 + usize::from(is(end + 1, b"+-"));
        let last = digits(power);
        if last > power {
            end = last;
        }
    }
    text.split_at_checked(end)
}
