//! What fuzzing found worth keeping, replayed: inputs that reach every branch of the decoders.

#![expect(
    clippy::disallowed_methods,
    reason = "the inputs that are kept are files"
)]

use std::fs;
use std::path::Path;

use steadyohm::protocol::FrameKind;

#[expect(
    unreachable_pub,
    reason = "the same file is a library of the fuzz targets"
)]
#[path = "../../fuzz/exercise.rs"]
mod exercise;

/// The inputs kept for one target: few and small.
fn inputs(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz/corpus")
        .join(target);
    let entries = fs::read_dir(&folder).unwrap();
    let inputs: Vec<Vec<u8>> = entries
        .map(|entry| fs::read(entry.unwrap().path()).unwrap())
        .collect();
    assert!(
        (10..=50).contains(&inputs.len()),
        "{target}: {}",
        inputs.len()
    );
    assert!(inputs.iter().all(|input| input.len() <= 4096), "{target}");
    inputs
}

#[test]
fn lines() {
    for input in inputs("lines") {
        exercise::exercise(FrameKind::Lines, &input);
    }
}

#[test]
fn fixed() {
    for input in inputs("fixed") {
        exercise::exercise(FrameKind::Fixed, &input);
    }
}

#[test]
fn indexed_nibbles() {
    for input in inputs("indexed_nibbles") {
        exercise::exercise(FrameKind::IndexedNibbles, &input);
    }
}

#[test]
fn blocks() {
    for input in inputs("block") {
        exercise::exercise(FrameKind::Block, &input);
    }
}
