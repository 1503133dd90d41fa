//! The JSON lines of a stock: a promise to those who read them, made here.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::check::notice;
use crate::check::stock::{Next, Sampling, Tally, What};
use crate::run::line::{Blind, Step, blind, step};
use crate::run::stock::Desk;
use crate::screen::Stage;

#[derive(Debug, Serialize)]
#[serde(tag = "event", rename_all = "snake_case")]
enum Line<'a> {
    Stock {
        name: &'a str,
        tags: String,
        kind: &'a str,
        sampling: Vec<String>,
        tally: Counts,
        table: Option<String>,
    },
    Lead {
        tag: &'a str,
        number: u32,
        of: Option<u32>,
        attempt: u32,
    },
    LeadDone(Box<LeadDone<'a>>),
    TagWanted {
        again: Option<String>,
    },
    Undone {
        tag: &'a str,
        tally: Counts,
    },
    Skipped {
        tag: &'a str,
        tally: Counts,
    },
    Paused,
    Verdict(Box<OnAll<'a>>),
}

#[derive(Debug, Serialize)]
struct LeadDone<'a> {
    tag: &'a str,
    attempt: u32,
    verdict: &'a str,
    /// How the lead stands after all attempts.
    stands: Option<&'a str>,
    reasons: &'a [String],
    findings: &'a [String],
    not_covered: Option<&'a str>,
    steps: Vec<Step<'a>>,
    blind_spot: Option<Blind>,
    recording: Option<&'a str>,
    tally: Counts,
    next: Option<String>,
}

#[derive(Debug, Serialize)]
struct OnAll<'a> {
    check: &'a str,
    verdict: &'a str,
    reasons: &'a [String],
    findings: Vec<String>,
    not_covered: Option<&'a str>,
    steps: [u8; 0],
    blind_spot: Option<Blind>,
    recording: Option<&'a str>,
    stock: Whole<'a>,
}

#[derive(Debug, Serialize)]
struct Whole<'a> {
    name: &'a str,
    table: Option<String>,
    #[serde(flatten)]
    tally: Counts,
}

#[derive(Debug, Serialize)]
struct Counts {
    pass: u32,
    fail: u32,
    retest: u32,
    again: u32,
    skipped: u32,
    left: Option<u32>,
    of: Option<u32>,
    findings: BTreeMap<String, u32>,
}

impl From<Tally> for Counts {
    fn from(tally: Tally) -> Self {
        Self {
            pass: tally.pass,
            fail: tally.fail,
            retest: tally.retest,
            again: tally.again,
            skipped: tally.skipped,
            left: tally.left(),
            of: tally.of,
            findings: tally.findings.into_iter().collect(),
        }
    }
}

/// What is to be done.
pub(super) fn beforehand(desk: &Desk) -> String {
    let plan = desk.stock.plan();
    let sampling = plan.sampling.as_ref();
    text(&Line::Stock {
        name: &plan.name,
        tags: plan.tags.to_string(),
        kind: &plan.lead.kind.id,
        sampling: sampling.map(Sampling::beforehand).unwrap_or_default(),
        tally: desk.stock.tally().into(),
        table: desk.table(),
    })
}

/// A lead's turn begins.
pub(super) fn lead(desk: &Desk) -> Option<String> {
    let turn = desk.turn.as_ref()?;
    Some(text(&Line::Lead {
        tag: &turn.tag,
        number: turn.number,
        of: turn.of,
        attempt: turn.attempt,
    }))
}

/// A lead was judged.
pub(super) fn lead_done(desk: &Desk) -> Option<String> {
    let (row, attempt, result) = desk.last()?;
    let standing = desk.stock.standing(&row.tag);
    Some(text(&Line::LeadDone(Box::new(LeadDone {
        tag: &row.tag,
        attempt: attempt.number,
        verdict: result.verdict.word(),
        stands: standing
            .and_then(|lead| lead.verdict)
            .map(notice::Verdict::word),
        reasons: &result.reasons,
        findings: &result.findings,
        not_covered: result.not_covered.as_deref(),
        steps: result.steps.iter().map(step).collect(),
        blind_spot: result.blind_spot.as_ref().map(blind),
        recording: attempt.kept.recording.as_deref(),
        tally: desk.stock.tally().into(),
        next: desk.coming(),
    }))))
}

/// A tag is wanted.
pub(super) fn tag_wanted(desk: &Desk) -> String {
    let again = match desk.stock.next() {
        Next::Ask(again) => again.map(|turn| turn.tag),
        Next::Lead(_) | Next::Over => None,
    };
    text(&Line::TagWanted { again })
}

/// Something was undone, left out, or paused.
pub(super) fn changed(desk: &Desk) -> Option<String> {
    let tally = || desk.stock.tally().into();
    Some(text(&match &desk.changed {
        Some(row) => match row.what {
            What::Undone(_) => Line::Undone {
                tag: &row.tag,
                tally: tally(),
            },
            What::Skipped | What::Done(_) => Line::Skipped {
                tag: &row.tag,
                tally: tally(),
            },
        },
        None if desk.stage == Stage::Paused => Line::Paused,
        None => return None,
    }))
}

/// The verdict on the whole: always the last line.
pub(super) fn verdict(desk: &Desk) -> String {
    let tally = desk.stock.tally();
    text(&Line::Verdict(Box::new(OnAll {
        check: crate::check::lead::NAME,
        verdict: desk.verdict.word(),
        reasons: &desk.reasons,
        findings: tally
            .findings
            .iter()
            .map(|(finding, _)| finding.clone())
            .collect(),
        not_covered: None,
        steps: [],
        blind_spot: None,
        recording: None,
        stock: Whole {
            name: &desk.stock.plan().name,
            table: desk.table(),
            tally: tally.into(),
        },
    })))
}

fn text(line: &Line<'_>) -> String {
    // Strings and numbers only: nothing in a line can fail to be written.
    serde_json::to_string(line).unwrap_or_default()
}
