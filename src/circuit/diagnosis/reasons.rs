//! Why: which readings speak for the likeliest explanation and which against, in plain words.
//!
//! What a reading weighs is how much the odds would change without it, as a logarithm, against
//! a sound instrument and against the next explanation.

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::evidence::{Observation, Seen};
use crate::circuit::diagnosis::likelihood::likelihood;
use crate::circuit::diagnosis::posterior::Diagnosis;
use crate::reading::Ohms;

/// Two to one, in nats: below it a reading says nothing.
const LITTLE: f64 = std::f64::consts::LN_2;

/// What one reading says of the likeliest explanation.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// Which measurement.
    pub measurement: usize,
    /// How much it speaks for the explanation against a sound instrument, in nats; below zero
    /// it speaks against.
    pub against_sound: f64,
    /// The same against the next explanation; none if there is no next.
    pub against_next: Option<f64>,
    /// The sentence.
    pub text: String,
}

impl Diagnosis {
    /// What each reading says, the weightiest first.
    pub fn reasons(&self, case: &Case<'_>) -> Vec<Reason> {
        let Some(first) = self.groups.first() else {
            return Vec::new();
        };
        let row = first.leader();
        let next = self.groups.get(1).map(super::Group::leader);
        // Of a sound instrument nothing speaks against itself: it is set against the next.
        let rival = if row == 0 { next.unwrap_or(0) } else { 0 };
        let mut reasons: Vec<Reason> = case
            .evidence
            .iter()
            .map(|(measurement, observation)| {
                let weigh = |rival: usize| self.weight(case, measurement, row, rival);
                let against_sound = weigh(0);
                let told = weigh(rival);
                Reason {
                    measurement,
                    against_sound,
                    against_next: next.map(weigh),
                    text: sentence(case, (measurement, observation), (row, rival), told),
                }
            })
            .collect();
        let size = |reason: &Reason| {
            let next = reason.against_next.map_or(0.0, f64::abs);
            reason.against_sound.abs().max(next)
        };
        reasons.sort_by(|left, right| size(right).total_cmp(&size(left)));
        reasons
    }

    fn weight(&self, case: &Case<'_>, measurement: usize, row: usize, rival: usize) -> f64 {
        let rest = case.evidence.without(measurement);
        let alone = |row: usize| {
            let whole = self.likelihoods.get(row).map_or(0.0, |found| found.log);
            whole - likelihood(case, row, &rest).log
        };
        alone(row) - alone(rival)
    }
}

fn sentence(
    case: &Case<'_>,
    (measurement, observation): (usize, &Observation),
    (row, rival): (usize, usize),
    told: f64,
) -> String {
    let name = case
        .measurement(measurement)
        .map_or("", |known| &known.name);
    let read = read(observation);
    let here = foreseen(case, row, measurement);
    let there = foreseen(case, rival, measurement);
    let rival = if rival == 0 {
        "with nothing wrong".to_owned()
    } else {
        let name = case.hypothesis(rival).map_or("", |known| &known.name);
        format!("if {name}")
    };
    let says = strength(told);
    if here == there && told.abs() >= LITTLE {
        // The forecasts are one, but the other readings move them apart.
        format!("{name}: {read}; {here} expected either way; with the other readings it {says}")
    } else if here == there {
        format!("{name}: {read}; {here} expected either way: {says}")
    } else {
        format!("{name}: {read}; {here} expected, {there} {rival}: {says}")
    }
}

/// What was shown, in words.
pub fn read(observation: &Observation) -> String {
    let value = match observation.seen {
        Seen::Ohms(ohms) => format!("{} read", Ohms(ohms)),
        Seen::Over { beyond: Some(end) } => format!("over {} read", Ohms(end)),
        Seen::Over { beyond: None } => "over-range read".to_owned(),
    };
    if observation.unsteady {
        format!("{value}, not steady")
    } else {
        value
    }
}

fn foreseen(case: &Case<'_>, row: usize, measurement: usize) -> String {
    let one = |row: usize| match case.forecast(row, measurement).map(|found| found.ohms) {
        Some(ohms) if ohms.is_finite() => Ohms(ohms).to_string(),
        _ => "open".to_owned(),
    };
    if case.shows(row, measurement) {
        format!("{} or at times {}", one(case.holding(row)), one(row))
    } else {
        one(row)
    }
}

/// A weight in nats as words: ten to one is clear, a hundred to one strong.
fn strength(told: f64) -> &'static str {
    let (ten, hundred) = (10.0_f64.ln(), 100.0_f64.ln());
    match told {
        _ if told >= hundred => "speaks strongly for it",
        _ if told >= ten => "speaks clearly for it",
        _ if told >= LITTLE => "speaks a little for it",
        _ if told > -LITTLE => "does not tell them apart",
        _ if told > -ten => "speaks a little against it",
        _ if told > -hundred => "speaks clearly against it",
        _ => "speaks strongly against it",
    }
}
