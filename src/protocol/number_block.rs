//! The layout of binary numbers one after another: what IEEE 488.2 meters send in a block
//! when set to `FORMat:DATA REAL`.
//!
//! The bytes say nothing of the function, so the file does. A double has no last digit shown
//! on a display: the number is the shortest decimal that reads back as it, and no resolution
//! is taken from it.

use crate::protocol::decoder::{Garble, Item};
use crate::protocol::document::{ElementWord, NumberBlockText, OrderWord};
use crate::protocol::error::Fault;
use crate::protocol::shape::{Shape, Shown};
use crate::protocol::special::Specials;
use crate::protocol::words;
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// No meter reads so near to nothing, and bytes read out of step mostly are there.
const TINY: f64 = 1e-30;

/// Numbers of IEEE 754, all of one width and byte order.
#[derive(Debug, Clone)]
pub(crate) struct NumberBlock {
    quantity: Quantity,
    element: ElementWord,
    order: OrderWord,
    specials: Specials,
}

/// Judges the description.
pub(crate) fn build(text: &NumberBlockText) -> Result<NumberBlock, Fault> {
    Ok(NumberBlock {
        quantity: words::quantity(&text.quantity)?,
        element: text.element,
        order: text.order,
        specials: Specials::new(&text.over_from, text.not_a_number.as_ref())?,
    })
}

/// A number and its shortest decimal, where it has one.
type Float = (f64, Option<Decimal>);

impl NumberBlock {
    /// Reads the counted bytes of a block: all of its numbers, or none if any is bad.
    pub(crate) fn read(&self, data: &[u8], items: &mut Vec<Item>) -> Result<(), Garble> {
        let wanted = self.width();
        if data.is_empty() || !data.len().is_multiple_of(wanted) {
            let found = data.len();
            return Err(Garble::Length { found, wanted });
        }
        let before = items.len();
        for bytes in data.chunks_exact(wanted) {
            let Some(measured) = self.float(bytes).and_then(|float| self.measured(float))
            else {
                items.truncate(before);
                return Err(Garble::NotANumber);
            };
            items.push(Item::Reading(measured));
        }
        Ok(())
    }

    const fn width(&self) -> usize {
        match self.element {
            ElementWord::F64 => 8,
            ElementWord::F32 => 4,
        }
    }

    fn float(&self, bytes: &[u8]) -> Option<Float> {
        let mut ordered = bytes.to_vec();
        if matches!(self.order, OrderWord::LittleEndian) {
            ordered.reverse();
        }
        Some(match self.element {
            ElementWord::F64 => {
                let value = f64::from_be_bytes(ordered.try_into().ok()?);
                (value, Decimal::from_f64(value))
            }
            ElementWord::F32 => {
                // The shortest decimal of the single, not of the double it widens to.
                let value = f32::from_be_bytes(ordered.try_into().ok()?);
                (f64::from(value), format!("{value:e}").parse().ok())
            }
        })
    }

    fn measured(&self, (value, decimal): Float) -> Option<Measured> {
        let (magnitude, annunciators) = match self.specials.meaning(value) {
            Some(special) => special,
            None if value != 0.0 && value.abs() < TINY => return None,
            None => (Magnitude::Number(decimal?), Annunciators::NONE),
        };
        Some(Measured {
            quantity: self.quantity,
            magnitude,
            resolution: None,
            annunciators,
        })
    }

    /// The bytes that may show a value.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let value = match measured.magnitude {
            Magnitude::Number(decimal) => format!("{}e{}", decimal.digits, decimal.exponent),
            Magnitude::Over { .. } => {
                let negative = measured.annunciators.has(Annunciator::Minus);
                self.specials.over(negative).to_string()
            }
            Magnitude::Blank => self.specials.not_a_number().unwrap_or(f64::NAN).to_string(),
        };
        self.bytes(&value).into_iter().collect()
    }

    fn bytes(&self, value: &str) -> Option<Vec<u8>> {
        let mut bytes = match self.element {
            ElementWord::F64 => value.parse::<f64>().ok()?.to_be_bytes().to_vec(),
            ElementWord::F32 => value.parse::<f32>().ok()?.to_be_bytes().to_vec(),
        };
        if matches!(self.order, OrderWord::LittleEndian) {
            bytes.reverse();
        }
        Some(bytes)
    }

    /// Every value a block can show.
    pub(crate) fn shapes(&self) -> Vec<Shape> {
        let shape = |shown, marks| Shape {
            quantity: self.quantity,
            shown,
            marks,
        };
        let none = Annunciators::NONE;
        // The digits that any number of the width keeps (IEEE 754: 15 and 6).
        let most = match self.element {
            ElementWord::F64 => 999_999_999_999_999,
            ElementWord::F32 => 999_999,
        };
        let mut shapes: Vec<Shape> = (-15..=9)
            .map(|exponent| Shown::Number {
                exponent,
                most,
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
        shapes.push(shape(Shown::Blank, none));
        shapes
    }
}
