//! The display written: the same tables read backwards.
//!
//! Each way of showing a value is a candidate; the caller keeps the first that reads back
//! equal, so an ambiguous table can cost a value but never change one.

use super::Cells;
use super::digits::pointed_text;
use super::parts::{Point, Scale, Term};
use crate::protocol::shape::{Shape, Shown};
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

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
        let all: Annunciators = self.marks.iter().map(|(mark, _)| *mark).collect();
        let marks = all.without(Annunciator::Minus);
        let mut shapes: Vec<Shape> = Vec::new();
        for way in self.ways() {
            let quantity = way.quantity;
            let mut add = |shown: Option<Shown>, marks| {
                let shape = shown.map(|shown| Shape {
                    quantity,
                    shown,
                    marks,
                });
                shapes.extend(shape.filter(|shape| !shapes.contains(shape)));
            };
            let number = way.resolution.map(|exponent| Shown::Number {
                exponent,
                most: self.most(way.decimals),
                negative: all.has(Annunciator::Minus) || matches!(self.point, Point::Shown),
                resolution: Some(exponent),
            });
            add(number, marks);
            if self.over.exists() {
                add(
                    way.resolution.map(|exponent| self.over_shape(exponent)),
                    all,
                );
            }
            let blank = way.resolution.is_none() || self.blank_text().is_some();
            add(blank.then_some(Shown::Blank), marks);
        }
        shapes
    }

    /// The largest whole number of digits.
    fn most(&self, decimals: u8) -> i64 {
        let taken = match self.point {
            Point::Shown => 1 + usize::from(decimals > 0),
            Point::None | Point::After(_) | Point::Told { .. } => 0,
        };
        let digits = self.digits.count().saturating_sub(taken);
        10_i64.saturating_pow(u32::try_from(digits).unwrap_or(0)) - 1
    }

    fn over_shape(&self, exponent: i8) -> Shown {
        let told = !matches!(self.point, Point::Shown);
        Shown::Over {
            beyond: told.then(|| self.beyond(exponent)).flatten(),
            resolution: told.then_some(exponent),
        }
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
            // Room for the sign, a digit and the point before the decimals.
            Point::Shown => (0_u8..)
                .zip(2..self.digits.count())
                .map(|(decimals, _)| (None, decimals))
                .collect(),
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
        let spaces = vec![b' '; self.digits.count()];
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

    fn number_text(&self, decimal: Decimal, way: &Way<'_>) -> Option<Vec<u8>> {
        let width = self.digits.count();
        if matches!(self.point, Point::Shown) {
            let exponent = 0_i8.checked_sub_unsigned(way.decimals)?;
            let digits = decimal.digits;
            pointed_text(Decimal { digits, exponent }, width)
        } else {
            let digits = decimal.digits.unsigned_abs();
            Some(format!("{digits:0width$}").into_bytes())
        }
    }

    fn zeros(&self) -> Vec<u8> {
        vec![b'0'; self.digits.count()]
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
                (self.number_text(decimal, way)?, None)
            }
            Magnitude::Over { .. } => (
                self.over.shown_as.clone().unwrap_or_else(|| self.zeros()),
                self.over.when.first(),
            ),
            Magnitude::Blank if way.resolution.is_none() => (self.zeros(), None),
            Magnitude::Blank => (self.blank_text()?, self.blank.when.first()),
        };
        self.digits.show(&mut frame, &shown)?;
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
}
