//! The examples of a format run: do the bytes mean what the file says they mean?

use std::sync::Arc;

use thiserror::Error;

use crate::protocol::decoder::{Decoder, Item, Joining};
use crate::protocol::encode::encode;
use crate::protocol::model::Protocol;
use crate::protocol::notation;
use crate::reading::Measured;

/// Fewer examples than this prove too little.
pub const FEWEST_EXAMPLES: usize = 5;

/// What came of one example.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExampleOutcome {
    /// The name of the example.
    pub name: String,
    /// What the file says the bytes mean.
    pub expected: String,
    /// What they were read as.
    pub got: String,
    /// Whether the two agree, and every reading can be written and read back.
    pub ok: bool,
}

/// Why a format is not fit to be relied on, whatever its examples say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NotProven {
    /// No document.
    #[error(
        "no source is named: add the document the format was read in to [about], as source"
    )]
    NoSource,
    /// Too few examples.
    #[error(
        "{found} examples are too few: give at least {FEWEST_EXAMPLES}, with bytes and what they mean"
    )]
    FewExamples {
        /// How many there are.
        found: usize,
    },
}

/// What is missing before a format can be relied on.
pub fn check_proof(protocol: &Protocol) -> Vec<NotProven> {
    let mut missing = Vec::new();
    if protocol
        .source()
        .is_none_or(|source| source.trim().is_empty())
    {
        missing.push(NotProven::NoSource);
    }
    let found = protocol.examples().len();
    if found < FEWEST_EXAMPLES {
        missing.push(NotProven::FewExamples { found });
    }
    missing
}

/// Runs every example of a format.
pub fn check_examples(protocol: &Protocol) -> Vec<ExampleOutcome> {
    let shared = Arc::new(protocol.clone());
    let mean = protocol.layout.digits_mean();
    let mut outcomes = Vec::new();
    for example in protocol.examples() {
        let mut decoder = Decoder::new(Arc::clone(&shared), Joining::AtStart);
        let got: Vec<Option<Measured>> = decoder
            .push(&example.bytes)
            .into_iter()
            .map(|item| match item {
                Item::Reading(measured) => Some(measured),
                Item::Garbled { .. } => None,
            })
            .collect();
        let lost = got
            .iter()
            .flatten()
            .find(|measured| encode(protocol, measured).is_err());
        let mut told = texts(&got, mean);
        if let Some(measured) = lost {
            told.push_str("; cannot be written again: ");
            told.push_str(&notation::text(measured, mean));
        }
        outcomes.push(ExampleOutcome {
            name: example.name.clone(),
            expected: texts(&example.reads, mean),
            ok: got == example.reads && lost.is_none(),
            got: told,
        });
    }
    outcomes
}

fn texts(readings: &[Option<Measured>], digits_mean: bool) -> String {
    if readings.is_empty() {
        return "nothing".to_owned();
    }
    let texts: Vec<String> = readings
        .iter()
        .map(|reading| match reading {
            Some(measured) => notation::text(measured, digits_mean),
            None => "garbled".to_owned(),
        })
        .collect();
    texts.join(", ")
}
