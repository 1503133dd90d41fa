//! The layout of columns: a line of fields between delimiters, one of which is the value.
//!
//! The value and its unit are put together as one line of a number layout and read by the
//! same words, and so is a column of marks; every other column is passed over. The file states
//! how many columns a line has, so that a line that lost some is not read.

mod build;

pub(crate) use build::build;

use crate::protocol::decoder::{Garble, Item};
use crate::protocol::flags::Flags;
use crate::protocol::number_line::{NumberLine, Part, text_of};
use crate::protocol::shape::Shape;
use crate::reading::{Annunciators, Magnitude, Measured};

/// Which columns hold what; positions count from 0.
#[derive(Debug, Clone)]
pub(crate) struct Columns {
    delimiter: char,
    count: usize,
    /// The line that names the columns, field by field.
    header: Option<Vec<String>>,
    value: usize,
    unit: Option<usize>,
    status: Option<usize>,
    flags: Flags<usize>,
    words: NumberLine,
}

impl Columns {
    /// Reads one line; the line that names the columns says nothing.
    pub(crate) fn read(&self, line: &[u8], items: &mut Vec<Item>) -> Result<(), Garble> {
        let text = text_of(line).ok_or(Garble::NotText)?;
        let fields = self.fields(&text);
        if self.names(&fields) {
            return Ok(());
        }
        if fields.len() != self.count {
            return Err(Garble::Columns {
                found: fields.len(),
                wanted: self.count,
            });
        }
        let get = |at: usize| fields.get(at).copied().unwrap_or_default();
        let (flagged, over) = self.flags.read(|at| switch(get(*at)))?;
        let after = |at: Option<usize>| at.map_or("", get);
        // A status is read by itself: where the unit is left out, no word may stand in for it.
        let status = self.words.marks(after(self.status))?;
        let rest = format!(" {}", after(self.unit));
        let value = get(self.value);
        let mut measured = if over {
            self.words
                .valueless(Magnitude::Over { beyond: None }, &rest)?
        } else if value.is_empty() {
            self.words.valueless(Magnitude::Blank, &rest)?
        } else {
            self.words.line(format!("{value}{rest}").trim())?
        };
        let marks = measured.annunciators.iter().chain(status.iter());
        measured.annunciators = marks.chain(flagged.iter()).collect();
        items.push(Item::Reading(measured));
        Ok(())
    }

    fn fields<'t>(&self, text: &'t str) -> Vec<&'t str> {
        text.split(self.delimiter).map(field).collect()
    }

    fn names(&self, fields: &[&str]) -> bool {
        self.header.as_ref().is_some_and(|header| header == fields)
    }

    /// Whether a line is the one that names the columns.
    pub(crate) fn is_header(&self, line: &[u8]) -> bool {
        text_of(line).is_some_and(|text| self.names(&self.fields(&text)))
    }

    /// Whether a line that reads well tells a unit, where the file has it; the rest of it may
    /// be anybody's columns of numbers.
    pub(crate) fn tells_unit(&self, line: &[u8]) -> bool {
        let text = text_of(line).unwrap_or_default();
        let fields = self.fields(&text);
        let get = |at: usize| fields.get(at).copied().unwrap_or_default();
        if let Some(unit) = self.unit {
            return !get(unit).is_empty();
        }
        let value = get(self.value);
        value.contains(|c: char| c.is_ascii_digit()) && value.ends_with(char::is_alphabetic)
    }

    /// The lines that may show a value.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let marks = measured.annunciators;
        let parts = self.words.parts(measured);
        parts
            .into_iter()
            .map(|part| self.written(&part, measured.magnitude, marks))
            .collect()
    }

    fn written(&self, part: &Part, magnitude: Magnitude, marks: Annunciators) -> Vec<u8> {
        let over = part.value.is_empty() && matches!(magnitude, Magnitude::Over { .. });
        let mut fields = vec![String::new(); self.count];
        let mut put = |at: usize, text: &str| {
            if let Some(place) = fields.get_mut(at) {
                if !place.is_empty() && !text.is_empty() {
                    place.push(' ');
                }
                place.push_str(text);
            }
        };
        put(self.value, &part.value);
        let unit = self.unit.unwrap_or(self.value);
        put(unit, &part.unit);
        for (at, lit) in self.flags.written(marks, over) {
            put(at, if lit { "1" } else { "0" });
        }
        for word in self.words.mark_words(self.flags.others(marks)) {
            put(self.status.unwrap_or(unit), word);
        }
        fields.join(&self.delimiter.to_string()).into_bytes()
    }

    /// Every value a line can show.
    pub(crate) fn shapes(&self) -> Vec<Shape> {
        self.words.shapes(self.flags.marks(), true)
    }
}

/// A field without the spaces and the quotation marks around it.
fn field(text: &str) -> &str {
    let text = text.trim();
    text.strip_prefix('"')
        .and_then(|text| text.strip_suffix('"'))
        .map_or(text, str::trim)
}

/// What a field says as an on or off.
fn switch(text: &str) -> Result<bool, Garble> {
    const ON: [&str; 4] = ["1", "true", "yes", "on"];
    const OFF: [&str; 5] = ["0", "false", "no", "off", ""];
    let is = |word: &&str| word.eq_ignore_ascii_case(text);
    if ON.iter().any(is) {
        Ok(true)
    } else if OFF.iter().any(is) {
        Ok(false)
    } else {
        Err(Garble::UnknownWord)
    }
}
