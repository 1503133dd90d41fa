//! The lines written: the first word of each meaning is the one that is sent.

use super::NumberLine;
use crate::protocol::shape::{Shape, Shown};
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// One way to write a value.
#[derive(Debug)]
pub(crate) struct Part {
    /// The label, if there is one, and the number or word; empty where only a place of its
    /// own can tell that there is no number.
    pub(crate) value: String,
    /// The unit with its prefix, or nothing.
    pub(crate) unit: String,
}

impl NumberLine {
    /// The lines that may show a value.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let parts = self.parts(measured).into_iter();
        parts
            .filter(|part| !part.value.is_empty())
            .map(|part| {
                let marks = self.mark_words(measured.annunciators);
                let words = [part.value.as_str(), part.unit.as_str()];
                let words: Vec<&str> = words
                    .into_iter()
                    .chain(marks)
                    .filter(|word| !word.is_empty())
                    .collect();
                words.join(" ").into_bytes()
            })
            .collect()
    }

    /// The ways to write a value, without its marks.
    pub(crate) fn parts(&self, measured: &Measured) -> Vec<Part> {
        let mut parts = Vec::new();
        for (label, unit) in self.names(measured.quantity) {
            for (value, prefix) in self.values(measured, unit.is_some()) {
                let value = match label {
                    Some(label) if !value.is_empty() => format!("{label} {value}"),
                    _ => value,
                };
                let unit = format!("{prefix}{}", unit.unwrap_or_default());
                parts.push(Part { value, unit });
            }
        }
        parts
    }

    /// The words of marks, of those that have one.
    pub(crate) fn mark_words(&self, marks: Annunciators) -> impl Iterator<Item = &str> {
        marks.iter().filter_map(|mark| {
            let word = self.marks.iter().find(|(_, known)| *known == mark);
            word.map(|(word, _)| word.as_str())
        })
    }

    /// Ways to name a quantity: by unit, by label, by neither.
    fn names(&self, quantity: Quantity) -> Vec<(Option<&str>, Option<&str>)> {
        let by_unit = self.units.iter().filter(|(_, known)| *known == quantity);
        let same_unit = self
            .units
            .iter()
            .find(|(_, known)| known.unit() == quantity.unit());
        let by_label = self.labels.iter().filter(|(_, known)| *known == quantity);
        let unit = same_unit.map(|(word, _)| word.as_str());
        by_unit
            .map(|(word, _)| (None, Some(word.as_str())))
            .take(1)
            .chain(
                by_label
                    .map(|(word, _)| (Some(word.as_str()), unit))
                    .take(1),
            )
            .chain((quantity == self.unit_if_missing).then_some((None, None)))
            .collect()
    }

    /// Ways to write a value: the text, and the prefix of the unit.
    fn values(&self, measured: &Measured, with_unit: bool) -> Vec<(String, &str)> {
        // The empty text is for layouts that tell it elsewhere.
        let words = |words: &[String], sign: &str| {
            let word = words.first().map(|word| format!("{sign}{word}"));
            let words = word.into_iter().chain([String::new()]);
            words.map(|word| (word, "")).collect()
        };
        match measured.magnitude {
            Magnitude::Number(decimal) => self.numbers(decimal, with_unit),
            Magnitude::Over {
                beyond: Some(beyond),
            } => {
                let mut numbers = self.numbers(beyond, with_unit);
                for (text, _) in &mut numbers {
                    text.insert(0, '>');
                }
                numbers
            }
            Magnitude::Over { beyond: None } => {
                let minus = measured.annunciators.has(Annunciator::Minus);
                words(&self.over_words, if minus { "-" } else { "" })
            }
            Magnitude::Blank => words(&self.blank_words, ""),
        }
    }

    /// Plain digits where the last one is a unit or less; a prefix that keeps the digits
    /// shown above that; an exponent where no prefix does.
    fn numbers(&self, decimal: Decimal, with_unit: bool) -> Vec<(String, &str)> {
        let text = |decimal: Decimal| decimal.to_string().replace('.', &self.point.to_string());
        let mut texts = Vec::new();
        let base = if with_unit { 0 } else { self.power_if_missing };
        let Some(decimal) = decimal.scaled(base.saturating_neg()) else {
            return texts;
        };
        if decimal.exponent <= 0 {
            texts.push((text(decimal), ""));
        } else if base == 0 {
            for (prefix, power) in &self.prefixes {
                let inner = decimal.scaled(power.saturating_neg());
                if let Some(inner) = inner.filter(|inner| (-3..=0).contains(&inner.exponent)) {
                    texts.push((text(inner), prefix.as_str()));
                }
            }
        }
        texts.push((format!("{}E{}", decimal.digits, decimal.exponent), ""));
        texts
    }

    /// Every value the line can show, with the marks that are told elsewhere; `blank` where
    /// no number is told elsewhere.
    pub(crate) fn shapes(&self, told: Annunciators, blank: bool) -> Vec<Shape> {
        let words = self.marks.iter().map(|(_, mark)| *mark);
        let marks: Annunciators = words.chain(told.iter()).collect();
        let mut quantities = vec![self.unit_if_missing];
        for (_, quantity) in self.units.iter().chain(&self.labels) {
            if !quantities.contains(quantity) {
                quantities.push(*quantity);
            }
        }
        let mut shapes = Vec::new();
        for quantity in quantities {
            for exponent in -9..=9 {
                let number = Shown::Number {
                    exponent,
                    most: 999_999_999,
                    negative: true,
                    resolution: Some(exponent),
                };
                shapes.push(Shape {
                    quantity,
                    shown: number,
                    marks,
                });
            }
            let over = |beyond| Shown::Over {
                beyond,
                resolution: None,
            };
            let twenty_million = Decimal {
                digits: 20,
                exponent: 6,
            };
            let minus = if self.over_words.is_empty() {
                marks
            } else {
                marks.with(Annunciator::Minus)
            };
            shapes.push(Shape {
                quantity,
                shown: over(None),
                marks: minus,
            });
            shapes.push(Shape {
                quantity,
                shown: over(Some(twenty_million)),
                marks,
            });
            if blank || !self.blank_words.is_empty() {
                shapes.push(Shape {
                    quantity,
                    shown: Shown::Blank,
                    marks,
                });
            }
        }
        shapes
    }
}
