//! Every file says what it can carry, and shows it.

use steadyohm::protocol::{Protocol, library};
use steadyohm::reading::Quantity;

use super::files::{refused, text_of};

/// What the examples of a format read.
fn shown(protocol: &Protocol) -> Vec<Quantity> {
    let examples = protocol.examples().iter();
    examples
        .flat_map(|example| example.reads.iter().flatten())
        .map(|measured| measured.quantity)
        .collect()
}

#[test]
fn every_built_in_file_says_and_shows_what_it_can_carry() {
    for protocol in library() {
        let carried = protocol.carries();
        assert!(!carried.is_empty(), "{} does not say", protocol.id());
        let shown = shown(protocol);
        for quantity in carried {
            assert!(
                shown.contains(quantity),
                "{} has no example of {}",
                protocol.id(),
                quantity.word()
            );
        }
        for quantity in shown {
            assert!(carried.contains(&quantity), "{}", protocol.id());
        }
    }
}

/// The dial of a handheld, from a published interface manual: a wrong position is named.
#[test]
fn a_handheld_names_volts_amperes_farads_and_hertz() {
    let handhelds = [
        "lcd-segments-14",
        "ascii-status-14",
        "jis-11-4000",
        "jis-14-22000",
        "stx-16",
        "ascii-14-request",
    ];
    for protocol in library() {
        if handhelds.contains(&protocol.id()) {
            let units: Vec<&str> = protocol.carries().iter().map(|q| q.unit()).collect();
            for unit in ["ohm", "V", "A", "F", "Hz"] {
                assert!(units.contains(&unit), "{} has no {unit}", protocol.id());
            }
        }
    }
}

#[test]
fn a_file_that_says_too_much_or_too_little_is_refused() {
    let (id, said) = ("scpi-stream", "carries = [\"resistance\"]");
    let more = "carries = [\"resistance\", \"voltage\"]";
    refused(id, said, more, &["names voltage", "nothing in this layout"]);
    let twice = "carries = [\"resistance\", \"resistance\"]";
    refused(id, said, twice, &["\"resistance\"", "twice"]);
    refused("tsv-columns", "\"celsius\"]", "]", &["leaves out celsius"]);
    let silent = text_of(id).replacen(said, "", 1);
    let protocol = Protocol::from_text(&silent, "my.toml").unwrap();
    assert_eq!(protocol.carries(), []);
}
