//! What all readings so far make of the instrument, and what is measured next.

use crate::check::notice::Verdict;
use crate::check::rewire::{explained, plan, with_pairs, words};
use crate::circuit::diagnosis::standing::Lies;
use crate::circuit::diagnosis::{
    self, Case, Diagnosis, Evidence, Meter, Next, Priors, Probe, Seen,
};
use crate::circuit::{Circuit, Effort, Forecasts};

/// All that a judgement rests on but the readings.
#[derive(Debug)]
pub(super) struct Study<'a> {
    pub(super) table: &'a Forecasts,
    pub(super) circuit: &'a Circuit,
    pub(super) priors: &'a Priors,
    pub(super) meter: Meter,
    /// The planned measurements, then those asked for since.
    pub(super) steps: &'a [usize],
    /// How many were planned.
    pub(super) required: usize,
    /// Whether the instrument is open, or may be opened.
    pub(super) open: bool,
    /// At most so many measurements beyond those planned.
    pub(super) probes: usize,
}

/// What the readings make of it.
#[derive(Debug, Default)]
pub(super) struct Opinion {
    /// None before every planned state was asked for.
    pub(super) verdict: Option<Verdict>,
    /// The likeliest faults in words; none where nothing is wrong.
    pub(super) likeliest: Vec<String>,
    /// Why, one sentence each.
    pub(super) reasons: Vec<String>,
    /// The measurement to take next.
    pub(super) take: Option<usize>,
    /// What would be measured next, if it is not measured in this run.
    pub(super) next: Option<String>,
}

impl Study<'_> {
    pub(super) fn of(&self, evidence: &Evidence) -> Opinion {
        let mut case = Case::new(self.table, self.priors, self.meter);
        case.evidence = evidence.clone();
        let found = case.diagnosis();
        let Some(wider) = with_pairs(&case, &found, self.circuit) else {
            return self.opinion(&case, &found);
        };
        let mut case = Case::new(&wider, self.priors, self.meter);
        case.evidence = evidence.clone();
        let found = case.diagnosis();
        self.opinion(&case, &found)
    }

    fn opinion(&self, case: &Case<'_>, found: &Diagnosis) -> Opinion {
        let required = self.steps.get(..self.required).unwrap_or_default();
        let standing = found.standing(case, required);
        let guessed = self.guessed(case, found);
        let asked = (!guessed.is_empty()).then(|| explained::asked_for(&guessed));
        let unknown = explained::unknown_values(case, found).or(asked);
        let verdict = match standing.verdict {
            diagnosis::Verdict::Pass => Verdict::Pass,
            diagnosis::Verdict::Fail if unknown.is_none() => Verdict::Fail,
            diagnosis::Verdict::Fail | diagnosis::Verdict::Retest => Verdict::Retest,
        };
        // A sound one is looked into only where it is open.
        let probe = (verdict != Verdict::Pass || self.open)
            .then(|| further(case, found, self.open, self.steps))
            .flatten();
        let mut opinion = Opinion {
            verdict: Some(verdict),
            reasons: standing.reasons,
            ..Opinion::default()
        };
        if verdict != Verdict::Pass && !case.evidence.is_empty() {
            let next = probe.and_then(|probe| case.measurement(probe.measurement));
            let next = next.map(|known| known.name.as_str());
            opinion.reasons.extend(unknown);
            opinion.likeliest = if guessed.is_empty() {
                explained::likeliest(case, found, next)
            } else {
                let parts = guessed.join(" or ");
                vec![format!(
                    "another value of {parts} than is typical of the layout"
                )]
            };
            let first = opinion.likeliest.first();
            opinion
                .reasons
                .extend(first.map(|first| format!("likeliest: {first}")));
            opinion.reasons.extend(words::evidence(case, found));
            opinion
                .reasons
                .extend(lead_first(case, required).map(str::to_owned));
        }
        if let Some(probe) = probe {
            self.look_further(case, probe, &mut opinion);
        }
        opinion
    }

    /// Whose typical values alone a reading lies outside the band of, where no fault explains
    /// it better.
    fn guessed<'b>(&self, case: &Case<'b>, found: &Diagnosis) -> Vec<&'b str> {
        if !found.first().is_some_and(diagnosis::Group::holds_sound) {
            return Vec::new();
        }
        let mut names = Vec::new();
        for (measurement, seen) in case.evidence.iter() {
            let at = (measurement, None);
            let Some(plan) = plan::step(case.forecasts, self.circuit, at, &self.meter) else {
                continue;
            };
            let lies = plan.band(&self.meter, seen.resolution).lies(seen);
            if lies == Lies::Outside && !seen.unsteady && plan.only_typical(seen) {
                names.extend(plan.typical);
            }
        }
        let spreads = case.forecasts.spreads.iter();
        let known = spreads.filter(|spread| names.contains(&spread.name));
        known.map(|spread| spread.name.as_str()).collect()
    }

    fn look_further(&self, case: &Case<'_>, probe: Probe, opinion: &mut Opinion) {
        let known = case.measurement(probe.measurement);
        let inside = known.is_some_and(|known| known.effort != Effort::Outside);
        let taken = self.steps.len() - self.required;
        if taken < self.probes && (self.open || !inside) {
            opinion.take = Some(probe.measurement);
            return;
        }
        let opened = if inside {
            ", with the instrument opened"
        } else {
            ""
        };
        opinion.next = known
            .filter(|_| opinion.verdict != Some(Verdict::Pass))
            .map(|known| format!("next probe{opened}: {}", known.name));
    }
}

/// What is measured next: of all that is worth its effort and was not asked for yet, what tells
/// most for it; what can be told at the jack first. None once one fault, or none, is as good as
/// certain.
pub fn further(
    case: &Case<'_>,
    found: &Diagnosis,
    opened: bool,
    asked: &[usize],
) -> Option<Probe> {
    if matches!(found.next(case, opened), Next::Sure { .. }) {
        return None;
    }
    let worth = case.priors.judging.worth;
    let probes = found.probes(case, opened).into_iter();
    let mut worthy =
        probes.filter(|probe| probe.worth() >= worth && !asked.contains(&probe.measurement));
    let outside = |probe: &Probe| {
        let known = case.measurement(probe.measurement);
        known.is_some_and(|known| known.effort == Effort::Outside)
    };
    let first = worthy.next()?;
    if outside(&first) {
        return Some(first);
    }
    worthy.find(outside).or(Some(first))
}

/// A word on the lead, where every state that ought to read something reads the same nothing.
fn lead_first(case: &Case<'_>, required: &[usize]) -> Option<&'static str> {
    /// More than leads and contacts make of a short, in ohms.
    const SHORTED: f64 = 5.0;
    /// Less than any pickup has, in ohms.
    const PICKUP: f64 = 50.0;
    let jack = required.iter().filter(|index| {
        let expected = case.forecast(0, **index).map_or(0.0, |found| found.ohms);
        expected.is_finite() && expected > PICKUP
    });
    let seen: Vec<Seen> = jack
        .filter_map(|index| case.evidence.at(*index))
        .map(|observation| observation.seen)
        .collect();
    let all = |is: fn(&Seen) -> bool| seen.len() > 1 && seen.iter().all(is);
    if all(|seen| matches!(seen, Seen::Over { .. })) {
        Some("every position is open, as it would be with an open lead: try another lead first")
    } else if all(|seen| matches!(seen, Seen::Ohms(ohms) if *ohms < SHORTED)) {
        Some(
            "every position is shorted, as it would be with a shorted lead: try another lead first",
        )
    } else {
        None
    }
}
