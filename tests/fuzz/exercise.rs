//! What must hold for any bytes in any format: used by the fuzz targets, and by the plain test
//! that replays what they found.
//!
//! The first byte of an input says how its rest is cut into portions and where in the stream
//! it begins; the rest are the bytes of the stream.

use std::sync::Arc;

use steadyohm::protocol::{Decoder, FrameKind, Item, Joining, Protocol, encode, library};

/// Decodes an input in every built-in format whose frames are of one kind.
///
/// # Panics
///
/// If portions matter, if memory grows beyond two frames, or if a reading that can be written
/// does not read back.
pub fn exercise(kind: FrameKind, input: &[u8]) {
    let Some((plan, bytes)) = input.split_first() else {
        return;
    };
    let joining = if plan & 1 == 0 {
        Joining::AtStart
    } else {
        Joining::MidStream
    };
    for protocol in library() {
        if protocol.frame_kind() == kind {
            let whole = whole(protocol, joining, bytes);
            let parts = in_portions(protocol, joining, bytes, plan >> 1);
            assert_eq!(parts, whole, "{}", protocol.id());
            for item in &whole {
                written_reads_back(protocol, item);
            }
        }
    }
}

fn whole(protocol: &Arc<Protocol>, joining: Joining, bytes: &[u8]) -> Vec<Item> {
    let mut decoder = Decoder::new(Arc::clone(protocol), joining);
    let items = decoder.push(bytes);
    is_bounded(protocol, &decoder, &items);
    items
}

/// Portions of 1 to 8 bytes, of a length that changes from one to the next.
fn in_portions(
    protocol: &Arc<Protocol>,
    joining: Joining,
    bytes: &[u8],
    seed: u8,
) -> Vec<Item> {
    let mut decoder = Decoder::new(Arc::clone(protocol), joining);
    let mut items = Vec::new();
    let (mut rest, mut turn) = (bytes, seed);
    while !rest.is_empty() {
        turn = turn.wrapping_mul(37).wrapping_add(11);
        let length = usize::from(turn >> 5) + 1;
        let (portion, after) = rest.split_at(length.min(rest.len()));
        let more = decoder.push(portion);
        is_bounded(protocol, &decoder, &more);
        items.extend(more);
        rest = after;
    }
    items
}

fn is_bounded(protocol: &Protocol, decoder: &Decoder, items: &[Item]) {
    let longest = protocol.longest_frame();
    assert!(decoder.pending() <= 2 * longest, "{}", protocol.id());
    for item in items {
        if let Item::Garbled { bytes, .. } = item {
            assert!(
                !bytes.is_empty() && bytes.len() <= longest + 1,
                "{}",
                protocol.id()
            );
        }
    }
}

fn written_reads_back(protocol: &Arc<Protocol>, item: &Item) {
    if let Item::Reading(measured) = item
        && let Ok(frame) = encode(protocol, measured)
    {
        let read = whole(protocol, Joining::AtStart, &frame);
        assert_eq!(
            read,
            std::slice::from_ref(item),
            "{}: {frame:02X?}",
            protocol.id()
        );
    }
}
