//! The settings of a serial line at which meters may be heard, and what a character looks like
//! at settings that are not its own.

use std::sync::Arc;

use crate::protocol::model::{Ask, Protocol};
use crate::protocol::serial::{Parity, SerialSettings, StopBits};

/// Settings to listen at for formats that talk by themselves, the likeliest first: those that
/// most formats of meters share at their usual speed, then those of boards of one's own, then
/// the same for the further speeds.
///
/// Eight bits without parity hear every character of ten bits, so formats of seven bits and a
/// parity bit need no try of their own: see [`Heard`].
pub fn settings_to_try(formats: &[Arc<Protocol>]) -> Vec<SerialSettings> {
    let talking: Vec<&Arc<Protocol>> = formats
        .iter()
        .filter(|format| matches!(format.ask(), Ask::Listen))
        .collect();
    let rounds = talking
        .iter()
        .map(|format| format.bauds().len().max(1))
        .max();
    let mut settings: Vec<SerialSettings> = Vec::new();
    for round in 0..rounds.unwrap_or(0) {
        // How many formats share a setting: of meters, and of boards.
        let mut found: Vec<(SerialSettings, (usize, usize))> = Vec::new();
        for format in &talking {
            let own = format.serial();
            let baud = match format.bauds().get(round) {
                Some(baud) => *baud,
                None if round == 0 => own.baud,
                None => continue,
            };
            let line = as_eight_bits(SerialSettings { baud, ..own });
            let (meter, board) = if format.layout.is_ones_own() {
                (0, 1)
            } else {
                (1, 0)
            };
            match found
                .iter_mut()
                .find(|(known, _)| is_same_line(known, &line))
            {
                Some((known, (meters, boards))) => {
                    known.settle_ms = known.settle_ms.max(line.settle_ms);
                    *meters += meter;
                    *boards += board;
                }
                None => found.push((line, (meter, board))),
            }
        }
        found.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        for (line, _) in found {
            if !settings.iter().any(|known| is_same_line(known, &line)) {
                settings.push(line);
            }
        }
    }
    settings
}

/// The settings at which characters of these are heard whole: eight bits and no parity where
/// a character has ten bits in all, which is what every adapter can do.
fn as_eight_bits(own: SerialSettings) -> SerialSettings {
    let parity = u8::from(own.parity != Parity::None);
    let stop = if own.stop_bits == StopBits::Two { 2 } else { 1 };
    if own.data_bits + parity + stop == 9 {
        SerialSettings {
            data_bits: 8,
            parity: Parity::None,
            stop_bits: StopBits::One,
            ..own
        }
    } else {
        own
    }
}

fn is_same_line(one: &SerialSettings, other: &SerialSettings) -> bool {
    let settle_ms = 0;
    let without = |settings: &SerialSettings| SerialSettings {
        settle_ms,
        ..*settings
    };
    without(one) == without(other)
}

/// How a format takes the characters of a line that is set to eight bits without parity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heard {
    /// As they are.
    Whole,
    /// Seven bits; the eighth is the parity bit (or the first stop bit, for none). A bit that
    /// is clear says nothing: the line may have been set to seven bits all the same.
    Seven(Parity),
}

impl Heard {
    /// As this format takes them.
    pub fn by(protocol: &Protocol) -> Self {
        let serial = protocol.serial();
        if serial.data_bits == 7 {
            Self::Seven(serial.parity)
        } else {
            Self::Whole
        }
    }

    /// The character in a byte; the byte itself where its parity is wrong, which no format
    /// of seven bits takes for anything.
    pub fn character(self, byte: u8) -> u8 {
        let Self::Seven(parity) = self else {
            return byte;
        };
        let odd = byte.count_ones() % 2 == 1;
        let right = match parity {
            Parity::None => true,
            Parity::Odd => odd,
            Parity::Even => !odd,
        };
        if right { byte & 0x7F } else { byte }
    }
}
