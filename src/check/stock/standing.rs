//! How a lead stands after all attempts at it.

use crate::check::notice::Verdict;
use crate::check::stock::{Attempt, Row, What};

/// How a lead stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Its tag.
    pub tag: String,
    /// Its verdict; none if it was left out.
    pub verdict: Option<Verdict>,
    /// What is wrong with it, unless it passed.
    pub findings: Vec<String>,
    /// Whether it is to be tried again.
    pub again: bool,
    /// Where in the order of things done its last one stands.
    pub last: usize,
}

impl Standing {
    /// From what was done, in order; `most` attempts are made.
    pub(super) fn of(tag: &str, log: &[Row], most: usize) -> Self {
        let rows = || log.iter().enumerate().filter(|(_, row)| row.tag == tag);
        let attempts: Vec<&Attempt> = rows()
            .filter_map(|(_, row)| match &row.what {
                What::Done(attempt) => Some(attempt),
                What::Skipped | What::Undone(_) => None,
            })
            .collect();
        let last = rows().next_back();
        let skipped = last.is_some_and(|(_, row)| row.what == What::Skipped);
        let verdict = verdict(&attempts, most);
        let findings = match verdict {
            None | Some(Verdict::Pass) => Vec::new(),
            Some(_) => findings(&attempts),
        };
        Self {
            tag: tag.to_owned(),
            verdict,
            findings,
            again: !skipped && verdict == Some(Verdict::Retest) && attempts.len() < most,
            last: last.map_or(0, |(place, _)| place),
        }
    }

    /// Why it stands otherwise than its last attempt came out, if it does.
    pub(super) fn words(&self, last: Verdict) -> Option<&'static str> {
        match self.verdict? {
            same if same == last => None,
            Verdict::Fail => Some("stands as fail: the same was found in earlier attempts too"),
            _ => Some(
                "stands as retest: something moved when bent in an earlier attempt, and one \
                 clean attempt does not undo that",
            ),
        }
    }
}

fn verdict(attempts: &[&Attempt], most: usize) -> Option<Verdict> {
    let (last, before) = attempts.split_last()?;
    let moved = before.iter().any(|attempt| attempt.moved());
    Some(match last.verdict {
        Verdict::Fail => Verdict::Fail,
        Verdict::Retest if has_come_again(last, before) => Verdict::Fail,
        Verdict::Retest if attempts.len() >= most && has_stayed(last, before) => Verdict::Fail,
        Verdict::Pass if moved && clean(attempts) < 2 => Verdict::Retest,
        as_it_is => as_it_is,
    })
}

/// Whether what gave way when bent did so in an earlier attempt too.
fn has_come_again(last: &Attempt, before: &[&Attempt]) -> bool {
    last.gave_way().any(|found| {
        before
            .iter()
            .any(|attempt| attempt.gave_way().any(|known| known == found))
    })
}

/// Whether something was found in every attempt: cleaning and drying did not help.
fn has_stayed(last: &Attempt, before: &[&Attempt]) -> bool {
    last.found
        .iter()
        .any(|found| before.iter().all(|attempt| attempt.found.contains(found)))
}

/// How many attempts passed in a row up to the last.
fn clean(attempts: &[&Attempt]) -> usize {
    let passed = |attempt: &&&Attempt| attempt.verdict == Verdict::Pass;
    attempts.iter().rev().take_while(passed).count()
}

/// What the last attempt found, or else the last one that found something.
fn findings(attempts: &[&Attempt]) -> Vec<String> {
    let found = attempts
        .iter()
        .rev()
        .find(|attempt| !attempt.findings.is_empty());
    found.map_or_else(Vec::new, |attempt| attempt.findings.clone())
}
