//! What holds for any stream of any built-in format: what is written reads back, the
//! portions in which bytes arrive do not matter, and nothing but a frame is read as one.

use std::sync::Arc;

use proptest::prelude::*;
use proptest::sample::Index;
use steadyohm::protocol::{Decoder, FrameKind, Item, Joining, Protocol, encode, find, library};
use steadyohm::reading::{Annunciator, Annunciators, Magnitude, Measured};

fn decode(protocol: &Arc<Protocol>, joining: Joining, bytes: &[u8]) -> Vec<Item> {
    Decoder::new(Arc::clone(protocol), joining).push(bytes)
}

fn readings(measured: &[Measured]) -> Vec<Item> {
    measured.iter().copied().map(Item::Reading).collect()
}

fn any_protocol() -> impl Strategy<Value = Arc<Protocol>> {
    any::<Index>().prop_map(|index| Arc::clone(index.get(library())))
}

/// Any value that a format says it can show, with any of the marks it says it can show.
fn any_value(protocol: &Protocol) -> impl Strategy<Value = Measured> + use<> {
    let shapes = protocol.shapes();
    let digits = prop_oneof![0_i64..100_000, -100_000_i64..100_000, any::<i64>()];
    (any::<Index>(), digits, any::<u8>()).prop_map(move |(index, digits, bits)| {
        let marks: Annunciators = Annunciator::ALL
            .into_iter()
            .enumerate()
            .filter(|(place, _)| bits >> place & 1 == 1)
            .map(|(_, mark)| mark)
            .collect();
        index.get(&shapes).measured(digits, marks)
    })
}

fn protocol_and_values(
    count: impl Into<proptest::collection::SizeRange>,
) -> impl Strategy<Value = (Arc<Protocol>, Vec<Measured>)> {
    let count = count.into();
    any_protocol().prop_flat_map(move |protocol| {
        let values = proptest::collection::vec(any_value(&protocol), count.clone());
        (Just(protocol), values)
    })
}

/// Bytes that look more like frames than noise does: cut pieces of the examples.
fn any_garbage(protocol: &Protocol) -> impl Strategy<Value = Vec<u8>> + use<> {
    let examples: Vec<Vec<u8>> = protocol
        .examples()
        .iter()
        .map(|example| example.bytes.clone())
        .collect();
    let cut =
        (any::<Index>(), any::<Index>(), any::<Index>()).prop_map(move |(e, from, to)| {
            let bytes = e.get(&examples);
            let (from, to) = (from.index(bytes.len()), to.index(bytes.len()));
            bytes[from.min(to)..from.max(to)].to_vec()
        });
    let noise = proptest::collection::vec(any::<u8>(), 0..40);
    let ends = Just(b"\r\n".to_vec());
    proptest::collection::vec(prop_oneof![4 => cut, 2 => noise, 1 => ends], 0..12)
        .prop_map(|pieces| pieces.concat())
}

fn protocol_garbage_values() -> impl Strategy<Value = (Arc<Protocol>, Vec<u8>, Vec<Measured>)> {
    any_protocol().prop_flat_map(|protocol| {
        let garbage = any_garbage(&protocol);
        let values = proptest::collection::vec(any_value(&protocol), 4);
        (Just(protocol), garbage, values)
    })
}

fn frames(protocol: &Protocol, values: &[Measured]) -> Vec<Vec<u8>> {
    values
        .iter()
        .map(|value| encode(protocol, value).unwrap())
        .collect()
}

#[test]
fn every_example_is_written_as_it_is_read() {
    for protocol in library() {
        for example in protocol.examples() {
            for measured in example.reads.iter().flatten() {
                let bytes = encode(protocol, measured).unwrap();
                let got = decode(protocol, Joining::AtStart, &bytes);
                assert_eq!(got, readings(&[*measured]), "{}", example.name);
            }
        }
    }
}

#[test]
fn every_shape_can_be_written() {
    for protocol in library() {
        let shapes = protocol.shapes();
        assert!(!shapes.is_empty(), "{}", protocol.id());
        for shape in shapes {
            for marks in [Annunciators::NONE, shape.marks] {
                let value = shape.measured(17, marks);
                let bytes = encode(protocol, &value).unwrap_or_else(|error| panic!("{error}"));
                assert_eq!(
                    decode(protocol, Joining::AtStart, &bytes),
                    readings(&[value])
                );
            }
        }
    }
}

/// Where the frame holds nothing but what is read from it, the bytes written are the very
/// bytes of the example.
#[test]
fn frames_are_written_byte_for_byte() {
    let mut compared = 0;
    for id in ["lcd-segments-14", "jis-11-4000", "jis-14-22000", "stx-16"] {
        let protocol = find(id).unwrap();
        for example in protocol.examples() {
            let [Some(measured)] = example.reads.as_slice() else {
                continue;
            };
            if measured.magnitude != Magnitude::Blank {
                let bytes = encode(&protocol, measured).unwrap();
                assert_eq!(bytes, example.bytes, "{id}: {}", example.name);
                compared += 1;
            }
        }
    }
    assert!(compared > 40, "{compared}");
    let bench = find("scpi-polled").unwrap();
    let first = &bench.examples()[0];
    let written = encode(&bench, &first.reads[0].unwrap()).unwrap();
    assert_eq!(written, b"+1.00234500E+04\r\n");
}

/// The ordinary seven-segment shapes, a at the top, then clockwise, g in the middle (common
/// practice, no source), placed as the byte table of the `FS9721_LP3` says (from memory).
#[test]
fn segments_show_the_ordinary_digits() {
    let protocol = find("lcd-segments-14").unwrap();
    let shapes = [
        "abcdef", "bc", "abdeg", "abcdg", "bcfg", "acdfg", "acdefg", "abc", "abcdefg", "abcdfg",
    ];
    for (digit, segments) in (0_u32..).zip(shapes) {
        let lit = |names: &str| {
            names.chars().fold(0_u8, |bits, name| {
                bits << 1 | u8::from(segments.contains(name))
            })
        };
        let mut frame = vec![0x13];
        for place in [2_u8, 4, 6, 8] {
            frame.extend([place << 4 | lit("efa"), (place + 1) << 4 | lit("dcgb")]);
        }
        frame.extend([0xA0, 0xB0, 0xC4, 0xD0, 0xE0]);
        let items = decode(&protocol, Joining::AtStart, &frame);
        let [Item::Reading(measured)] = items.as_slice() else {
            panic!("{digit}: {items:?}");
        };
        assert_eq!(measured.number(), Some(f64::from(1111 * digit)));
    }
}

#[test]
fn a_line_joined_in_the_middle_is_not_a_number() {
    let protocol = find("number-lines").unwrap();
    let items = decode(&protocol, Joining::MidStream, b"0023.4\n10023.4\n");
    let whole = decode(&protocol, Joining::AtStart, b"10023.4\n");
    assert_eq!(items, whole);
    assert_eq!(items.len(), 1);
}

#[test]
fn a_wrong_position_number_is_refused() {
    let protocol = find("lcd-segments-14").unwrap();
    let good = &protocol.examples()[0].bytes;
    for at in 0..good.len() {
        for shift in 1..16_u8 {
            let mut bytes = good.clone();
            bytes[at] = bytes[at].wrapping_add(shift << 4);
            let items = decode(&protocol, Joining::AtStart, &bytes);
            let read = items.iter().any(|item| matches!(item, Item::Reading(_)));
            assert!(!read, "{bytes:02X?} gave {items:?}");
        }
    }
}

proptest! {
    #[test]
    fn what_is_written_reads_back((protocol, values) in protocol_and_values(1..4)) {
        let bytes = frames(&protocol, &values).concat();
        prop_assert_eq!(decode(&protocol, Joining::AtStart, &bytes), readings(&values));
    }

    /// Reference: the standard library's correctly rounding parser, on the forms NR1, NR2 and
    /// NR3 of IEEE 488.2 (from memory).
    #[test]
    fn bench_numbers_are_the_doubles_their_text_is(
        value in -1e12_f64..1e12, places in 0_usize..12, form in 0..3,
    ) {
        let text = match form {
            0 => format!("{value:.0}"),
            1 => format!("{value:+.places$}"),
            _ => format!("{value:+.places$E}"),
        };
        let protocol = find("scpi-polled").unwrap();
        let items = decode(&protocol, Joining::AtStart, format!("{text}\r\n").as_bytes());
        let [Item::Reading(measured)] = items.as_slice() else {
            panic!("{text}: {items:?}");
        };
        let expected: f64 = text.parse().unwrap();
        // A whole number has no minus zero; otherwise to the bit.
        let bits = |number: f64| (number + 0.0).to_bits();
        prop_assert_eq!(measured.number().map(bits), Some(bits(expected)));
    }

    #[test]
    fn portions_do_not_matter(
        (protocol, garbage, values) in protocol_garbage_values(),
        cuts in proptest::collection::vec(any::<Index>(), 0..8),
        joining in prop_oneof![Just(Joining::AtStart), Just(Joining::MidStream)],
    ) {
        let bytes = [frames(&protocol, &values).concat(), garbage.clone(), garbage].concat();
        let whole = decode(&protocol, joining, &bytes);
        let mut places: Vec<usize> = cuts.iter().map(|cut| cut.index(bytes.len())).collect();
        places.extend([0, bytes.len()]);
        places.sort_unstable();
        let mut decoder = Decoder::new(Arc::clone(&protocol), joining);
        let mut parts = Vec::new();
        for pair in places.windows(2) {
            parts.extend(decoder.push(&bytes[pair[0]..pair[1]]));
        }
        prop_assert_eq!(&parts, &whole);
        let mut decoder = Decoder::new(Arc::clone(&protocol), joining);
        let single: Vec<Item> = bytes.iter().flat_map(|byte| decoder.push(&[*byte])).collect();
        prop_assert_eq!(&single, &whole);
    }

    /// No bytes panic, none are held beyond two frames, and each garbled item is at most a
    /// frame's worth.
    #[test]
    fn memory_is_bounded((protocol, garbage, _) in protocol_garbage_values()) {
        let longest = protocol.longest_frame();
        let mut decoder = Decoder::new(Arc::clone(&protocol), Joining::AtStart);
        for byte in garbage.iter().cycle().take(garbage.len() * 20) {
            for item in decoder.push(&[*byte]) {
                if let Item::Garbled { bytes, .. } = item {
                    prop_assert!(!bytes.is_empty() && bytes.len() <= longest + 1);
                }
            }
            prop_assert!(decoder.pending() <= 2 * longest);
        }
    }

    /// After garbage and at most one whole frame, every later frame is read, and nothing else.
    /// A cut block at the end of the garbage may by chance end where a later one has a line
    /// end; it then takes at most two with it.
    #[test]
    fn a_stream_falls_back_into_step((protocol, garbage, values) in protocol_garbage_values()) {
        let mut bytes = garbage;
        let frames = frames(&protocol, &values);
        bytes.extend(frames.iter().flatten());
        let items = decode(&protocol, Joining::AtStart, &bytes);
        let lost = if protocol.frame_kind() == FrameKind::Block { 2 } else { 1 };
        let later = readings(&values[lost..]);
        prop_assert!(items.ends_with(&later), "{:?} does not end with {:?}", items, later);
    }

    /// A stream joined at any byte gives the frames that begin after it, and nothing else; a
    /// line that begins exactly there is given up too, since it cannot be told from a cut one.
    #[test]
    fn joining_in_the_middle_cuts_no_number(
        (protocol, values) in protocol_and_values(4..5), cut in any::<Index>(),
    ) {
        let frames = frames(&protocol, &values);
        let cut = cut.index(frames[0].len());
        let bytes = frames.concat();
        let items = decode(&protocol, Joining::MidStream, &bytes[cut..]);
        let whole = readings(&values);
        prop_assert!(items == whole[1..] || (cut == 0 && items == whole), "{:?}", items);
    }
}
