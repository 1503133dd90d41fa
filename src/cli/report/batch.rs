//! The page of a batch, from the ledger alone.

use std::collections::BTreeMap;

use crate::cli::ledger::batch::{Asked as Question, Proof};
use crate::cli::ledger::out;
use crate::cli::report::find::Asked;
use crate::cli::report::subject::SubjectArguments;
use crate::cli::report::{Form, Page};
use crate::cli::status::Failure;
use crate::reading::Ohms;
use crate::record::ledger::{BatchFigures, Filter, Past};
use crate::record::report::{BatchInput, PieceLine, batch_html, batch_markdown};

/// How sure the bound on the bad ones is, as for `ledger batch`.
const CONFIDENCE: f64 = 0.95;

/// Makes the page.
pub(super) fn page(
    asked: &Asked<'_>,
    batch: &str,
    subject: &SubjectArguments,
    form: Form,
) -> Result<Page, Failure> {
    if form == Form::Label {
        return Err(Failure::Usage(
            "a label is for one lead: give its tag instead of the batch".to_owned(),
        ));
    }
    let filter = Filter {
        batch: Some(batch.to_owned()),
        since: asked.since.map(str::to_owned),
        ..Filter::default()
    };
    let failed = |error| Failure::from(asked.file.failed(error));
    let ledger = asked.file.to_read()?;
    let pasts = ledger.pasts(&filter).map_err(failed)?;
    let (Some(first), Some(last)) = (pasts.first(), pasts.last()) else {
        return Err(Failure::Usage(format!(
            "the ledger {} has no run of batch `{}`",
            asked.file.path().display(),
            out::harmless(batch)
        )));
    };
    let figures = BatchFigures::of(&pasts);
    if figures.all.runs == 0 {
        return Err(Failure::Usage(format!(
            "every run of batch `{}` was stopped or undone: there is nothing to report",
            out::harmless(batch)
        )));
    }
    let question = Question {
        lot_size: None,
        confidence: CONFIDENCE,
    };
    let proof = Proof::of(&figures, &question)?;
    let lot = first.line.lot.clone();
    let lot = lot.filter(|lot| pasts.iter().all(|past| past.line.lot.as_ref() == Some(lot)));
    let input = BatchInput {
        subject: subject.of_batch(batch, lot),
        from: day(&first.line.began),
        to: day(&last.line.began),
        figures,
        proof: proof.map_or_else(Vec::new, |proof| proof.sentences),
        pieces: pieces(&pasts),
    };
    let text = match form {
        Form::Markdown => batch_markdown(&input),
        Form::Html | Form::Label => batch_html(&input),
    };
    let name = Some(batch.to_owned());
    Ok(Page { text, name })
}

fn day(began: &str) -> String {
    out::local(began).chars().take(10).collect()
}

/// Each piece as its last run left it, in the order of their first runs.
fn pieces(pasts: &[Past]) -> Vec<PieceLine> {
    let mut places: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    let mut pieces: Vec<PieceLine> = Vec::new();
    for past in pasts.iter().filter(|past| !past.line.judges_nothing()) {
        let place = match &past.line.tag {
            Some(tag) => *places.entry((&past.line.kind, tag)).or_insert(pieces.len()),
            None => pieces.len(),
        };
        let line = piece(past);
        match pieces.get_mut(place) {
            Some(known) => {
                *known = PieceLine {
                    attempts: known.attempts + 1,
                    failed_before: known.failed_before || known.verdict == "fail",
                    ..line
                };
            }
            None => pieces.push(line),
        }
    }
    pieces
}

fn piece(past: &Past) -> PieceLine {
    let ohms = past.steps.iter().filter_map(|step| {
        let told = !matches!(step.step.as_str(), "tare" | "probes");
        let ohms = Ohms(step.ohms.filter(|_| told)?);
        Some((step.step.clone(), ohms))
    });
    let wrong = past.steps.iter().filter(|step| step.verdict != "pass");
    PieceLine {
        tag: past.line.tag.clone(),
        verdict: past.line.verdict.clone(),
        attempts: 1,
        failed_before: false,
        ohms: ohms.collect(),
        wrong: wrong.map(|step| step.step.clone()).collect(),
    }
}
