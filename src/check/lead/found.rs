//! What is wrong with a lead, joined up from what its steps found.

use crate::check::lead::LeadOptions;
use crate::check::lead::derive::{Derived, LeadStep, crossing as crossing_step};
use crate::check::lead::steps;
use crate::check::notice::{Finding, StepResult};
use crate::check::step::{Reach, StepPlan};
use crate::circuit::lead::LeadKind;

/// Two conductors that both read open end to end may be whole and crossed: the step that
/// tells, if it was not taken yet.
pub(super) fn crossing(
    options: &LeadOptions,
    derived: &Derived,
    results: &[StepResult],
) -> Option<StepPlan> {
    let (first, second) = two_open(derived, results)?;
    let step = crossing_step(&options.kind, first, second)?;
    let taken = results.iter().any(|result| result.step == step.name);
    (!taken).then(|| steps::plan(options, &step))
}

/// Whether a result is that of the step that tells crossed from parted: it says what is wrong,
/// and is not itself right or wrong.
pub(super) fn is_crossing(derived: &Derived, result: &StepResult) -> bool {
    !steps::is_of_probes(&result.step) && derived.find(&result.step).is_none()
}

/// What is wrong, in a few words each.
pub(super) fn findings(
    kind: &LeadKind,
    derived: &Derived,
    results: &[StepResult],
) -> Vec<String> {
    let crossed = crossed(kind, derived, results);
    let mut words = Vec::new();
    for result in results {
        let Some((finding, step)) = result.finding.zip(derived.find(&result.step)) else {
            continue;
        };
        let is_one_of_crossed = crossed.as_ref().is_some_and(|crossed| {
            finding == Finding::Open && step.path.iter().any(|wire| crossed.pair.contains(wire))
        });
        if !is_one_of_crossed {
            words.push(in_words(kind, finding, step));
        }
    }
    words.extend(crossed.map(|crossed| crossed.words));
    words
}

/// Two conductors seen to be crossed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Crossed {
    /// Their numbers.
    pair: [usize; 2],
    /// The words for it.
    pub(super) words: String,
}

/// The conductors seen to be crossed, if two are.
pub(super) fn crossed(
    kind: &LeadKind,
    derived: &Derived,
    results: &[StepResult],
) -> Option<Crossed> {
    let (first, second) = two_open(derived, results)?;
    let step = crossing_step(kind, first, second)?;
    let result = results.iter().find(|result| result.step == step.name)?;
    // Seen closed, whatever it reads.
    result.ohms?;
    let name = |wire: usize| kind.conductors.get(wire).map_or("", |c| c.name.as_str());
    Some(Crossed {
        pair: [first, second],
        words: format!("{} and {} crossed in one plug", name(first), name(second)),
    })
}

/// The first two conductors that read open end to end.
fn two_open(derived: &Derived, results: &[StepResult]) -> Option<(usize, usize)> {
    let mut open = results.iter().filter_map(|result| {
        let step = derived.find(&result.step)?;
        let alone = step.reach == Reach::Touch && step.shorted.is_empty();
        let open = alone && result.finding == Some(Finding::Open);
        step.path.first().copied().filter(|_| open)
    });
    open.next().zip(open.next())
}

fn in_words(kind: &LeadKind, finding: Finding, step: &LeadStep) -> String {
    let place = place(kind, step);
    let sign = step
        .apart
        .filter(|_| finding == Finding::Joined)
        .and_then(|(a, b)| kind.sign_of(a, b))
        .map_or_else(String::new, |means| format!(" ({means})"));
    match finding {
        Finding::Open => format!("{place} open"),
        Finding::OpensWhenBent => format!("{place} opens when bent"),
        Finding::ContactLost => format!("contact lost on {place}: lifted probe or parted"),
        Finding::HighResistance => format!("{place} of high resistance"),
        Finding::LevelMoves => format!("{place} changes when bent"),
        Finding::Joined => format!("{place} joined{sign}"),
        Finding::TouchesWhenBent => format!("{place} touch when bent"),
        Finding::Leakage => format!("leakage between {place}"),
    }
}

/// Between what, or in which conductors, a step found something.
fn place(kind: &LeadKind, step: &LeadStep) -> String {
    if let Some((a, b)) = step.apart.filter(|_| step.path.is_empty()) {
        return format!("{} and {}", kind.net_name(a), kind.net_name(b));
    }
    let name = |number: &usize| Some(kind.conductors.get(*number)?.name.as_str());
    let names: Vec<&str> = step.path.iter().filter_map(name).collect();
    names.join(" or ")
}
