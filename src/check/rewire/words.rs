//! The sentences of a rewire: what a reading is worth, which faults explain it, what stays dark.

use std::collections::{BTreeMap, BTreeSet};

use crate::check::notice::{Finding, Proof, StepResult, Verdict};
use crate::check::rewire::plan::{ValuePlan, shown};
use crate::check::rewire::value::End;
use crate::circuit::diagnosis::reasons::read;
use crate::circuit::diagnosis::standing::Lies;
use crate::circuit::diagnosis::{Case, Diagnosis, Meter, Observation, Seen};
use crate::circuit::{Ailment, Circuit, Expectation, Forecasts, Place};
use crate::reading::{Ohms, Seconds};
use crate::signal::{Accuracies, uncertainty};

/// Readings told for and against.
const READINGS: usize = 4;

/// What a state's reading is worth by itself.
pub(super) fn result(
    plan: &ValuePlan,
    (end, proof, wait): (End, Proof, Seconds),
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
    let Some(seen) = end.seen() else {
        return done(Verdict::Retest, None, None, vec![unread(end, wait)]);
    };
    let band = plan.band(meter, seen.resolution);
    let ohms = match seen.seen {
        Seen::Ohms(ohms) => Some(Ohms(ohms)),
        Seen::Over { .. } => None,
    };
    let doubt = doubt(&seen, tared, accuracy);
    let told = plan.told_band(meter, Some(&seen));
    let text = format!("{}{doubt}, {told} expected", read(&seen));
    match band.lies(&seen) {
        _ if seen.unsteady => done(Verdict::Retest, ohms, None, vec![text]),
        Lies::Within => {
            let coarse = plan.band(meter, 0.0).lies(&seen) == Lies::Outside;
            let mut reasons = vec![text, expected.to_owned()];
            if coarse {
                reasons.push(format!(
                    "the band is wider here by the reading's coarse digits, {} each: a lower \
                     range tells more",
                    Ohms(seen.resolution)
                ));
            }
            done(Verdict::Pass, ohms, None, reasons)
        }
        Lies::Unsure => {
            let why = format!("{text}: on a range that does not reach there");
            done(Verdict::Retest, ohms, None, vec![why])
        }
        Lies::Outside => {
            let typical = plan.only_typical(&seen);
            let (verdict, times) = match (seen.times > 1, typical) {
                (true, false) => (Verdict::Fail, "; it came again"),
                (true, true) => (Verdict::Retest, "; it came again"),
                (false, _) => (Verdict::Retest, "; it did not come again"),
            };
            let finding = match ohms {
                None => Finding::Open,
                Some(ohms) if ohms.0 > band.most => Finding::HighResistance,
                Some(_) => Finding::Joined,
            };
            let mut reasons = vec![format!("{text}{times}"), expected.to_owned()];
            reasons.extend(typical.then(|| {
                let parts = plan.typical.join(", ");
                format!("only typical values are known of {parts}: give theirs in the job file")
            }));
            done(verdict, ohms, Some(finding), reasons)
        }
    }
}

/// How far a reading may be off.
fn doubt(seen: &Observation, tared: bool, accuracy: &Accuracies) -> String {
    let Seen::Ohms(ohms) = seen.seen else {
        return String::new();
    };
    let stated = accuracy.at(Ohms(ohms));
    let step = Some(Ohms(seen.resolution)).filter(|step| step.0 > 0.0);
    let off = uncertainty(Ohms(ohms), step, tared, stated);
    let basis = if stated.is_some() {
        ""
    } else {
        " by its digits alone, the meter's accuracy is not stated"
    };
    format!(" (±{off}{basis})")
}

/// Why a state was not read, and what to do about it.
fn unread(end: End, wait: Seconds) -> String {
    let (wait, more) = (wait.0, (2.0 * wait.0).max(30.0));
    match end {
        End::Unsaid(Some(seen)) => format!(
            "not taken: {}, and nobody said within {wait:.0} s that the state was set; press Enter when \
             it is, or give yourself time with --wait {more:.0}s",
            read(&seen)
        ),
        End::Unsaid(None) => format!(
            "not read: nothing came to rest where it ought to, and nobody said within {wait:.0} s that \
             the state was set; press Enter when it is, or give yourself time with --wait {more:.0}s"
        ),
        End::NoValue | End::Read(_) => {
            "not read: the meter showed no value after Enter; see to the probes, the lead and the \
             meter's range, and run the check again"
                .to_owned()
        }
    }
}

/// The limits of a state in words, with their reason.
pub(super) fn limits(expected: &Expectation, table: &Forecasts) -> String {
    let likely = expected.likely();
    let sentence = expected.sentence(&table.spreads);
    match likely {
        [low, high] if low.is_finite() => format!(
            "{sentence} Nineteen of twenty instruments read {} to {}. The band of the step is the \
             worst case with the meter's own limit on top.",
            Ohms(low),
            Ohms(high)
        ),
        _ => sentence,
    }
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
        said.push(
            "selector, controls and pickups of an active circuit: without its battery the jack \
             shows its electronics, whose chips conduct by the meter's own voltage; meaningful are \
             the ground of bridge and strings, each pickup at its own wires, and the cases to ground"
                .to_owned(),
        );
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
