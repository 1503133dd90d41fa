//! The faults that explain what was read, in words: which, how likely, and what stays a question
//! of values that nobody gave.

use std::collections::BTreeSet;

use crate::circuit::Hypothesis;
use crate::circuit::diagnosis::{Case, Diagnosis, Group};

/// Explanations told, and faults told of a group that reads alike.
const TOLD: usize = 3;
/// An explanation less likely than this is not told.
const LEAST: f64 = 0.02;
/// From here on nearly certain.
const CERTAIN: f64 = 0.99;
/// Readings as far off as these come less often than this, were the explanation true.
const POORLY: f64 = 0.05;

/// The faults of a group: the one that the next probe looks at first, and none left out where
/// only one would be. Whether there are several.
fn named(case: &Case<'_>, group: &Group, probe: Option<&str>) -> (String, bool) {
    let mut families = BTreeSet::new();
    let rows = group
        .rows
        .iter()
        .filter(|row| families.insert(case.family(**row)));
    let mut told: Vec<&Hypothesis> = rows.filter_map(|row| case.hypothesis(*row)).collect();
    let probed = |one: &Hypothesis| {
        let mut parts = one.causes.iter().map(|cause| cause.part.as_str());
        // Not where only one of its terminals is named.
        let at = |probe: &str, part: &str| {
            let own = format!("{part}'s");
            probe.contains(part) && !probe.contains(&own)
        };
        probe.is_some_and(|probe| parts.any(|part| at(probe, part)))
    };
    // One fault is named before two.
    told.sort_by_key(|one| (one.causes.len() > 1, !probed(one)));
    let alone = told.iter().filter(|one| one.causes.len() < 2).count();
    let mut shown = if alone > 0 { alone.min(TOLD) } else { TOLD };
    if told.len() <= shown + 1 {
        shown = told.len();
    }
    let (head, joint) = if alone == 0 {
        ("two faults at once: ", "; or ")
    } else {
        ("", ", or ")
    };
    let names = told.iter().take(shown).map(|one| {
        if alone > 0 && one.causes.len() > 1 {
            format!("two faults at once: {}", one.name)
        } else {
            one.name.clone()
        }
    });
    let text = format!("{head}{}", names.collect::<Vec<_>>().join(joint));
    let more = told.len() - shown;
    let text = match more {
        0 => text,
        _ => format!("{text}{joint}one of {more} more that read alike"),
    };
    (text, told.len() > 1)
}

/// How likely an explanation is, in words: never a certainty, and what does not fit it is said.
fn chance(probability: f64, several: bool, misfit: Option<String>) -> String {
    let percent = 100.0 * probability;
    let likely = match &misfit {
        Some(_) if probability >= CERTAIN => "likeliest".to_owned(),
        None if probability >= CERTAIN => "nearly certain".to_owned(),
        _ => format!("about {percent:.0} %"),
    };
    let of = if several { "one of these: " } else { "" };
    let but = misfit.map_or(String::new(), |misfit| format!(", but {misfit}"));
    format!("({of}{likely}{but})")
}

/// What the likeliest explanation leaves unexplained.
fn misfit(case: &Case<'_>, found: &Diagnosis, group: &Group) -> Option<String> {
    let row = group.leader();
    let stray = found.fit.stray.iter();
    // What comes and goes was caught while it showed.
    let stray = stray.filter(|at| !case.shows(row, **at)).count();
    match stray {
        0 if found.fit.level >= POORLY => None,
        0 => Some("the readings fit it poorly".to_owned()),
        1 => Some("one reading does not fit it".to_owned()),
        more => Some(format!("{more} readings do not fit it")),
    }
}

/// The likeliest explanations, each with its chance; `probe` is what is measured next.
pub(super) fn likeliest(
    case: &Case<'_>,
    found: &Diagnosis,
    probe: Option<&str>,
) -> Vec<String> {
    if found.fit.nothing_fits() {
        // Too odd for a sound one, and not seen often enough for a rare fault to be believed.
        let next = found.groups.get(1);
        if let Some(next) = next.filter(|_| found.first().is_some_and(Group::holds_sound)) {
            let (name, _) = named(case, next, probe);
            return vec![format!(
                "{name} (the likeliest fault, if it reads so again)"
            )];
        }
        return vec![
            "nothing on the list explains these readings, neither one fault nor two of the \
             likelier ones: more faults than two, or a job file that is not this instrument"
                .to_owned(),
        ];
    }
    let groups = found.groups.iter().enumerate();
    groups
        .filter(|(_, group)| group.probability >= LEAST)
        .take(TOLD)
        .map(|(place, group)| {
            let off = (place == 0).then(|| misfit(case, found, group)).flatten();
            let (name, several) = if group.holds_sound() {
                ("nothing wrong that these readings show".to_owned(), false)
            } else {
                named(case, group, probe)
            };
            format!("{name} {}", chance(group.probability, several, off))
        })
        .collect()
}

/// The parts whose value nobody gave, where another value of theirs alone may explain all that
/// was read: then nothing is known to be wrong.
pub(super) fn unknown_values(case: &Case<'_>, found: &Diagnosis) -> Option<String> {
    if found.fit.nothing_fits() {
        return None;
    }
    let mut chance = 0.0;
    let mut parts = BTreeSet::new();
    for (row, probability) in found.probabilities.iter().enumerate() {
        let unknown = case.unknown_values(row);
        if !unknown.is_empty() {
            chance += probability;
            if *probability >= LEAST {
                parts.extend(unknown);
            }
        }
    }
    let all: Vec<&str> = parts.into_iter().collect();
    (chance >= LEAST && !all.is_empty()).then(|| asked_for(&all))
}

/// What is asked where only typical values are known of parts.
pub(super) fn asked_for(parts: &[&str]) -> String {
    format!(
        "the job gives no value for {}, and what is typical of the layout may not be what is in \
         it: give its ohms in the job file and check again",
        parts.join(" or ")
    )
}
