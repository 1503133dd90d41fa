//! Which rows of a table are the same fault, and what a fault that comes and goes leaves behind
//! while it holds.

use std::collections::BTreeMap;

use crate::circuit::forecast::{Ailment, Cause, Hypothesis};

/// What makes a fault one fault, whatever its size.
type Key<'a> = Vec<(&'a str, Ailment)>;

fn key<'a>(causes: impl Iterator<Item = &'a Cause>) -> Key<'a> {
    let mut key: Key<'_> = causes
        .map(|cause| (cause.part.as_str(), cause.ailment))
        .collect();
    key.sort_unstable();
    key
}

fn comes_and_goes(hypothesis: &Hypothesis) -> bool {
    let mut causes = hypothesis.causes.iter();
    causes.any(|cause| cause.ailment == Ailment::Intermittent)
}

/// For each row the first row of the same fault, which stands for it.
pub(super) fn families(hypotheses: &[Hypothesis]) -> Vec<usize> {
    let mut first = BTreeMap::new();
    let keys = hypotheses.iter().map(|row| key(row.causes.iter()));
    keys.enumerate()
        .map(|(index, key)| *first.entry(key).or_insert(index))
        .collect()
}

/// For each row the row that holds while its fault does not show: itself, unless it comes and
/// goes; then the one of its other causes, or the sound one.
pub(super) fn holding(hypotheses: &[Hypothesis], families: &[usize]) -> Vec<usize> {
    let singles: BTreeMap<Key<'_>, usize> = hypotheses
        .iter()
        .zip(families)
        .map(|(row, family)| (key(row.causes.iter()), *family))
        .collect();
    let rows = hypotheses.iter().enumerate();
    rows.map(|(index, row)| {
        if !comes_and_goes(row) {
            return index;
        }
        let others = row
            .causes
            .iter()
            .filter(|cause| cause.ailment != Ailment::Intermittent);
        singles.get(&key(others)).copied().unwrap_or(0)
    })
    .collect()
}
