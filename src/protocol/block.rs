//! Definite-length blocks of IEEE 488.2: `#`, one digit that counts the digits of a length,
//! that length, as many bytes, and a line end.
//!
//! The bytes are counted: one of them may well be a line end. The line end after them stands
//! in for a checksum, since a length read out of step seldom has one there. A block of
//! indefinite length (`#0`) ends where the bus says so, and a stream of bytes does not say.

use std::ops::Range;

use crate::protocol::decoder::Garble;

/// How blocks are found.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    /// The most bytes counted in one block.
    pub(crate) longest: usize,
    /// Written after a block; any CR or LF ends one that is read.
    pub(crate) ending: Vec<u8>,
}

/// How bytes agree with being a block from their first on.
#[derive(Debug)]
pub(crate) enum Fit {
    /// A block, as far as it goes.
    Part,
    /// A whole block: where its counted bytes are, before its line end.
    Whole(Range<usize>),
    /// A line end, which belongs to no block.
    Between,
    /// No block.
    Not(Garble),
}

impl Block {
    /// The most bytes of a block with its header and one byte of line end.
    pub(crate) const fn longest_frame(&self) -> usize {
        const HEADER: usize = 2 + 9;
        self.longest + HEADER + 1
    }

    /// How the bytes agree with being a block from the first on.
    pub(crate) fn fit(&self, bytes: &[u8]) -> Fit {
        let rest = match bytes {
            [] | [b'#'] => return Fit::Part,
            [b'\r' | b'\n', ..] => return Fit::Between,
            [b'#', rest @ ..] => rest,
            _ => return Fit::Not(Garble::OutOfStep),
        };
        let (digits, rest) = match rest {
            [b'0', ..] => return Fit::Not(Garble::IndefiniteBlock),
            [digits @ b'1'..=b'9', rest @ ..] => (usize::from(digits - b'0'), rest),
            _ => return Fit::Not(Garble::OutOfStep),
        };
        let told = rest.get(..digits).unwrap_or(rest);
        if !told.iter().all(u8::is_ascii_digit) {
            return Fit::Not(Garble::OutOfStep);
        }
        let length = told.iter().fold(0_usize, |sum, byte| {
            sum.saturating_mul(10)
                .saturating_add(usize::from(byte - b'0'))
        });
        if length > self.longest {
            return Fit::Not(Garble::BlockTooLong(self.longest));
        }
        if told.len() < digits {
            return Fit::Part;
        }
        let from = 2 + digits;
        match bytes.get(from + length) {
            None => Fit::Part,
            Some(b'\r' | b'\n') => Fit::Whole(from..from + length),
            Some(_) => Fit::Not(Garble::NoLineEnd),
        }
    }

    /// A block around these bytes, with its line end.
    pub(crate) fn around(&self, data: &[u8]) -> Vec<u8> {
        let length = data.len().to_string();
        let mut block = format!("#{}{length}", length.len()).into_bytes();
        block.extend_from_slice(data);
        block.extend_from_slice(&self.ending);
        block
    }
}
