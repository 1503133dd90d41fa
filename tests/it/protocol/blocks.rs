//! Binary blocks, against the standard library's conversions and worked-out vectors.

use std::sync::Arc;

use proptest::prelude::*;
use steadyohm::protocol::{Decoder, Garble, Item, Joining, Protocol};
use steadyohm::reading::{Decimal, Magnitude};

use super::files::{refused, text_of};

/// The built-in format with another element and byte order.
fn blocks(element: &str, order: &str) -> Arc<Protocol> {
    let text = text_of("scpi-block")
        .replacen("element = \"f64\"", &format!("element = \"{element}\""), 1)
        .replacen("order = \"big-endian\"", &format!("order = \"{order}\""), 1);
    let (head, _) = text.split_once("[[example]]").unwrap();
    Arc::new(Protocol::from_text(head, "my.toml").unwrap())
}

fn read(protocol: &Arc<Protocol>, bytes: &[u8]) -> Vec<Item> {
    Decoder::new(Arc::clone(protocol), Joining::AtStart).push(bytes)
}

fn magnitudes(items: &[Item]) -> Vec<Magnitude> {
    let magnitude = |item: &Item| match item {
        Item::Reading(measured) => measured.magnitude,
        Item::Garbled { why, .. } => panic!("{why}"),
    };
    items.iter().map(magnitude).collect()
}

fn why(items: &[Item]) -> Garble {
    match items {
        [Item::Garbled { why, .. }] => *why,
        other => panic!("{other:?}"),
    }
}

fn number(digits: i64, exponent: i8) -> Magnitude {
    Magnitude::Number(Decimal { digits, exponent })
}

const OVER: Magnitude = Magnitude::Over { beyond: None };

fn block(data: &[u8]) -> Vec<u8> {
    let length = data.len().to_string();
    [format!("#{}{length}", length.len()).as_bytes(), data, b"\n"].concat()
}

/// The vectors are worked out from the form in IEEE 488.2 (from memory) and the bytes of IEEE
/// 754 doubles.
#[test]
fn doubles_of_either_byte_order() {
    let big = blocks("f64", "big-endian");
    let one = b"#18\x40\xC3\x93\xB9\x99\x99\x99\x9A\n";
    assert_eq!(magnitudes(&read(&big, one)), [number(1_002_345, -2)]);
    let two = b"#216\x40\x59\x00\x00\x00\x00\x00\x00\x47\xD2\x9E\xAD\x36\x77\xAF\x6F\n";
    assert_eq!(magnitudes(&read(&big, two)), [number(1, 2), OVER]);
    let little = blocks("f64", "little-endian");
    let swapped = b"#18\x9A\x99\x99\x99\xB9\x93\xC3\x40\n";
    assert_eq!(magnitudes(&read(&little, swapped)), [number(1_002_345, -2)]);
}

/// Headers of 1, 2 and 3 digits: published interface manuals show `#18`, `#240` and `#3123`.
#[test]
fn singles_in_long_blocks() {
    let single = blocks("f32", "big-endian");
    let ten: Vec<u8> = (1_i16..=10)
        .flat_map(|n| f32::from(n).to_be_bytes())
        .collect();
    let items = read(&single, &[b"#240", ten.as_slice(), b"\r\n"].concat());
    let expected: Vec<Magnitude> = (1..=9)
        .map(|n| number(n, 0))
        .chain([number(1, 1)])
        .collect();
    assert_eq!(magnitudes(&items), expected);
    // A single-precision 9.9E37 is 9.900000302E37.
    let over = block(&9.9e37_f32.to_be_bytes());
    assert_eq!(magnitudes(&read(&single, &over)), [OVER]);
    // The shortest decimal is that of the single: 0.1, not 0.10000000149.
    let tenth = block(&0.1_f32.to_be_bytes());
    assert_eq!(magnitudes(&read(&single, &tenth)), [number(1, -1)]);
    let odd = read(&single, &[b"#3123", [0x40; 123].as_slice(), b"\n"].concat());
    assert!(matches!(odd.as_slice(), [Item::Garbled { .. }]), "{odd:?}");
}

#[test]
fn what_is_no_block_is_told_and_why() {
    let big = blocks("f64", "big-endian");
    assert_eq!(
        why(&read(&big, b"#0\x40\x59\x00\n")),
        Garble::IndefiniteBlock
    );
    assert_eq!(why(&read(&big, b"#3999\n")), Garble::BlockTooLong(256));
    assert_eq!(
        why(&read(&big, b"#9999999999\n")),
        Garble::BlockTooLong(256)
    );
    assert_eq!(why(&read(&big, b"#x8\n")), Garble::OutOfStep);
    assert_eq!(why(&read(&big, b"#2x8\n")), Garble::OutOfStep);
    assert_eq!(why(&read(&big, b"+1.0E+04\n")), Garble::OutOfStep);
    let (found, wanted) = (0, 8);
    assert_eq!(why(&read(&big, b"#10\n")), Garble::Length { found, wanted });
    let more = b"#18\x40\x59\0\0\0\0\0\0\0\n";
    assert_eq!(why(&read(&big, more)), Garble::NoLineEnd);
    assert!(
        read(&big, b"\r\n\r\n\n").is_empty(),
        "line ends alone say nothing"
    );
}

/// A header that promises more than comes swallows no later block.
#[test]
fn a_false_header_costs_no_block() {
    let big = blocks("f64", "big-endian");
    let good = block(&100.0_f64.to_be_bytes());
    let bytes = [b"#3200".as_slice(), &good.repeat(30)].concat();
    let items = read(&big, &bytes);
    let readings = items.iter().filter(|item| matches!(item, Item::Reading(_)));
    assert_eq!(readings.count(), 30);
    assert!(matches!(items.first(), Some(Item::Garbled { .. })));
}

#[test]
fn blocks_hold_binary_numbers_and_nothing_else() {
    let refuse = |from: &str, to: &str, words: &[&str]| refused("scpi-block", from, to, words);
    refuse("longest = 256", "longest = 5000", &["1 to 4096", "5000"]);
    refuse(
        "ending = \"\\n\"\nlongest",
        "ending = \"\"\nlongest",
        &["ending of a line"],
    );
    refuse(
        "element = \"f64\"",
        "element = \"i16\"",
        &["`i16`", "`f64`"],
    );
    refuse(
        "order = \"big-endian\"",
        "order = \"normal\"",
        &["`normal`", "`big-endian`"],
    );
    let lines = text_of("scpi-block").replacen("[frame.block]", "[frame.lines]", 1);
    let error = Protocol::from_text(&lines, "my.toml")
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("layout number-block cannot have frames of kind lines"),
        "{error}"
    );
    let text = text_of("scpi-stream").replacen("[frame.lines]", "[frame.block]", 1);
    let (before, after) = text.split_once("# Prompts").unwrap();
    let (_, after) = after.split_once("\n\n").unwrap();
    let error = Protocol::from_text(&format!("{before}{after}"), "my.toml").unwrap_err();
    assert!(error.to_string().contains("layout number-list"), "{error}");
    let seven = text_of("scpi-block").replacen(
        "data_bits = 8\nparity = \"none\"",
        "data_bits = 7\nparity = \"odd\"",
        1,
    );
    let error = Protocol::from_text(&seven, "my.toml")
        .unwrap_err()
        .to_string();
    assert!(error.contains("eight bits"), "{error}");
}

proptest! {
    /// Reference: the standard library's shortest decimal of a double, which reads back as it.
    #[test]
    fn any_double_of_a_meter_is_read_to_the_bit(
        values in proptest::collection::vec(-1e12_f64..1e12, 1..9), little in any::<bool>(),
    ) {
        let protocol = blocks("f64", if little { "little-endian" } else { "big-endian" });
        let bytes = |value: &f64| if little { value.to_le_bytes() } else { value.to_be_bytes() };
        let data: Vec<u8> = values.iter().flat_map(bytes).collect();
        let items = read(&protocol, &block(&data));
        prop_assert_eq!(items.len(), values.len());
        for (item, value) in items.iter().zip(&values) {
            let Item::Reading(measured) = item else { panic!("{item:?}") };
            prop_assert_eq!(measured.number().map(f64::to_bits), Some(value.to_bits()));
            prop_assert_eq!(measured.resolution, None);
        }
    }
}
