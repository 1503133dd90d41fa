//! Wire formats: every built-in file against its examples, and what no bytes may do.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "helpers of tests fail by panicking"
)]

mod blocks; // binary blocks, byte orders, what is no block
mod boards; // columns and JSON lines
mod carries; // every quantity that a file says it can carry is shown by it
mod corpus; // what fuzzing found, replayed
mod files; // format files refused, with the line
mod identify; // which format a stream is: right, not sure, and never wrong
mod parity; // parity in bit 7
mod stream; // properties of any stream: round trip, any split, any garbage
mod walk; // from captured bytes to a working file

use steadyohm::protocol::{
    Protocol, built_in_files, check_examples, check_proof, find, library,
};

#[test]
fn every_built_in_file_is_taken() {
    for (name, text) in built_in_files() {
        let protocol =
            Protocol::from_text(text, name).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(*name, format!("protocols/{}.toml", protocol.id()));
    }
    assert_eq!(library().len(), built_in_files().len());
    for id in [
        "scpi-polled",
        "scpi-stream",
        "lcd-segments-14",
        "ascii-status-14",
        "number-lines",
        "ascii-14-request",
        "stx-16",
        "jis-11-4000",
        "jis-14-22000",
        "scpi-block",
        "csv-columns",
        "tsv-columns",
        "json-lines",
    ] {
        assert_eq!(find(id).unwrap().id(), id);
    }
}

#[test]
fn every_example_means_what_its_file_says() {
    for protocol in library() {
        assert_eq!(check_proof(protocol), [], "{}", protocol.id());
        for outcome in check_examples(protocol) {
            assert!(
                outcome.ok,
                "{}: {}: expected {}, got {}",
                protocol.id(),
                outcome.name,
                outcome.expected,
                outcome.got
            );
        }
    }
}
