//! Which format is this? Every known format listens to the same bytes; the one that explains
//! them best is named, or none is.
//!
//! A wrong answer given surely is worse than none: it shows numbers that are not the meter's.
//! So an answer is sure only where the bytes could hardly mean anything else:
//!
//! - A format of fixed places (every frame of one length, most bytes bound to a few values)
//!   is told by a few whole frames.
//! - A format of free text fits much that was never meant so. It is told only by lines that
//!   bare numbers would not give: a unit, a word of its own, the exponent form of the bench
//!   meters' standard, a unit in the column for it, the names of the format in an object.
//! - Columns of bare numbers are told only by the line that names them.
//! - Frames that have the right shape and mean nothing are the mark of a sister format.
//! - Two formats that explain the same bytes are both named.

mod candidate;
mod form;
mod settings;
mod verdict;

pub use settings::{Heard, settings_to_try};
pub use verdict::{Identification, Outcome, Score};

use std::sync::Arc;

use candidate::Candidate;

use crate::protocol::decoder::Joining;
use crate::protocol::model::{Ask, Protocol};

/// Listens to one stream with every format at once.
///
/// It keeps counts, not the stream: its memory is a few frames a format. The portions in which
/// bytes arrive do not matter.
#[derive(Debug, Clone)]
pub struct Identifier {
    candidates: Vec<Candidate>,
    heard: u64,
}

impl Identifier {
    /// For a stream entered anywhere, of a meter that talks by itself.
    pub fn new(formats: &[Arc<Protocol>]) -> Self {
        Self::with(formats, Joining::MidStream, |format| {
            matches!(format.ask(), Ask::Listen)
        })
    }

    /// For a stream entered at its beginning: a file, or standard input.
    pub fn at_start(formats: &[Arc<Protocol>]) -> Self {
        Self::with(formats, Joining::AtStart, |format| {
            matches!(format.ask(), Ask::Listen)
        })
    }

    /// For the replies of a meter that said nothing until it was asked the question of the
    /// format `asked`: of formats that explain the same bytes, one of that question is meant.
    pub fn answering(formats: &[Arc<Protocol>], asked: &str) -> Self {
        let format = formats.iter().find(|format| format.id() == asked);
        let question = format.and_then(|format| question(format));
        Self::with(formats, Joining::AtStart, |format| {
            question.is_some() && self::question(format) == question
        })
    }

    fn with(
        formats: &[Arc<Protocol>],
        joining: Joining,
        expected: impl Fn(&Protocol) -> bool,
    ) -> Self {
        let candidate = |format: &Arc<Protocol>| {
            Candidate::new(Arc::clone(format), joining, expected(format))
        };
        Self {
            candidates: formats.iter().map(candidate).collect(),
            heard: 0,
        }
    }

    /// Takes the next bytes.
    pub fn push(&mut self, chunk: &[u8]) {
        for byte in chunk {
            self.heard = self.heard.saturating_add(1);
            for candidate in &mut self.candidates {
                candidate.push(*byte);
            }
        }
    }

    /// How many bytes came so far.
    pub const fn heard(&self) -> u64 {
        self.heard
    }

    /// The most frames that a format read of those that are meant to be heard this way.
    pub fn expected_frames(&self) -> u32 {
        let expected = self.candidates.iter().filter(|one| one.expected);
        expected.map(|one| one.tally.frames).max().unwrap_or(0)
    }

    /// What the bytes so far say.
    pub fn verdict(&self) -> Identification {
        verdict::judge(&self.candidates)
    }
}

/// What a meter of the format is asked, if it has to be.
fn question(format: &Protocol) -> Option<&[u8]> {
    match format.ask() {
        Ask::Listen => None,
        Ask::Request(request) => Some(&request.ask),
    }
}
