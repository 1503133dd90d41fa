//! The display written: the same tables read backwards.
//!
//! Each way of showing a value is a candidate; the caller keeps the first that reads back
//! equal, so an ambiguous table can cost a value but never change one.

use super::{Cells, Point, Scale, Term};
use crate::protocol::shape::{Shape, Shown};
use crate::reading::{Annunciator, Annunciators, Magnitude, Measured, Quantity};

/// One way of showing a quantity: what to light, and the weight of the last digit.
struct Way<'c> {
    quantity: Quantity,
    lights: Vec<&'c Term>,
    point: Option<Term>,
    decimals: u8,
    /// `None` where numbers cannot be read at all.
    resolution: Option<i8>,
}

impl Cells {
    /// The frames that may show a value, the fullest use of the digits first, as a display
    /// prefers 1.000 of the larger unit to 1000 of the smaller.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        let mut ways: Vec<Way<'_>> = self
            .ways()
            .into_iter()
            .filter(|way| way.quantity == measured.quantity)
            .filter(|way| {
                measured.resolution.is_none() || measured.resolution == way.resolution
            })
            .collect();
        ways.sort_by_key(|way| std::cmp::Reverse(way.decimals));
        ways.iter()
            .filter_map(|way| self.frame(way, measured))
            .collect()
    }

    /// Every value the display can show.
    pub(crate) fn shapes(&self) -> Vec<Shape> {
        let mut marks: Annunciators = self.marks.iter().map(|(mark, _)| *mark).collect();
        let negative = marks.has(Annunciator::Minus);
        marks = marks.without(Annunciator::Minus);
        let cells = u32::try_from(self.digits.cells.len()).unwrap_or(0);
        let most = 10_i64.saturating_pow(cells) - 1;
        let mut shapes: Vec<Shape> = Vec::new();
        let mut add = |shape: Shape| {
            if !shapes.contains(&shape) {
                shapes.push(shape);
            }
        };
        for way in self.ways() {
            let quantity = way.quantity;
            if let Some(exponent) = way.resolution {
                let shown = Shown::Number {
                    exponent,
                    most,
                    negative,
                    resolution: Some(exponent),
                };
                add(Shape {
                    quantity,
                    shown,
                    marks,
                });
            }
            if let Some(exponent) = way.resolution.filter(|_| self.over.exists()) {
                let shown = Shown::Over {
                    beyond: self.beyond(exponent),
                    resolution: Some(exponent),
                };
                add(Shape {
                    quantity,
                    shown,
                    marks: if negative {
                        marks.with(Annunciator::Minus)
                    } else {
                        marks
                    },
                });
            }
            if way.resolution.is_none() || self.blank_text().is_some() {
                add(Shape {
                    quantity,
                    shown: Shown::Blank,
                    marks,
                });
            }
        }
        shapes
    }

    fn ways(&self) -> Vec<Way<'_>> {
        let mut ways = Vec::new();
        for function in &self.functions {
            let scales: Vec<(Option<&Term>, Option<i8>)> = match &function.scale {
                Scale::Unknown => vec![(None, None)],
                Scale::Fixed(power) => vec![(None, Some(*power))],
                Scale::Ranges(ranges) => ranges
                    .iter()
                    .map(|(term, power)| (Some(term), Some(*power)))
                    .collect(),
            };
            let prefixes = std::iter::once((None, 0))
                .chain(self.powers.iter().map(|(term, power)| (Some(term), *power)));
            for (prefix, shift) in prefixes {
                for (range, base) in &scales {
                    let lights: Vec<&Term> =
                        function.when.iter().chain(prefix).chain(*range).collect();
                    let power = base.map(|base| base.saturating_add(shift));
                    for (point, decimals) in self.points() {
                        ways.push(Way {
                            quantity: function.quantity,
                            lights: lights.clone(),
                            point,
                            decimals,
                            resolution: power
                                .map(|power| power.saturating_sub_unsigned(decimals)),
                        });
                    }
                }
            }
        }
        ways
    }

    fn points(&self) -> Vec<(Option<Term>, u8)> {
        match &self.point {
            Point::None => vec![(None, 0)],
            Point::After(bits) => std::iter::once((None, 0))
                .chain(
                    bits.iter()
                        .enumerate()
                        .map(|(index, bit)| (Some(Term::Flag(*bit)), self.after(index))),
                )
                .collect(),
            Point::Told { at, decimals } => decimals
                .iter()
                .map(|(told, decimals)| {
                    let value = vec![*told];
                    (Some(Term::Code { at: *at, value }), *decimals)
                })
                .collect(),
        }
    }

    /// What to show for a value that is not there; spaces, if the cells can show them.
    fn blank_text(&self) -> Option<Vec<u8>> {
        let spaces = vec![b' '; self.digits.cells.len()];
        self.blank.shown_as.clone().or_else(|| {
            if !self.blank.when.is_empty() {
                Some(self.zeros())
            } else if self.digits.shows.contains(&Some(b' ')) {
                Some(spaces)
            } else {
                None
            }
        })
    }

    fn zeros(&self) -> Vec<u8> {
        vec![b'0'; self.digits.cells.len()]
    }

    fn frame(&self, way: &Way<'_>, measured: &Measured) -> Option<Vec<u8>> {
        let mut frame: Vec<u8> = self
            .allowed
            .iter()
            .map(|set| set.first().unwrap_or_default())
            .collect();
        let mut marks = measured.annunciators;
        let (shown, signal) = match measured.magnitude {
            Magnitude::Number(decimal) => {
                if decimal.digits < 0 {
                    marks = marks.with(Annunciator::Minus);
                }
                let width = self.digits.cells.len();
                (
                    format!("{:0width$}", decimal.digits.unsigned_abs()).into_bytes(),
                    None,
                )
            }
            Magnitude::Over { .. } => (
                self.over.shown_as.clone().unwrap_or_else(|| self.zeros()),
                self.over.when.first(),
            ),
            Magnitude::Blank if way.resolution.is_none() => (self.zeros(), None),
            Magnitude::Blank => (self.blank_text()?, self.blank.when.first()),
        };
        self.show(&mut frame, &shown)?;
        let lit = self.lit.iter().map(|bit| Term::Flag(*bit));
        for term in lit.chain(way.point.clone()) {
            term.write(&mut frame);
        }
        for term in way.lights.iter().copied().chain(signal) {
            term.write(&mut frame);
        }
        for (mark, term) in &self.marks {
            if marks.has(*mark) {
                term.write(&mut frame);
            }
        }
        Some(frame)
    }

    fn show(&self, frame: &mut [u8], shown: &[u8]) -> Option<()> {
        if shown.len() != self.digits.cells.len() {
            return None;
        }
        for (cell, character) in self.digits.cells.iter().zip(shown) {
            let code = self
                .digits
                .shows
                .iter()
                .position(|shows| *shows == Some(*character))?;
            let mut rest = code;
            for (at, width) in cell.iter().zip(&self.digits.widths).rev() {
                let mask = super::low_bits(*width);
                let part = u8::try_from(rest & usize::from(mask)).ok()?;
                let byte = frame.get_mut(*at)?;
                *byte = *byte & !mask | part;
                rest >>= width;
            }
        }
        Some(())
    }
}
