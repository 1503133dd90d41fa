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

/// The bytes that read back as exactly this value.
pub fn encode(protocol: &Protocol, measured: &Measured) -> Result<Vec<u8>, CannotEncode> {
    let wanted = [Item::Reading(*measured)];
    for mut frame in protocol.layout.write(measured) {
        let mut items = Vec::new();
        let read = match &protocol.framing {
            Framing::Lines(lines) if frame.len() <= lines.longest => lines
                .payload(&frame)
                .is_some_and(|line| protocol.layout.read(line, &mut items).is_ok()),
            Framing::Lines(_) => false,
            Framing::Fixed { .. } => protocol.layout.read(&frame, &mut items).is_ok(),
        };
        if read && items == wanted {
            if let Framing::Lines(lines) = &protocol.framing {
                frame.extend_from_slice(&lines.ending);
            }
            return Ok(frame);
        }
    }
    Err(CannotEncode {
        protocol: protocol.id().to_owned(),
        value: notation::text(measured, protocol.layout.digits_mean()),
    })
}
