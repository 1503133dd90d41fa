//! The parts a display is described by: bits, facts, points, functions, sentinels.

use crate::reading::Quantity;

/// The bytes allowed at one position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ByteSet([u64; 4]);

impl ByteSet {
    pub(super) const ALL: Self = Self([u64::MAX; 4]);

    pub(super) fn of(allowed: impl Fn(u8) -> bool) -> Self {
        let mut words = [0; 4];
        for byte in (0..=u8::MAX).filter(|byte| allowed(*byte)) {
            if let Some(word) = words.get_mut(usize::from(byte >> 6)) {
                *word |= 1_u64 << (byte & 63);
            }
        }
        Self(words)
    }

    pub(super) fn and(self, other: Self) -> Self {
        let mut words = self.0;
        for (mine, theirs) in words.iter_mut().zip(other.0) {
            *mine &= theirs;
        }
        Self(words)
    }

    pub(super) fn has(&self, byte: u8) -> bool {
        self.0
            .get(usize::from(byte >> 6))
            .is_some_and(|word| word >> (byte & 63) & 1 == 1)
    }

    pub(super) fn first(&self) -> Option<u8> {
        (0..=u8::MAX).find(|byte| self.has(*byte))
    }
}

/// One bit of a frame; the position counts from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Bit {
    pub(super) at: usize,
    pub(super) mask: u8,
}

/// A fact that a frame states or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Term {
    Flag(Bit),
    Code { at: usize, value: Vec<u8> },
}

impl Term {
    pub(super) fn holds(&self, frame: &[u8]) -> bool {
        match self {
            Self::Flag(bit) => frame.get(bit.at).is_some_and(|byte| byte & bit.mask != 0),
            Self::Code { at, value } => {
                frame.get(*at..at.saturating_add(value.len())) == Some(value.as_slice())
            }
        }
    }

    pub(super) fn write(&self, frame: &mut [u8]) {
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

/// Where the decimal point is told.
#[derive(Debug, Clone)]
pub(super) enum Point {
    /// Nowhere: the range says it.
    None,
    /// In the shown text itself, which then carries its own sign too.
    Shown,
    /// A bit after each digit.
    After(Vec<Bit>),
    /// A byte, and the digits after the point for each of its values.
    Told { at: usize, decimals: Vec<(u8, u8)> },
}

/// What a function shows and by which power of ten.
#[derive(Debug, Clone)]
pub(super) struct Function {
    pub(super) when: Vec<Term>,
    pub(super) quantity: Quantity,
    pub(super) scale: Scale,
}

#[derive(Debug, Clone)]
pub(super) enum Scale {
    /// The document does not tell: the function is named, its numbers are not read.
    Unknown,
    Fixed(i8),
    /// Each range code with the power of ten of the last digit.
    Ranges(Vec<(Term, i8)>),
}

impl Scale {
    /// Whether a frame is of one of the ranges.
    pub(super) fn fits(&self, frame: &[u8]) -> bool {
        match self {
            Self::Unknown | Self::Fixed(_) => true,
            Self::Ranges(ranges) => ranges.iter().any(|(term, _)| term.holds(frame)),
        }
    }

    /// The power of ten of a frame's range, if it is known.
    pub(super) fn power(&self, frame: &[u8]) -> Option<i8> {
        match self {
            Self::Unknown => None,
            Self::Fixed(power) => Some(*power),
            Self::Ranges(ranges) => ranges
                .iter()
                .find_map(|(term, power)| term.holds(frame).then_some(*power)),
        }
    }

    /// Whether one frame could be of both scales.
    pub(super) fn overlaps(&self, other: &Self) -> bool {
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
pub(super) struct Sentinel {
    pub(super) when: Vec<Term>,
    pub(super) shown_has: Vec<u8>,
    pub(super) shown_is: Vec<Vec<u8>>,
    pub(super) shown_as: Option<Vec<u8>>,
}

impl Sentinel {
    pub(super) fn matches(&self, frame: &[u8], shown: &[u8]) -> bool {
        self.when.iter().any(|term| term.holds(frame))
            || shown.iter().any(|byte| self.shown_has.contains(byte))
            || self.shown_is.iter().any(|text| text == shown)
    }

    pub(super) fn exists(&self) -> bool {
        !self.when.is_empty() || !self.shown_has.is_empty() || !self.shown_is.is_empty()
    }
}
