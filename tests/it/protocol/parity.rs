//! Parity in bit 7: seven bits and parity are ten bits on the wire as eight bits are.

use std::sync::Arc;

use proptest::prelude::*;
use proptest::sample::Index;
use steadyohm::protocol::{
    Decoder, Garble, Item, Joining, Parity, Protocol, SerialSettings, encode, find,
};

use super::files::{refused, text_of};

/// Each character with odd parity over eight bits, as a 7O1 meter looks to an 8N1 port.
fn with_parity(characters: &[u8]) -> Vec<u8> {
    let bit = |byte: &u8| byte | u8::from(byte.count_ones().is_multiple_of(2)) << 7;
    characters.iter().map(bit).collect()
}

fn read(protocol: &Arc<Protocol>, bytes: &[u8]) -> Vec<Item> {
    Decoder::new(Arc::clone(protocol), Joining::AtStart).push(bytes)
}

/// The built-in format, told that the parity is in bit 7 always.
fn carried() -> Arc<Protocol> {
    let text = text_of("jis-11-4000").replacen(
        "data_bits = 7\nparity = \"odd\"",
        "parity = \"odd-in-bit-7\"",
        1,
    );
    let (head, _) = text.split_once("[[example]]").unwrap();
    Arc::new(Protocol::from_text(head, "my.toml").unwrap())
}

const FRAME: &[u8] = b"010003002\r\n";

#[test]
fn a_port_of_eight_bits_reads_a_meter_of_seven() {
    for id in ["jis-11-4000", "jis-14-22000"] {
        let protocol = find(id).unwrap();
        let mut compared = 0;
        for example in protocol.examples() {
            if example.bytes.is_ascii() {
                let plain = read(&protocol, &example.bytes);
                let bits = read(&protocol, &with_parity(&example.bytes));
                let readings = |items: Vec<Item>| -> Vec<Item> {
                    items
                        .into_iter()
                        .filter(|i| matches!(i, Item::Reading(_)))
                        .collect()
                };
                assert_eq!(readings(bits), readings(plain), "{id}: {}", example.name);
                compared += 1;
            }
        }
        assert!(compared > 15, "{compared}");
    }
}

#[test]
fn parity_stated_to_be_in_bit_7_must_be_there() {
    let protocol = carried();
    let SerialSettings {
        data_bits, parity, ..
    } = protocol.serial();
    assert_eq!((data_bits, parity), (8, Parity::None));
    let good = read(&protocol, &with_parity(FRAME));
    let [Item::Reading(measured)] = good.as_slice() else {
        panic!("{good:?}");
    };
    assert_eq!(encode(&protocol, measured).unwrap(), with_parity(FRAME));
    let bare = read(&protocol, FRAME);
    let [Item::Garbled { why, .. }] = bare.as_slice() else {
        panic!("{bare:?}");
    };
    assert_eq!(*why, Garble::WrongParity);
}

/// A port that takes the parity away leaves no bit 7, and the frame is written without.
#[test]
fn a_port_of_seven_bits_is_asked_for_first() {
    let protocol = find("jis-11-4000").unwrap();
    let SerialSettings {
        data_bits, parity, ..
    } = protocol.serial();
    assert_eq!((data_bits, parity), (7, Parity::Odd));
    let [Item::Reading(measured)] = read(&protocol, FRAME)[..] else {
        panic!("{FRAME:?}");
    };
    assert_eq!(encode(&protocol, &measured).unwrap(), FRAME);
}

#[test]
fn parity_in_bit_7_needs_eight_bits() {
    refused(
        "jis-14-22000",
        "parity = \"odd\"",
        "parity = \"odd-in-bit-7\"",
        &["8 data bits", "leave data_bits out"],
    );
    refused(
        "jis-14-22000",
        "parity = \"odd\"",
        "parity = \"mark\"",
        &["`mark`", "`odd-in-bit-7`"],
    );
}

/// Frames of a fixed length have their parity checked byte by byte.
#[test]
fn fixed_frames_too() {
    let text = text_of("stx-16").replacen("parity = \"none\"", "parity = \"even-in-bit-7\"", 1);
    let (head, _) = text.split_once("[[example]]").unwrap();
    let protocol = Arc::new(Protocol::from_text(head, "my.toml").unwrap());
    let frame = b"\x0241380100001000\r";
    let even: Vec<u8> = frame
        .iter()
        .map(|byte| byte | u8::from(!byte.count_ones().is_multiple_of(2)) << 7)
        .collect();
    let good = read(&protocol, &even.repeat(2));
    assert_eq!(good.len(), 2);
    assert!(
        good.iter().all(|item| matches!(item, Item::Reading(_))),
        "{good:?}"
    );
    let mut wrong = even.clone();
    wrong[9] ^= 0x80;
    let items = read(&protocol, &[wrong, even].concat());
    assert!(
        matches!(items.as_slice(), [Item::Garbled { .. }, Item::Reading(_)]),
        "{items:?}"
    );
}

proptest! {
    /// One bit flipped on the way is never read, wherever it is.
    #[test]
    fn one_wrong_bit_is_caught(at in any::<Index>(), bit in 0_u8..8, stated in any::<bool>()) {
        let protocol = if stated { carried() } else { find("jis-11-4000").unwrap() };
        let mut bytes = with_parity(FRAME);
        // A damaged line end damages the next line with it.
        let at = at.index(bytes.len() - 2);
        bytes[at] ^= 1 << bit;
        let items = read(&protocol, &bytes);
        prop_assert!(!items.iter().any(|item| matches!(item, Item::Reading(_))), "{:?}", items);
    }
}
