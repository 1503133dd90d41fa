//! The layout of a display sent place by place: digit cells, a point, flags and codes at
//! fixed positions of a frame.
//!
//! Checked once by `build`; reading and writing cannot fail on the description afterwards.

mod build;
mod write;

pub(crate) use build::{Ground, build};

use crate::protocol::decoder::Garble;
use crate::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};

/// More digits than this do not fit the number they make.
const MOST_CELLS: usize = 16;

/// The bytes allowed at one position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ByteSet([u64; 4]);

impl ByteSet {
    const ALL: Self = Self([u64::MAX; 4]);

    fn of(allowed: impl Fn(u8) -> bool) -> Self {
        let mut words = [0; 4];
        for byte in (0..=u8::MAX).filter(|byte| allowed(*byte)) {
            if let Some(word) = words.get_mut(usize::from(byte >> 6)) {
                *word |= 1_u64 << (byte & 63);
            }
        }
        Self(words)
    }

    fn and(self, other: Self) -> Self {
        let mut words = self.0;
        for (mine, theirs) in words.iter_mut().zip(other.0) {
            *mine &= theirs;
        }
        Self(words)
    }

    fn has(&self, byte: u8) -> bool {
        self.0
            .get(usize::from(byte >> 6))
            .is_some_and(|word| word >> (byte & 63) & 1 == 1)
    }

    fn first(&self) -> Option<u8> {
        (0..=u8::MAX).find(|byte| self.has(*byte))
    }
}

/// One bit of a frame; the position counts from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Bit {
    at: usize,
    mask: u8,
}

/// A fact that a frame states or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Term {
    Flag(Bit),
    Code { at: usize, value: Vec<u8> },
}

impl Term {
    fn holds(&self, frame: &[u8]) -> bool {
        match self {
            Self::Flag(bit) => frame.get(bit.at).is_some_and(|byte| byte & bit.mask != 0),
            Self::Code { at, value } => {
                frame.get(*at..at.saturating_add(value.len())) == Some(value.as_slice())
            }
        }
    }

    fn write(&self, frame: &mut [u8]) {
        match self {
            Self::Flag(bit) => {
                if let Some(byte) = frame.get_mut(bit.at) {
                    *byte |= bit.mask;
                }
            }
            Self::Code { at, value } => {
                for (place, byte) in frame.iter_mut().skip(*at).zip(value) {
                    *place = *byte;
                }
            }
        }
    }
}

/// The shown digits, each from some low bits of some bytes.
#[derive(Debug, Clone)]
pub(crate) struct Digits {
    cells: Vec<Vec<usize>>,
    widths: Vec<u32>,
    /// What each code shows, an ASCII character.
    shows: Vec<Option<u8>>,
}

/// Where the decimal point is told.
#[derive(Debug, Clone)]
pub(crate) enum Point {
    /// Nowhere: the range says it.
    None,
    /// A bit after each digit.
    After(Vec<Bit>),
    /// A byte, and the digits after the point for each of its values.
    Told { at: usize, decimals: Vec<(u8, u8)> },
}

/// What a function shows and by which power of ten.
#[derive(Debug, Clone)]
pub(crate) struct Function {
    when: Vec<Term>,
    quantity: Quantity,
    scale: Scale,
}

#[derive(Debug, Clone)]
pub(crate) enum Scale {
    /// The document does not tell: the function is named, its numbers are not read.
    Unknown,
    Fixed(i8),
    /// Each range code with the power of ten of the last digit.
    Ranges(Vec<(Term, i8)>),
}

impl Scale {
    /// The power of ten of this frame's range, within which it may be unknown; `None` if the
    /// frame is of no range of this scale.
    fn base(&self, frame: &[u8]) -> Option<Option<i8>> {
        match self {
            Self::Unknown => Some(None),
            Self::Fixed(power) => Some(Some(*power)),
            Self::Ranges(ranges) => ranges
                .iter()
                .find_map(|(term, power)| term.holds(frame).then_some(Some(*power))),
        }
    }

    /// Whether one frame could be of both scales.
    fn overlaps(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Ranges(mine), Self::Ranges(theirs)) => mine
                .iter()
                .any(|(term, _)| theirs.iter().any(|(their, _)| their == term)),
            _ => true,
        }
    }
}

/// How a display says that there is no number.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sentinel {
    when: Vec<Term>,
    shown_has: Vec<u8>,
    shown_is: Vec<Vec<u8>>,
    shown_as: Option<Vec<u8>>,
}

impl Sentinel {
    fn matches(&self, frame: &[u8], shown: &[u8]) -> bool {
        self.when.iter().any(|term| term.holds(frame))
            || shown.iter().any(|byte| self.shown_has.contains(byte))
            || self.shown_is.iter().any(|text| text == shown)
    }

    fn exists(&self) -> bool {
        !self.when.is_empty() || !self.shown_has.is_empty() || !self.shown_is.is_empty()
    }
}

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
        let mut buffer = [0; MOST_CELLS];
        let shown = self.shown(frame, &mut buffer)?;
        let (quantity, resolution) = self.function(frame)?;
        let mut annunciators = Annunciators::NONE;
        for (mark, term) in &self.marks {
            if term.holds(frame) {
                annunciators = annunciators.with(*mark);
            }
        }
        let negative = annunciators.has(Annunciator::Minus);
        let unsigned = annunciators.without(Annunciator::Minus);
        let blank = Measured {
            quantity,
            magnitude: Magnitude::Blank,
            resolution: None,
            annunciators: unsigned,
        };
        let Some(resolution) = resolution else {
            return Ok(blank);
        };
        if self.blank.matches(frame, shown) || shown.iter().all(|byte| *byte == b' ') {
            return Ok(blank);
        }
        if self.over.matches(frame, shown) {
            return Ok(Measured {
                quantity,
                magnitude: Magnitude::Over {
                    beyond: self.beyond(resolution),
                },
                resolution: Some(resolution),
                annunciators,
            });
        }
        let digits = number(shown).ok_or(Garble::NotANumber)?;
        Ok(Measured {
            quantity,
            magnitude: Magnitude::Number(Decimal {
                digits: if negative { -digits } else { digits },
                exponent: resolution,
            }),
            resolution: Some(resolution),
            annunciators: unsigned,
        })
    }

    /// The full scale of the range whose last digit weighs `resolution`, if it is known.
    fn beyond(&self, resolution: i8) -> Option<Decimal> {
        self.counts.map(|counts| Decimal {
            digits: i64::from(counts),
            exponent: resolution,
        })
    }

    fn shown<'b>(
        &self,
        frame: &[u8],
        buffer: &'b mut [u8; MOST_CELLS],
    ) -> Result<&'b [u8], Garble> {
        for (index, (cell, place)) in
            self.digits.cells.iter().zip(buffer.iter_mut()).enumerate()
        {
            let code =
                cell.iter()
                    .zip(&self.digits.widths)
                    .fold(0, |code: usize, (at, width)| {
                        let byte = frame.get(*at).copied().unwrap_or_default();
                        code << width | usize::from(byte & low_bits(*width))
                    });
            *place = self
                .digits
                .shows
                .get(code)
                .copied()
                .flatten()
                .ok_or(Garble::UnknownDigit(index + 1))?;
        }
        Ok(buffer.get(..self.digits.cells.len()).unwrap_or_default())
    }

    /// The quantity, and the weight of the last digit as a power of ten if that is known.
    fn function(&self, frame: &[u8]) -> Result<(Quantity, Option<i8>), Garble> {
        let scaled = |function: &Function| {
            let named = function.when.iter().all(|term| term.holds(frame));
            named.then(|| function.scale.base(frame)).flatten()
        };
        let (quantity, base) = self
            .functions
            .iter()
            .find_map(|function| Some((function.quantity, scaled(function)?)))
            .ok_or(Garble::UnknownFunction)?;
        let Some(base) = base else {
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
            Point::None => Ok(0),
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
        let count = self.digits.cells.len().saturating_sub(index + 1);
        u8::try_from(count).unwrap_or(u8::MAX)
    }
}

/// A mask of the low bits of a byte.
fn low_bits(width: u32) -> u8 {
    u8::MAX >> 8_u32.saturating_sub(width).min(7)
}

/// The whole number shown: digits, with blanks only before them.
fn number(shown: &[u8]) -> Option<i64> {
    let start = shown.iter().position(|byte| *byte != b' ')?;
    shown.get(start..)?.iter().try_fold(0, |sum: i64, byte| {
        byte.is_ascii_digit()
            .then(|| sum * 10 + i64::from(byte - b'0'))
    })
}
