//! The weighing of the formats against each other.

use std::sync::Arc;

use super::candidate::{Candidate, Tally};
use crate::protocol::model::{FrameKind, Layout, Protocol};

/// Whole frames that tell a format of fixed places when no other format reads any.
const FEWEST_FRAMES: u32 = 2;

/// Whole frames that tell a format where others read some as well, and lines of a text format.
const FEWEST_AMONG_OTHERS: u32 = 3;

/// The least share of the bytes that a sure answer explains. One byte in twenty damaged leaves
/// about half of the frames whole, and each loss may cost the frame after it.
const LEAST_SURE: f64 = 0.3;

/// The least share of the bytes that makes a format worth naming.
const LEAST_WORTH: f64 = 0.2;

/// A sure answer explains the bytes this much better than any other.
const MOST_RIVAL: f64 = 0.6;

/// What a text format weighs beside one of fixed places: its lines need not be meant so.
const LINES: f64 = 0.55;

/// What a text format weighs that fits only as bare numbers fit anything.
const BARE: f64 = 0.25;

/// The same where the number of columns is stated, which a list of any length fits as well.
const BARE_COLUMNS: f64 = 0.3;

/// What came of the listening.
#[derive(Debug, Clone)]
pub struct Identification {
    /// The answer.
    pub outcome: Outcome,
    /// Every format with what it could read, the best first.
    pub ranking: Vec<Score>,
}

/// The answer.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// This format, surely.
    Right(Arc<Protocol>),
    /// Perhaps the best, perhaps the other.
    NotSure {
        /// The one that explains most.
        best: Arc<Protocol>,
        /// The next, if there is another that explains anything.
        runner_up: Option<Arc<Protocol>>,
    },
    /// None of them.
    None,
}

/// What one format could read of the bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Score {
    /// The format.
    pub id: String,
    /// Frames or lines that read well.
    pub frames: u32,
    /// Bytes outside them, from the first whole frame on.
    pub garbled_bytes: u64,
    /// Readings in the frames.
    pub readings: u32,
    /// What speaks for it and against it, in sentences.
    pub why: Vec<String>,
}

pub(super) fn judge(candidates: &[Candidate]) -> Identification {
    let mut ranked: Vec<&Candidate> = candidates.iter().collect();
    // The order among equals is that of the list, since the sort is stable.
    ranked.sort_by(|one, other| {
        let weights = other.weight().total_cmp(&one.weight());
        weights
            .then(other.expected.cmp(&one.expected))
            .then(other.tally.frames.cmp(&one.tally.frames))
            .then(one.tally.garbled.cmp(&other.tally.garbled))
    });
    let outcome = match ranked.split_first() {
        Some((best, others)) => outcome(best, others),
        None => Outcome::None,
    };
    Identification {
        outcome,
        ranking: ranked.into_iter().map(Candidate::score).collect(),
    }
}

fn outcome(best: &Candidate, others: &[&Candidate]) -> Outcome {
    let tally = &best.tally;
    if tally.frames == 0 || best.share() < LEAST_WORTH {
        return Outcome::None;
    }
    // A format that is used another way (asked, where this one talked by itself) is no rival
    // where it explains nothing more.
    let rivals = || {
        let used_otherwise = |rival: &Candidate| best.expected && !rival.expected;
        others.iter().filter(move |rival| {
            rival.tally.frames > 0 && rival.share() >= LEAST_WORTH && !used_otherwise(rival)
        })
    };
    let fewest = if best.rigid.is_some() && rivals().next().is_none() {
        FEWEST_FRAMES
    } else {
        FEWEST_AMONG_OTHERS
    };
    // What reads as lines of text and as frames of fixed places is hardly text by chance.
    let outdone = |rival: &Candidate| {
        best.rigid.is_none() && rival.rigid.is_some() && rival.tally.frames >= FEWEST_FRAMES
    };
    let alone =
        rivals().all(|rival| rival.weight() <= MOST_RIVAL * best.weight() && !outdone(rival));
    let sure = tally.frames >= fewest
        && best.share() >= LEAST_SURE
        && best.is_firm()
        && !best.may_be_a_sister()
        && alone;
    if sure {
        return Outcome::Right(Arc::clone(&best.protocol));
    }
    Outcome::NotSure {
        best: Arc::clone(&best.protocol),
        runner_up: rivals().next().map(|rival| Arc::clone(&rival.protocol)),
    }
}

impl Candidate {
    /// The share of the bytes that it explains, 0 to 1.
    fn share(&self) -> f64 {
        let Tally {
            explained, garbled, ..
        } = self.tally;
        let (explained, garbled) = (approximate(explained), approximate(garbled));
        if explained > 0.0 {
            explained / (explained + garbled)
        } else {
            0.0
        }
    }

    /// How much it explains, and how well.
    fn weight(&self) -> f64 {
        let form = match (self.rigid, self.is_firm()) {
            (Some(_), _) => 1.0,
            (None, true) => LINES,
            (None, false) if matches!(self.protocol.layout, Layout::Columns(_)) => BARE_COLUMNS,
            (None, false) => BARE,
        };
        let Tally {
            frames,
            implausible,
            ..
        } = self.tally;
        let shown = f64::from(frames.saturating_sub(implausible)) / f64::from(frames.max(1));
        approximate(self.tally.explained) * self.share() * form * shown
    }

    /// Whether its frames are such that nothing else would look like them: of fixed places,
    /// columns under the names that the format gives them, or lines of which enough are more
    /// than bare numbers.
    fn is_firm(&self) -> bool {
        let Tally {
            frames,
            telling,
            headed,
            ..
        } = self.tally;
        self.rigid.is_some()
            || headed
            || (frames > 0 && telling.saturating_mul(2) >= frames)
            // Words of its own now and then among bare numbers.
            || (telling >= 2 && telling.saturating_mul(5) >= frames)
    }

    /// Whether the frames have the right shape too often without a meaning, or with one that
    /// the display cannot have.
    fn may_be_a_sister(&self) -> bool {
        let Tally {
            frames,
            impossible,
            implausible,
            ..
        } = self.tally;
        (impossible >= 2 && impossible.saturating_mul(2) > frames)
            || implausible.saturating_mul(10) > frames
    }

    fn score(&self) -> Score {
        let Tally {
            frames,
            readings,
            garbled,
            ..
        } = self.tally;
        Score {
            id: self.protocol.id().to_owned(),
            frames,
            garbled_bytes: garbled,
            readings,
            why: self.why(),
        }
    }

    fn why(&self) -> Vec<String> {
        let tally = &self.tally;
        if tally.frames == 0 {
            return vec!["not one frame of it".to_owned()];
        }
        let mut why = Vec::new();
        why.push(match self.rigid {
            Some(_) if self.protocol.frame_kind() == FrameKind::Block => {
                counted(tally.frames, "whole block")
            }
            Some(length) => {
                format!("{} of {length} bytes", counted(tally.frames, "whole frame"))
            }
            None => counted(tally.frames, "line"),
        });
        why.push(if tally.garbled == 0 {
            "no byte left over".to_owned()
        } else {
            let of = tally.garbled.saturating_add(tally.explained);
            format!("{} of {of} bytes left over", tally.garbled)
        });
        if self.rigid.is_none() {
            why.push(if tally.headed {
                "under the line that names the columns as this format does".to_owned()
            } else if self.is_firm() {
                "in the form that this format writes".to_owned()
            } else {
                "bare numbers, which fit other formats and other devices as well".to_owned()
            });
        }
        if self.may_be_a_sister() {
            why.push(format!(
                "but {} of the right shape that it gives no meaning: perhaps a sister format",
                counted(tally.impossible.saturating_add(tally.implausible), "frame")
            ));
        }
        if !self.expected {
            why.push(match self.protocol.ask() {
                crate::protocol::Ask::Listen => {
                    "but such a meter talks by itself, and this one was asked".to_owned()
                }
                crate::protocol::Ask::Request(_) => {
                    "but such a meter has to be asked, and was not".to_owned()
                }
            });
        }
        why
    }
}

fn counted(count: u32, what: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {what}{plural}")
}

/// A count as a number to weigh with: exact up to four billion.
fn approximate(count: u64) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
