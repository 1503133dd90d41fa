//! The lines written: the first word of each meaning is the one that is sent.

use super::NumberLine;
use crate::protocol::shape::{Shape, Shown};
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

impl NumberLine {
    /// The lines that may show a value.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let mut lines = Vec::new();
        for (label, unit) in self.names(measured.quantity) {
            for value in self.values(measured) {
                let mut line = String::new();
                if let Some(label) = label {
                    line.push_str(label);
                    line.push(' ');
                }
                line.push_str(&value.0);
                let unit = format!("{}{}", value.1, unit.unwrap_or_default());
                if !unit.is_empty() {
                    line.push(' ');
                    line.push_str(&unit);
                }
                for mark in measured.annunciators.iter() {
                    let word = self.marks.iter().find(|(_, known)| *known == mark);
                    if let Some((word, _)) = word {
                        line.push(' ');
                        line.push_str(word);
                    }
                }
                lines.push(line.into_bytes());
            }
        }
        lines
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
    fn values(&self, measured: &Measured) -> Vec<(String, &str)> {
        let first = |words: &[String]| words.first().cloned();
        match measured.magnitude {
            Magnitude::Number(decimal) => self.numbers(decimal),
            Magnitude::Over {
                beyond: Some(beyond),
            } => {
                let mut numbers = self.numbers(beyond);
                for (text, _) in &mut numbers {
                    text.insert(0, '>');
                }
                numbers
            }
            Magnitude::Over { beyond: None } => {
                let minus = measured.annunciators.has(Annunciator::Minus);
                let sign = if minus { "-" } else { "" };
                let word = first(&self.over_words).map(|word| format!("{sign}{word}"));
                word.into_iter().map(|word| (word, "")).collect()
            }
            Magnitude::Blank => first(&self.blank_words)
                .into_iter()
                .map(|word| (word, ""))
                .collect(),
        }
    }

    /// Plain digits where the last one is a unit or less; a prefix that keeps the digits
    /// shown above that; an exponent where no prefix does.
    fn numbers(&self, decimal: Decimal) -> Vec<(String, &str)> {
        let mut texts = Vec::new();
        if decimal.exponent <= 0 {
            texts.push((decimal.to_string(), ""));
        } else {
            for (prefix, power) in &self.prefixes {
                let inner = decimal.scaled(power.saturating_neg());
                if let Some(inner) = inner.filter(|inner| (-3..=0).contains(&inner.exponent)) {
                    texts.push((inner.to_string(), prefix.as_str()));
                }
            }
        }
        texts.push((format!("{}E{}", decimal.digits, decimal.exponent), ""));
        texts
    }

    /// Every value the line can show.
    pub(crate) fn shapes(&self) -> Vec<Shape> {
        let marks: Annunciators = self.marks.iter().map(|(_, mark)| *mark).collect();
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
            let minus = marks.with(Annunciator::Minus);
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
            if !self.blank_words.is_empty() {
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
