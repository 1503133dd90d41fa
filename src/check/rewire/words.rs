//! The sentences of a rewire: what a reading is worth, which faults explain it, what stays dark.

use std::collections::{BTreeMap, BTreeSet};

use crate::check::notice::{Finding, Proof, StepResult, Verdict};
use crate::check::rewire::plan::{ValuePlan, shown};
use crate::circuit::diagnosis::reasons::read;
use crate::circuit::diagnosis::standing::Lies;
use crate::circuit::diagnosis::{Case, Diagnosis, Group, Meter, Observation, Seen};
use crate::circuit::{Ailment, Circuit, Expectation, Forecasts, Place};
use crate::reading::Ohms;
use crate::signal::{Accuracies, uncertainty};

/// Explanations told.
const TOLD: usize = 3;
/// An explanation less likely than this is not told.
const LEAST: f64 = 0.02;
/// Readings told for and against.
const READINGS: usize = 4;

/// What a state's reading is worth by itself.
pub(super) fn result(
    plan: &ValuePlan,
    seen: Option<Observation>,
    proof: Proof,
    (meter, accuracy, tared): (&Meter, &Accuracies, bool),
    expected: &str,
) -> StepResult {
    let done = |verdict, ohms, finding, reasons| StepResult {
        step: plan.name.clone(),
        verdict,
        ohms,
        proof,
        finding,
        // Nothing is bent here.
        coverage: 0.0,
        reasons,
    };
    let Some(seen) = seen else {
        let why = "not read: nothing came to rest, and nobody said that it was set".to_owned();
        return done(Verdict::Retest, None, None, vec![why]);
    };
    let band = plan.band(meter, seen.resolution);
    let lies = band.lies(&seen);
    let ohms = match seen.seen {
        Seen::Ohms(ohms) => Some(Ohms(ohms)),
        Seen::Over { .. } => None,
    };
    let doubt = ohms.map_or(String::new(), |ohms| {
        let step = Some(Ohms(seen.resolution)).filter(|step| step.0 > 0.0);
        let off = uncertainty(ohms, step, tared, accuracy.at(ohms));
        let basis = if accuracy.at(ohms).is_some() {
            ""
        } else {
            " by its digits alone, the meter's accuracy is not stated"
        };
        format!(" (±{off}{basis})")
    });
    let told = plan.told_band(meter, Some(&seen));
    let text = format!("{}{doubt}, {told} expected", read(&seen));
    match lies {
        _ if seen.unsteady => done(Verdict::Retest, ohms, None, vec![text]),
        Lies::Within => done(Verdict::Pass, ohms, None, vec![text, expected.to_owned()]),
        Lies::Unsure => {
            let why = format!("{text}: on a range that does not reach there");
            done(Verdict::Retest, ohms, None, vec![why])
        }
        Lies::Outside => {
            let (verdict, times) = if seen.times > 1 {
                (Verdict::Fail, "; it came again")
            } else {
                (Verdict::Retest, "; it did not come again")
            };
            let finding = match ohms {
                None => Finding::Open,
                Some(ohms) if ohms.0 > band.most => Finding::HighResistance,
                Some(_) => Finding::Joined,
            };
            let reasons = vec![format!("{text}{times}"), expected.to_owned()];
            done(verdict, ohms, Some(finding), reasons)
        }
    }
}

/// The limits of a state in words, with their reason.
pub(super) fn limits(expected: &Expectation, table: &Forecasts) -> String {
    let likely = expected.likely();
    let sentence = expected.sentence(&table.spreads);
    match likely {
        [low, high] if low.is_finite() => format!(
            "{sentence} Nineteen of twenty read {} to {}. The meter's own limit comes on top.",
            Ohms(low),
            Ohms(high)
        ),
        _ => sentence,
    }
}

/// The faults of a group: one name where it is one, else the first few.
fn named(case: &Case<'_>, group: &Group) -> String {
    let mut families = BTreeSet::new();
    let rows = group
        .rows
        .iter()
        .filter(|row| families.insert(case.family(**row)));
    let names: Vec<&str> = rows
        .filter_map(|row| Some(case.hypothesis(*row)?.name.as_str()))
        .collect();
    let told: Vec<&str> = names.iter().copied().take(TOLD).collect();
    let more = names.len() - told.len();
    let mut text = told.join(", or ");
    if more > 0 {
        text = format!("{text}, or one of {more} more that read alike");
    }
    text
}

/// The likeliest explanations, each with its chance.
pub(super) fn likeliest(case: &Case<'_>, found: &Diagnosis) -> Vec<String> {
    if found.fit.nothing_fits() {
        return vec![
            "nothing on the list explains these readings: more than one fault, or a job file \
             that is not this instrument"
                .to_owned(),
        ];
    }
    let groups = found
        .groups
        .iter()
        .filter(|group| group.probability >= LEAST);
    groups
        .take(TOLD)
        .map(|group| {
            let percent = 100.0 * group.probability;
            if group.holds_sound() {
                format!("nothing wrong that these readings show ({percent:.0} %)")
            } else {
                format!("{} ({percent:.0} %)", named(case, group))
            }
        })
        .collect()
}

/// The weightiest readings for and against the likeliest explanation.
pub(super) fn evidence(case: &Case<'_>, found: &Diagnosis) -> Vec<String> {
    let reasons = found.reasons(case);
    reasons
        .into_iter()
        .take(READINGS)
        .map(|one| one.text)
        .collect()
}

/// What no measurement of these can show, from the circuit.
pub(super) fn dark(
    table: &Forecasts,
    circuit: &Circuit,
    (planned, meter): (&[usize], &Meter),
) -> String {
    let seen: BTreeSet<usize> = planned
        .iter()
        .flat_map(|index| shown(table, *index, meter))
        .collect();
    let mut parts: BTreeMap<&'static str, BTreeSet<&str>> = BTreeMap::new();
    let rows = table.hypotheses.iter().enumerate().skip(1);
    for (_, hypothesis) in rows.filter(|(row, _)| !seen.contains(row)) {
        for cause in &hypothesis.causes {
            let what = match (cause.place, cause.ailment) {
                (Place::Capacitor, Ailment::Open | Ailment::WrongValue) => {
                    "open or wrong capacitors, and with them the tone side"
                }
                (_, Ailment::Swapped) => "wires changed over, as hot and ground of a pickup",
                (_, Ailment::Open) => "open",
                (_, Ailment::Intermittent | Ailment::HighResistance) => continue,
                (_, Ailment::Short | Ailment::ShortToGround) => "shorts",
                (_, Ailment::WrongValue) => "wrong values within the bands",
            };
            parts.entry(what).or_default().insert(cause.part.as_str());
        }
    }
    let mut said: Vec<String> = parts
        .into_iter()
        .map(|(what, parts)| format!("{what}: {}", some(&parts)))
        .collect();
    said.push(
        "joints of a few ohms where a pickup reads thousands, and what opens only now and then \
         while it holds"
            .to_owned(),
    );
    if circuit.active() {
        said.push("an active circuit's pickups: the jack shows its electronics".to_owned());
    }
    format!(
        "not to be seen at the jack with direct current: {}",
        said.join("; ")
    )
}

fn some(parts: &BTreeSet<&str>) -> String {
    const MOST: usize = 4;
    let told: Vec<&str> = parts.iter().copied().take(MOST).collect();
    let more = parts.len() - told.len();
    if more > 0 {
        format!("{} and {more} more", told.join(", "))
    } else {
        told.join(", ")
    }
}
