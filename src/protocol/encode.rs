//! A reading written as the meter would send it, from the same description.

use thiserror::Error;

use crate::protocol::decoder::Item;
use crate::protocol::model::{Framing, Protocol};
use crate::protocol::notation;
use crate::reading::Measured;

/// A value that a format has no way to show.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("the format {protocol} has no way to show \"{value}\"")]
pub struct CannotEncode {
    /// The format.
    pub protocol: String,
    /// The value.
    pub value: String,
}

/// The bytes that read back as exactly this value, with the digits it is written with; in
/// binary a number has no such digits, and reads back as its shortest decimal.
pub fn encode(protocol: &Protocol, measured: &Measured) -> Result<Vec<u8>, CannotEncode> {
    let measured = &protocol.layout.plain(measured);
    let wanted = [Item::Reading(*measured)];
    for frame in protocol.layout.write(measured) {
        let mut items = Vec::new();
        let read = match &protocol.framing {
            Framing::Lines(lines) if frame.len() <= lines.longest => lines
                .payload(&frame)
                .is_some_and(|line| protocol.layout.read(line, &mut items).is_ok()),
            Framing::Lines(_) => false,
            Framing::Block(block) if frame.len() > block.longest => false,
            Framing::Block(_) | Framing::Fixed { .. } => {
                protocol.layout.read(&frame, &mut items).is_ok()
            }
        };
        if read && items == wanted {
            return Ok(protocol.parity.sent(&match &protocol.framing {
                Framing::Lines(lines) => [frame, lines.ending.clone()].concat(),
                Framing::Block(block) => block.around(&frame),
                Framing::Fixed { .. } => frame,
            }));
        }
    }
    Err(CannotEncode {
        protocol: protocol.id().to_owned(),
        value: notation::text(measured, protocol.layout.digits_mean()),
    })
}
