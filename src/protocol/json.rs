//! The layout of JSON lines: one object in a line (RFC 8259), with the value, its unit and
//! its marks at stated paths.
//!
//! Value and unit are put together as one line of a number layout and read by the same words. A number is taken as it is written, digit for digit; but whoever writes JSON drops
//! closing zeros, so its last digit says nothing of the meter's resolution. A text keeps its
//! digits, and so has a resolution.

mod tree;

use std::collections::BTreeMap;

use serde_json::value::RawValue;
use toml::Spanned;

use crate::protocol::decoder::{Garble, Item};
use crate::protocol::document::JsonText;
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::flags::Flags;
use crate::protocol::number_line::{self, NumberLine, Part, text_of};
use crate::protocol::shape::{Shape, Shown};
use crate::reading::{Annunciators, Magnitude, Measured};
use tree::Tree;

/// Where the parts of a reading stand in an object.
#[derive(Debug, Clone)]
pub(crate) struct Json {
    value: Path,
    unit: Option<Path>,
    status: Option<Path>,
    flags: Flags<Path>,
    words: NumberLine,
}

/// The names on the way from the line's object to a value, the outermost first.
type Path = Vec<String>;

/// Judges the description.
pub(crate) fn build(text: &JsonText) -> Result<Json, Fault> {
    let flags = Flags::new(&text.marks, text.over.as_ref(), path)?;
    let words = text.words.get_ref();
    Ok(Json {
        value: path(&text.value)?,
        unit: text.unit.as_ref().map(path).transpose()?,
        status: text.status.as_ref().map(path).transpose()?,
        words: number_line::build(words, &text.words.span(), flags.tells_over())?,
        flags,
    })
}

fn path(text: &Spanned<String>) -> Result<Path, Fault> {
    let path: Path = text.get_ref().split('.').map(str::to_owned).collect();
    if path.iter().any(String::is_empty) {
        let refusal = Refusal::NotAPath(text.get_ref().clone());
        return Err(Fault::at(&text.span(), refusal));
    }
    Ok(path)
}

impl Json {
    /// Reads one line.
    pub(crate) fn read(&self, line: &[u8], items: &mut Vec<Item>) -> Result<(), Garble> {
        let text = text_of(line).ok_or(Garble::NotText)?;
        let (flagged, over) = self.flags.read(|path| switch(at(&text, path)?))?;
        let after = |path: &Option<Path>| match path {
            Some(path) => word(at(&text, path)?),
            None => Ok(String::new()),
        };
        // A status is read by itself: where the unit is left out, no word may stand in for it.
        let status = self.words.marks(&after(&self.status)?)?;
        let rest = format!(" {}", after(&self.unit)?);
        let raw = at(&text, &self.value)?;
        let mut measured = match raw {
            _ if over => {
                let over = Magnitude::Over { beyond: None };
                self.words.valueless(over, &rest)?
            }
            None => return Err(Garble::NoValue),
            Some("null") => self.words.valueless(Magnitude::Blank, &rest)?,
            Some(raw) if raw.starts_with('"') => {
                let value = word(Some(raw))?;
                if value.trim().is_empty() {
                    self.words.valueless(Magnitude::Blank, &rest)?
                } else {
                    self.words.line(format!("{value}{rest}").trim())?
                }
            }
            Some(raw) if raw.starts_with(|c: char| c == '-' || c.is_ascii_digit()) => {
                let line = self.words.number(raw, &rest)?;
                Measured {
                    resolution: None,
                    ..line
                }
            }
            Some(_) => return Err(Garble::NotANumber),
        };
        let marks = measured.annunciators.iter().chain(status.iter());
        measured.annunciators = marks.chain(flagged.iter()).collect();
        items.push(Item::Reading(measured));
        Ok(())
    }

    /// Whether an object that reads well has more of the file's names than the value's; if
    /// the file has no more, that one is enough.
    pub(crate) fn is_named(&self, line: &[u8]) -> bool {
        let text = text_of(line).unwrap_or_default();
        let words = self.unit.iter().chain(&self.status);
        let mut others = words.chain(self.flags.places()).peekable();
        others.peek().is_none()
            || others.any(|path| at(&text, path).is_ok_and(|value| value.is_some()))
    }

    /// The lines that may show a value.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let marks = measured.annunciators;
        let bare = measured.resolution.is_none();
        let parts = self.words.parts(measured);
        parts
            .into_iter()
            .flat_map(|part| {
                let number = self.written(&part, measured.magnitude, marks, true);
                let text = self.written(&part, measured.magnitude, marks, false);
                let number = number.filter(|_| bare);
                number.into_iter().chain(text)
            })
            .collect()
    }

    /// The line that shows the value as a number or as a text, if it can.
    fn written(
        &self,
        part: &Part,
        magnitude: Magnitude,
        marks: Annunciators,
        as_number: bool,
    ) -> Option<Vec<u8>> {
        let over = part.value.is_empty() && matches!(magnitude, Magnitude::Over { .. });
        let mut value = part.value.clone();
        let (mut unit, mut status) = (String::new(), String::new());
        append(
            if self.unit.is_some() {
                &mut unit
            } else {
                &mut value
            },
            &part.unit,
        );
        for word in self.words.mark_words(self.flags.others(marks)) {
            let place = match (&self.status, &self.unit) {
                (Some(_), _) => &mut status,
                (None, Some(_)) => &mut unit,
                (None, None) => &mut value,
            };
            append(place, word);
        }
        let mut tree = Tree::default();
        let shown = if value.is_empty() {
            "null".to_owned()
        } else if as_number {
            // Whatever is no number in JSON is left to the other way.
            let _number: serde_json::Number = serde_json::from_str(&value).ok()?;
            value
        } else {
            tree::quoted(&value)
        };
        tree.put(&self.value, shown)?;
        for (path, text) in [(&self.unit, unit), (&self.status, status)] {
            if let Some(path) = path {
                tree.put(path, tree::quoted(&text))?;
            }
        }
        for (path, lit) in self.flags.written(marks, over) {
            tree.put(&path, lit.to_string())?;
        }
        Some(tree.to_string().into_bytes())
    }

    /// Every value a line can show.
    pub(crate) fn shapes(&self) -> Vec<Shape> {
        let texts = self.words.shapes(self.flags.marks(), true);
        let beside = self.unit.is_some();
        let words_fit = beside || self.status.is_some();
        let bare = texts.iter().filter_map(|shape| match shape.shown {
            Shown::Number {
                exponent,
                most,
                negative,
                ..
            } if beside || self.words.is_if_missing(shape.quantity) => Some(Shape {
                quantity: shape.quantity,
                shown: Shown::Number {
                    exponent,
                    most,
                    negative,
                    resolution: None,
                },
                marks: if words_fit {
                    shape.marks
                } else {
                    self.flags.marks()
                },
            }),
            _ => None,
        });
        let bare: Vec<Shape> = bare.collect();
        texts.into_iter().chain(bare).collect()
    }
}

fn append(place: &mut String, word: &str) {
    if !place.is_empty() && !word.is_empty() {
        place.push(' ');
    }
    place.push_str(word);
}

/// The text of the value at a path, as it is written; `None` if the path leads nowhere.
fn at<'t>(text: &'t str, path: &[String]) -> Result<Option<&'t str>, Garble> {
    let mut here = text;
    for name in path {
        let object: BTreeMap<String, &RawValue> =
            serde_json::from_str(here).map_err(|_not| Garble::NotAnObject)?;
        match object.get(name) {
            Some(value) => here = value.get(),
            None => return Ok(None),
        }
    }
    Ok(Some(here))
}

/// What a value says as an on or off; nothing is off.
fn switch(raw: Option<&str>) -> Result<bool, Garble> {
    match raw {
        Some("true" | "1") => Ok(true),
        None | Some("false" | "0" | "null") => Ok(false),
        Some(_) => Err(Garble::UnknownWord),
    }
}

/// The text of a value that is one; nothing is an empty one.
fn word(raw: Option<&str>) -> Result<String, Garble> {
    match raw {
        None | Some("null") => Ok(String::new()),
        Some(raw) => {
            let text: String = serde_json::from_str(raw).map_err(|_not| Garble::UnknownWord)?;
            if text.contains(char::is_control) {
                return Err(Garble::NotText);
            }
            Ok(text)
        }
    }
}
