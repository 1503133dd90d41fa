//! The parity bit of a seven-bit character, where it comes as the eighth bit of a byte.
//!
//! 7O1 and 8N1 are ten bits on the wire alike, so a port that cannot do the one can read the
//! other, with the parity left in bit 7. A frame is then taken if all of its characters have
//! the parity stated, and the bit is cleared.

use std::borrow::Cow;

/// What becomes of the parity bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum ParityBit {
    /// None is seen: characters have eight bits, or no parity.
    Unseen,
    /// The port takes it away; a port that cannot leaves it in bit 7 of every character that
    /// needs it. One such character in a frame tells, and then all of them must agree.
    Either {
        /// Whether the parity is odd.
        odd: bool,
    },
    /// It comes in bit 7 always.
    Carried {
        /// Whether the parity is odd.
        odd: bool,
    },
}

impl ParityBit {
    /// The character of a byte that could stand in some frame.
    pub(crate) const fn character(self, byte: u8) -> Option<u8> {
        match self {
            Self::Unseen => Some(byte),
            Self::Either { .. } if byte < 0x80 => Some(byte),
            Self::Either { odd } | Self::Carried { odd } => {
                if agrees(byte, odd) {
                    Some(byte & 0x7F)
                } else {
                    None
                }
            }
        }
    }

    /// The characters of a frame; `None` if their parity is wrong.
    pub(crate) fn characters(self, frame: &[u8]) -> Option<Cow<'_, [u8]>> {
        let odd = match self {
            Self::Unseen => return Some(Cow::Borrowed(frame)),
            Self::Either { .. } if frame.is_ascii() => return Some(Cow::Borrowed(frame)),
            Self::Either { odd } | Self::Carried { odd } => odd,
        };
        let right = frame.iter().all(|byte| agrees(*byte, odd));
        right.then(|| frame.iter().map(|byte| byte & 0x7F).collect())
    }

    /// Characters as they are sent.
    pub(crate) fn sent(self, characters: &[u8]) -> Vec<u8> {
        let with_parity = |byte: &u8| match self {
            Self::Carried { odd } if !agrees(*byte, odd) => byte | 0x80,
            _ => *byte,
        };
        characters.iter().map(with_parity).collect()
    }
}

/// Whether the count of ones in a byte is odd, or even.
const fn agrees(byte: u8, odd: bool) -> bool {
    (byte.count_ones() % 2 == 1) == odd
}
