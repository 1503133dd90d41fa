//! The layout of a display sent place by place: digit cells, a point, flags and codes at
//! fixed positions of a frame.
//!
//! Checked once by `build`; reading and writing cannot fail on the description afterwards.

mod build;
mod digits;
mod names;
mod parts;
mod write;

pub(crate) use build::build;
pub(crate) use names::{Ground, in_file_order};

use digits::{Digits, MOST_CELLS};
use parts::{Bit, ByteSet, Function, Point, Sentinel, Term};

use crate::protocol::decoder::Garble;
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// A display sent place by place.
#[derive(Debug, Clone)]
pub(crate) struct Cells {
    allowed: Vec<ByteSet>,
    digits: Digits,
    point: Point,
    groups: Vec<Vec<Term>>,
    powers: Vec<(Term, i8)>,
    marks: Vec<(Annunciator, Term)>,
    lit: Vec<Bit>,
    over: Sentinel,
    blank: Sentinel,
    functions: Vec<Function>,
    counts: Option<u32>,
}

impl Cells {
    /// Bytes in a frame.
    pub(crate) const fn length(&self) -> usize {
        self.allowed.len()
    }

    /// Whether a byte may stand at a position.
    pub(crate) fn allows(&self, position: usize, byte: u8) -> bool {
        self.allowed.get(position).is_some_and(|set| set.has(byte))
    }

    /// Reads one whole frame.
    pub(crate) fn read(&self, frame: &[u8]) -> Result<Measured, Garble> {
        self.check(frame)?;
        let mut buffer = [0; MOST_CELLS];
        let shown = self.digits.shown(frame, &mut buffer)?;
        let (quantity, resolution) = self.function(frame)?;
        let mut annunciators = Annunciators::NONE;
        for (mark, term) in &self.marks {
            if term.holds(frame) {
                annunciators = annunciators.with(*mark);
            }
        }
        let blank = Measured {
            quantity,
            magnitude: Magnitude::Blank,
            resolution: None,
            annunciators: annunciators.without(Annunciator::Minus),
        };
        let Some(resolution) = resolution else {
            return Ok(blank);
        };
        if self.blank.matches(frame, shown) || shown.iter().all(|byte| *byte == b' ') {
            return Ok(blank);
        }
        if self.over.matches(frame, shown) {
            // Where the point is part of the text, a text of letters has none.
            let told = !matches!(self.point, Point::Shown);
            return Ok(Measured {
                magnitude: Magnitude::Over {
                    beyond: told.then(|| self.beyond(resolution)).flatten(),
                },
                resolution: told.then_some(resolution),
                annunciators,
                ..blank
            });
        }
        let mut decimal = self.number(shown, resolution).ok_or(Garble::NotANumber)?;
        if annunciators.has(Annunciator::Minus) {
            decimal = decimal.negated();
        }
        Ok(Measured {
            magnitude: Magnitude::Number(decimal),
            resolution: Some(decimal.exponent),
            ..blank
        })
    }

    /// Whether a frame is one of this layout at all.
    fn check(&self, frame: &[u8]) -> Result<(), Garble> {
        if frame.len() != self.allowed.len() {
            return Err(Garble::Length {
                found: frame.len(),
                wanted: self.allowed.len(),
            });
        }
        let stray = frame
            .iter()
            .zip(&self.allowed)
            .position(|(byte, set)| !set.has(*byte));
        if let Some(position) = stray {
            return Err(Garble::ForbiddenByte(position + 1));
        }
        let contradicts =
            |group: &Vec<Term>| group.iter().filter(|term| term.holds(frame)).count() > 1;
        if self.groups.iter().any(contradicts) {
            return Err(Garble::Contradiction);
        }
        Ok(())
    }

    /// The number shown, its last digit weighing `resolution` unless it has its own point.
    fn number(&self, shown: &[u8], resolution: i8) -> Option<Decimal> {
        if matches!(self.point, Point::Shown) {
            digits::pointed(shown)?.scaled(resolution)
        } else {
            let digits = digits::whole(shown)?;
            Some(Decimal {
                digits,
                exponent: resolution,
            })
        }
    }

    /// The full scale of the range whose last digit weighs `resolution`, if it is known.
    fn beyond(&self, resolution: i8) -> Option<Decimal> {
        self.counts.map(|counts| Decimal {
            digits: i64::from(counts),
            exponent: resolution,
        })
    }

    /// The quantity, and the weight of the last digit as a power of ten if that is known.
    fn function(&self, frame: &[u8]) -> Result<(Quantity, Option<i8>), Garble> {
        let function = self
            .functions
            .iter()
            .find(|function| {
                function.when.iter().all(|term| term.holds(frame)) && function.scale.fits(frame)
            })
            .ok_or(Garble::UnknownFunction)?;
        let quantity = function.quantity;
        let Some(base) = function.scale.power(frame) else {
            return Ok((quantity, None));
        };
        let prefixes = self
            .powers
            .iter()
            .filter(|(term, _)| term.holds(frame))
            .map(|(_, power)| *power);
        let power = prefixes.fold(base, i8::saturating_add);
        let resolution = power.saturating_sub_unsigned(self.decimals(frame)?);
        Ok((quantity, Some(resolution)))
    }

    /// The digits after the point.
    fn decimals(&self, frame: &[u8]) -> Result<u8, Garble> {
        match &self.point {
            Point::None | Point::Shown => Ok(0),
            Point::Told { at, decimals } => frame
                .get(*at)
                .and_then(|byte| decimals.iter().find(|(told, _)| told == byte))
                .map(|(_, decimals)| *decimals)
                .ok_or(Garble::UnknownPoint),
            Point::After(bits) => {
                let mut lit = bits
                    .iter()
                    .enumerate()
                    .filter(|(_, bit)| Term::Flag(**bit).holds(frame))
                    .map(|(index, _)| self.after(index));
                let decimals = lit.next().unwrap_or(0);
                match lit.next() {
                    None => Ok(decimals),
                    Some(_) => Err(Garble::TwoPoints),
                }
            }
        }
    }

    /// The digits that follow the point after the digit `index` (from 0).
    fn after(&self, index: usize) -> u8 {
        let count = self.digits.count().saturating_sub(index + 1);
        u8::try_from(count).unwrap_or(u8::MAX)
    }
}
