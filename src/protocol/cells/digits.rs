//! The digit cells: segments, nibbles or characters, as a text and back.

use crate::protocol::decoder::Garble;
use crate::reading::Decimal;

/// More digits than this do not fit the number they make.
pub(super) const MOST_CELLS: usize = 16;

/// The shown digits, each from some low bits of some bytes.
#[derive(Debug, Clone)]
pub(super) struct Digits {
    pub(super) cells: Vec<Vec<usize>>,
    pub(super) widths: Vec<u32>,
    /// What each code shows, an ASCII character.
    pub(super) shows: Vec<Option<u8>>,
}

impl Digits {
    /// The number of cells.
    pub(super) const fn count(&self) -> usize {
        self.cells.len()
    }

    /// What a frame shows, one character a cell.
    pub(super) fn shown<'b>(
        &self,
        frame: &[u8],
        buffer: &'b mut [u8; MOST_CELLS],
    ) -> Result<&'b [u8], Garble> {
        for (index, (cell, place)) in self.cells.iter().zip(buffer.iter_mut()).enumerate() {
            let parts = cell.iter().zip(&self.widths);
            let code = parts.fold(0, |code: usize, (at, width)| {
                let byte = frame.get(*at).copied().unwrap_or_default();
                code << width | usize::from(byte & low_bits(*width))
            });
            let character = self.shows.get(code).copied().flatten();
            *place = character.ok_or(Garble::UnknownDigit(index + 1))?;
        }
        Ok(buffer.get(..self.count()).unwrap_or_default())
    }

    /// Writes a text into the cells; `None` if they cannot show it.
    pub(super) fn show(&self, frame: &mut [u8], shown: &[u8]) -> Option<()> {
        if shown.len() != self.count() {
            return None;
        }
        for (cell, character) in self.cells.iter().zip(shown) {
            let mut rest = self
                .shows
                .iter()
                .position(|shows| *shows == Some(*character))?;
            for (at, width) in cell.iter().zip(&self.widths).rev() {
                let mask = low_bits(*width);
                let part = u8::try_from(rest & usize::from(mask)).ok()?;
                let byte = frame.get_mut(*at)?;
                *byte = *byte & !mask | part;
                rest >>= width;
            }
        }
        Some(())
    }
}

/// A mask of the low bits of a byte.
fn low_bits(width: u32) -> u8 {
    u8::MAX >> 8_u32.saturating_sub(width).min(7)
}

/// The whole number shown: digits, with blanks only before them.
pub(super) fn whole(shown: &[u8]) -> Option<i64> {
    let start = shown.iter().position(|byte| *byte != b' ')?;
    shown.get(start..)?.iter().try_fold(0, |sum: i64, byte| {
        byte.is_ascii_digit()
            .then(|| sum * 10 + i64::from(byte - b'0'))
    })
}

/// The number of a text with its own sign and point, blanks only around and after the sign.
pub(super) fn pointed(shown: &[u8]) -> Option<Decimal> {
    let text = std::str::from_utf8(shown).ok()?.trim();
    let (negative, rest) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let rest = rest.trim_start();
    let plain = rest
        .bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'.');
    let decimal: Decimal = plain.then(|| rest.parse().ok()).flatten()?;
    Some(if negative { decimal.negated() } else { decimal })
}

/// Such a text: the sign or a blank, then the number at the right end; `None` if it is wider.
pub(super) fn pointed_text(decimal: Decimal, width: usize) -> Option<Vec<u8>> {
    let sign = if decimal.digits < 0 { '-' } else { ' ' };
    let digits = decimal.digits.checked_abs()?;
    let number = Decimal { digits, ..decimal }.to_string();
    let text = format!("{sign}{number:>rest$}", rest = width.saturating_sub(1));
    (text.len() == width).then(|| text.into_bytes())
}
