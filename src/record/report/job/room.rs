//! How much of a job one sheet has room for. Verdicts and notes always; then the values, their
//! bands, and last what the readings did, where something was seen first.

use crate::check::notice::Verdict;
use crate::record::report::input::{RunReport, StateRow, Trace};
use crate::record::report::job::{JobInput, Shown};
use crate::record::report::page;

/// Heights in millimetres, somewhat on the safe side. What is left between the margins of
/// Letter, the shorter of the two papers.
const SHEET: f64 = 255.0;
const HEAD_AND_FOOT: f64 = 51.0;
const LINE: f64 = 3.6;
const ROW: f64 = 4.7;
const ROW_WITH_BAND: f64 = 7.7;
const HEADING: f64 = 10.0;
/// Three traces side by side, or a track from end to end.
const FIGURES: f64 = 26.0;
const NOTE_LINE: f64 = 3.1;
/// Characters on a line: of the notes in their three columns, of a reason in the list of checks,
/// of one under a value.
const NOTE_LETTERS: usize = 46;
const WHY_LETTERS: usize = 68;
const LETTERS: usize = 95;
/// Across the sheet, and of a check's name.
const WIDE_LETTERS: usize = 115;
const NAME_LETTERS: usize = 20;

/// Which values are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Values {
    /// All of them with their bands.
    Bands,
    /// All of them.
    All,
    /// Those of checks that did not pass.
    Others,
    /// None: the verdicts and reasons alone.
    None,
    /// None, of each check the first reason alone, and of the notes those that hold of several.
    Short,
}

/// What is shown.
#[derive(Debug)]
pub(super) struct Room<'a> {
    /// Which values.
    pub(super) values: Values,
    /// The traces drawn, by part.
    pub(super) traces: Vec<Vec<&'a Trace>>,
    /// Whether the tracks are drawn, by part.
    pub(super) tracks: Vec<bool>,
    /// So many traces and tracks are left out.
    pub(super) left_out: usize,
}

impl Values {
    /// Whether those of this check are shown.
    pub(super) fn of(self, run: &RunReport) -> bool {
        match self {
            Self::Bands | Self::All => true,
            Self::Others => run.verdict != Verdict::Pass,
            Self::None | Self::Short => false,
        }
    }

    /// Whether only notes that hold of several checks are told.
    pub(super) fn is_brief(self) -> bool {
        self == Self::Short
    }

    /// The reasons that the list of checks tells.
    pub(super) fn reasons(self, run: &RunReport) -> &[String] {
        match self {
            _ if run.verdict == Verdict::Pass => &[],
            Self::Short => run.reasons.get(..1).unwrap_or_default(),
            _ => &run.reasons,
        }
    }
}

impl<'a> Room<'a> {
    pub(super) fn of(input: &JobInput, parts: &[Shown<'a>]) -> Self {
        let left = |values: Values| {
            SHEET
                - HEAD_AND_FOOT
                - head(input)
                - notes(input, values)
                - checks(input, values)
                - shown(input, parts, values)
        };
        let values = [Values::Bands, Values::All, Values::Others, Values::None]
            .into_iter()
            .find(|values| left(*values) >= 0.0)
            .unwrap_or(Values::Short);
        let mut room = Self {
            values,
            traces: parts.iter().map(|_| Vec::new()).collect(),
            tracks: parts.iter().map(|_| false).collect(),
            left_out: 0,
        };
        room.draw(parts, left(values));
        room
    }

    /// Tracks, then traces with something marked, then the others, while there is room.
    fn draw(&mut self, parts: &[Shown<'a>], mut left: f64) {
        for (part, drawn) in parts.iter().zip(&mut self.tracks) {
            let height = f64_of(part.tracks.len()) * FIGURES;
            *drawn = !part.tracks.is_empty() && height <= left;
            if *drawn {
                left -= height;
            } else {
                self.left_out += part.tracks.len();
            }
        }
        for marked in [true, false] {
            for (part, drawn) in parts.iter().zip(&mut self.traces) {
                for trace in &part.traces {
                    if trace.marks.is_empty() == marked {
                        continue;
                    }
                    let starts_a_row = drawn.len().is_multiple_of(3);
                    if !starts_a_row || left >= FIGURES {
                        left -= if starts_a_row { FIGURES } else { 0.0 };
                        drawn.push(*trace);
                    } else {
                        self.left_out += 1;
                    }
                }
            }
        }
        // In the order of the work.
        for drawn in &mut self.traces {
            drawn.sort_by_key(|trace| trace.from);
        }
    }
}

/// What is told under a value: of one that did not pass what the list of checks does not say.
pub(super) fn told(run: &RunReport, row: &StateRow) -> Vec<String> {
    if row.verdict == Some(Verdict::Pass) {
        Vec::new()
    } else {
        page::unsaid(run, row)
    }
}

/// What the head has beyond a line of each: what is no measurement, the verdict's reason.
fn head(input: &JobInput) -> f64 {
    let made_by = input.made_by();
    let box_height = if made_by.is_empty() { 0.0 } else { 4.0 };
    box_height
        + lines(&made_by, WIDE_LETTERS) * LINE
        + more_lines(&[input.reason()], WIDE_LETTERS)
}

fn notes(input: &JobInput, values: Values) -> f64 {
    let brief = values.is_brief();
    let sentences = [
        input.blind_spots(),
        input.cautions(brief),
        input.unchecked(brief),
    ];
    let lines: usize = sentences
        .iter()
        .flatten()
        .map(|sentence| sentence.chars().count().div_ceil(NOTE_LETTERS))
        .sum();
    (f64_of(lines) / 3.0 + 4.0) * NOTE_LINE
}

/// The list of checks.
fn checks(input: &JobInput, values: Values) -> f64 {
    let row = |name: &str, more: usize, run: &RunReport| {
        let named = (name.chars().count() + more).div_ceil(NAME_LETTERS);
        let lines = lines(values.reasons(run), WHY_LETTERS).max(f64_of(named));
        ROW + (lines - 1.0).max(0.0) * LINE
    };
    let parts = input.parts.iter().map(|part| {
        let before = part.before.as_ref();
        let before = before.map_or(0.0, |before| row(&part.name, ", before".len(), before));
        before + row(&part.name, 0, &part.run)
    });
    parts.sum()
}

/// The values, under their headings.
fn shown(input: &JobInput, parts: &[Shown<'_>], values: Values) -> f64 {
    let row_height = if values == Values::Bands {
        ROW_WITH_BAND
    } else {
        ROW
    };
    input
        .parts
        .iter()
        .zip(parts)
        .filter(|(part, _)| values.of(&part.run))
        .map(|(part, shown)| {
            let rows = shown.rows.iter();
            let told = rows.map(|row| lines(&told(&part.run, row), LETTERS) * LINE);
            HEADING + f64_of(shown.rows.len()) * row_height + told.sum::<f64>()
        })
        .sum()
}

/// Lines beyond the first.
fn more_lines(sentences: &[String], letters: usize) -> f64 {
    (lines(sentences, letters) - 1.0).max(0.0) * LINE
}

fn lines(sentences: &[String], letters: usize) -> f64 {
    let all: usize = sentences
        .iter()
        .map(|sentence| sentence.chars().count() + 2)
        .sum();
    f64_of(all.div_ceil(letters))
}

fn f64_of(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
