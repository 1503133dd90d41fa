//! What a check of a lead does not check, and what the reader must know before relying on it.

use crate::check::lead::{Lead, LeadOptions, Method, Tare};
use crate::check::notice::{CheckResult, Proof, StepResult, Verdict};
use crate::check::step::StepPlan;
use crate::record::report::text::ohms;
use crate::signal::BlindSpot;

/// What was not checked, for a lead measured with these options and this result.
pub fn lead_unchecked(options: &LeadOptions, result: &CheckResult) -> Vec<String> {
    let mut unchecked = cut_short(options, result);
    if let Some(spot) = &result.blind_spot {
        unchecked.push(short_openings(options, spot));
    }
    unchecked.extend(result.not_covered.as_deref().map(sentence));
    if options.method == Method::Loop {
        unchecked.push(
            "Which of the conductors is at fault, if one is: they were measured in loops."
                .to_owned(),
        );
    }
    if !options.probes_first {
        unchecked
            .push("The probe leads by themselves: they were not bent alone first.".to_owned());
    }
    if options.tare == Tare::None {
        unchecked.push(
            "The probe leads' own resistance: it was not taken off, and the limit allows for it."
                .to_owned(),
        );
    }
    if options.conductor.is_none() {
        unchecked.push(format!(
            "The resistance against the copper's own: length and gauge were not given, so the \
             plain limit of {} a conductor stood in.",
            ohms(options.limit)
        ));
    }
    unchecked.push(
        "Bends other than those made, pull and tread; screening, capacitance and handling noise; \
         the fit of the plugs; insulation at more than the meter's own few volts."
            .to_owned(),
    );
    unchecked
}

/// Steps that were not reached, and bends that were not made.
fn cut_short(options: &LeadOptions, result: &CheckResult) -> Vec<String> {
    let lead = Lead::new(options.clone());
    let found = |plan: &StepPlan| result.steps.iter().find(|step| step.step == plan.name);
    let missing: Vec<&str> = lead
        .plans()
        .iter()
        .filter(|plan| found(plan).is_none())
        .map(|plan| plan.name.as_str())
        .collect();
    let unbent: Vec<&str> = lead
        .plans()
        .iter()
        .filter(|plan| !plan.bends.is_empty())
        .filter(|plan| found(plan).is_some_and(|step| falls_short(options, step)))
        .map(|plan| plan.name.as_str())
        .collect();
    let mut cut = Vec::new();
    if !missing.is_empty() {
        cut.push(format!("Not reached: {}.", missing.join(", ")));
    }
    if !unbent.is_empty() {
        cut.push(format!(
            "Not bent to the end: {}; what the other bends would have shown is not known.",
            unbent.join(", ")
        ));
    }
    cut
}

fn falls_short(options: &LeadOptions, step: &StepResult) -> bool {
    step.coverage < options.pace.goal.confidence
}

/// The openings that were too short, as far as the meter's rate tells.
fn short_openings(options: &LeadOptions, spot: &BlindSpot) -> String {
    let momentary = options.pace.goal.momentary;
    format!(
        "Openings much shorter than {momentary}: the bends were counted for that length. {}",
        spot.shortest()
    )
}

/// What the reader must know before relying on the page.
pub fn lead_cautions(options: &LeadOptions, result: &CheckResult) -> Vec<String> {
    let mut cautions = Vec::new();
    let on_word: Vec<&str> = result
        .steps
        .iter()
        .filter(|step| step.proof == Proof::Operator)
        .map(|step| step.step.as_str())
        .collect();
    if !on_word.is_empty() {
        cautions.push(format!(
            "That the probes were on is only the operator's word for {}: probes in the air read \
             open too.",
            on_word.join(" and ")
        ));
    }
    let at_a_bend = |step: &StepResult| step.verdict != Verdict::Pass && step.coverage > 0.0;
    if !options.probes_first && result.steps.iter().any(at_a_bend) {
        cautions.push(
            "The probe leads were not bent alone first: what was seen at a bend may be theirs."
                .to_owned(),
        );
    }
    if result.verdict == Verdict::Pass {
        cautions.push(
            "A pass says how this lead read on this day, bent as marked; it is no promise for \
             later."
                .to_owned(),
        );
    }
    cautions.push(
        "Never use a screened instrument lead as a speaker lead, whatever it reads.".to_owned(),
    );
    cautions
}

/// A clause as a sentence of its own.
fn sentence(clause: &str) -> String {
    let mut letters = clause.chars();
    letters.next().map_or_else(String::new, |first| {
        format!("{}{}.", first.to_uppercase(), letters.as_str())
    })
}
