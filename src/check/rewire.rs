//! A rewired instrument at its jack: every state against what its circuit predicts, and which
//! fault explains what does not fit.
//!
//! The fewest states that see every part come first, from outside; then, while something is
//! wrong and not yet certain, the measurement that tells most for its effort. What lies inside
//! is only asked for when the instrument may be opened.

mod plan;
mod value;
mod view;
mod words;

pub use plan::{ValuePlan, find_measurement, planned, step_name};
pub use value::ValueStep;
pub use view::{RewireView, StateLine};

use std::sync::Arc;

use crate::check::meter::MeterView;
use crate::check::notice::{CheckResult, Notice, StepResult, Verdict, Wants};
use crate::check::{Check, CheckView, Outbox, StepView};
use crate::circuit::diagnosis::{self, Case, Evidence, Meter, Next, Observation, Priors};
use crate::circuit::{Effort, Forecasts, Job};
use crate::reading::{Ohms, Reading, Seconds, Stamp};
use value::Aim;

/// The check's name in the command contract.
pub const NAME: &str = "rewire";

/// What is asked of a rewire.
#[derive(Debug, Clone, PartialEq)]
pub struct RewireOptions {
    /// The instrument.
    pub job: Arc<Job>,
    /// The resistance of the probe leads, taken off every reading.
    pub tare: Option<Ohms>,
    /// Whether the instrument may be opened.
    pub open: bool,
    /// At most so many measurements beyond the planned states.
    pub probes: usize,
    /// How long a state waits before it asks.
    pub wait: Seconds,
}

impl RewireOptions {
    /// The usual way with a job: closed, six probes at most.
    pub fn of(job: Arc<Job>) -> Self {
        Self {
            job,
            tare: None,
            open: false,
            probes: 6,
            wait: Seconds(30.0),
        }
    }
}

/// A rewire under check.
#[derive(Debug)]
pub struct Rewire {
    options: RewireOptions,
    table: Forecasts,
    meter: Meter,
    /// The planned states, then the probes asked for.
    steps: Vec<usize>,
    required: usize,
    plans: Vec<ValuePlan>,
    now: Option<ValueStep>,
    results: Vec<StepResult>,
    seen: Vec<Option<Observation>>,
    evidence: Evidence,
    opened: bool,
    likeliest: Vec<String>,
    reasons: Vec<String>,
    next: Option<String>,
    standing: Option<Verdict>,
    over: bool,
}

impl Rewire {
    /// A check of one instrument.
    pub fn new(options: RewireOptions) -> Self {
        let circuit = options.job.circuit();
        let table = circuit.predict(&circuit.faults(), &circuit.measurements());
        let meter = Meter::default();
        let steps = planned(&table, circuit, &meter);
        Self {
            required: steps.len(),
            steps,
            options,
            table,
            meter,
            plans: Vec::new(),
            now: None,
            results: Vec::new(),
            seen: Vec::new(),
            evidence: Evidence::new(),
            opened: false,
            likeliest: Vec::new(),
            reasons: Vec::new(),
            next: None,
            standing: None,
            over: false,
        }
    }

    /// The planned states with what they ask, and the limits of each in words.
    pub fn plans(&self) -> Vec<(ValuePlan, String)> {
        let steps = 0..self.required;
        steps
            .filter_map(|index| {
                let plan = self.plan(index)?;
                let words = self.limits(plan.measurement);
                Some((plan, words))
            })
            .collect()
    }

    fn plan(&self, index: usize) -> Option<ValuePlan> {
        let measurement = *self.steps.get(index)?;
        let before = index.checked_sub(1).and_then(|at| self.steps.get(at));
        let pair = (measurement, before.copied());
        plan::step(&self.table, self.options.job.circuit(), pair, &self.meter)
    }

    fn limits(&self, measurement: usize) -> String {
        let known = self.table.measurements.get(measurement);
        known.map_or(String::new(), |known| {
            let circuit = self.options.job.circuit();
            words::limits(&circuit.expect(&known.state, known.between), &self.table)
        })
    }

    /// What cannot be seen this way.
    pub fn not_covered(&self) -> String {
        let planned = self.steps.get(..self.required).unwrap_or_default();
        let circuit = self.options.job.circuit();
        words::dark(&self.table, circuit, (planned, &self.meter))
    }

    fn next_step(&mut self, now: Stamp, out: &mut Outbox) {
        let Some(plan) = self.plan(self.results.len()) else {
            self.now = None;
            self.over = true;
            return;
        };
        self.plans.push(plan.clone());
        let before = self.seen.last().copied().flatten();
        self.now = Some(ValueStep::begin(plan, before, now, out));
    }

    fn aim<'a>(&'a self, meter: &'a MeterView) -> Aim<'a> {
        Aim {
            facts: &meter.facts,
            meter: &self.meter,
            tare: self.options.tare.map_or(0.0, |tare| tare.0),
            wait: self.options.wait,
        }
    }

    /// Gives the step under way something, and takes what it found if that ends it.
    fn give(
        &mut self,
        (now, meter): (Stamp, &MeterView),
        out: &mut Outbox,
        what: impl FnOnce(&mut ValueStep, Aim<'_>, &mut Outbox),
    ) {
        self.meter = trust(meter, Meter::default());
        let Some(mut step) = self.now.take() else {
            return;
        };
        what(&mut step, self.aim(meter), out);
        let Some(seen) = step.ended().map(value::End::seen) else {
            self.now = Some(step);
            return;
        };
        let plan = step.plan().clone();
        let meter_words = (
            &self.meter,
            &meter.facts.accuracy,
            self.options.tare.is_some(),
        );
        let limits = self.limits(plan.measurement);
        let result = words::result(&plan, seen, step.proof(), meter_words, &limits);
        out.say(Notice::StepDone(result.clone()));
        self.results.push(result);
        self.seen.push(seen);
        if let Some(seen) = seen {
            self.evidence.take(plan.measurement, seen);
        }
        if self.results.len() >= self.required {
            self.diagnose();
        }
        self.next_step(now, out);
    }

    /// What the readings make of it; a further probe is added to the steps.
    fn diagnose(&mut self) {
        let Some(priors) = Priors::built_in() else {
            return;
        };
        let mut case = Case::new(&self.table, priors, self.meter);
        case.evidence = self.evidence.clone();
        let found = case.diagnosis();
        let required = self.steps.get(..self.required).unwrap_or_default();
        let standing = found.standing(&case, required);
        let verdict = match standing.verdict {
            diagnosis::Verdict::Pass => Verdict::Pass,
            diagnosis::Verdict::Fail => Verdict::Fail,
            diagnosis::Verdict::Retest => Verdict::Retest,
        };
        let mut reasons = standing.reasons;
        let mut likeliest = Vec::new();
        if verdict != Verdict::Pass && !self.evidence.is_empty() {
            likeliest = words::likeliest(&case, &found);
            reasons.extend(likeliest.first().map(|first| format!("likeliest: {first}")));
            reasons.extend(words::evidence(&case, &found));
        }
        let taken = self.steps.len() - self.required;
        let worth = priors.judging.worth;
        let settled = matches!(found.next(&case, self.opened), Next::Sure { .. });
        let asks = verdict != Verdict::Pass && !settled;
        let effort = |index: usize| self.table.measurements.get(index).map(|it| it.effort);
        let probes = if asks {
            found.probes(&case, self.opened)
        } else {
            Vec::new()
        };
        let mut worthy = probes
            .iter()
            .filter(|probe| probe.worth() >= worth && !self.steps.contains(&probe.measurement));
        let outside = worthy
            .clone()
            .find(|probe| effort(probe.measurement) == Some(Effort::Outside));
        let probe = outside.or_else(|| worthy.next()).copied();
        let mut next = None;
        if let Some(probe) = probe {
            let inside = effort(probe.measurement) != Some(Effort::Outside);
            if taken < self.options.probes && (self.options.open || !inside) {
                self.opened |= inside;
                self.steps.push(probe.measurement);
            } else {
                let name = case.measurement(probe.measurement).map(|it| &it.name);
                let opened = if inside {
                    ", with the instrument opened"
                } else {
                    ""
                };
                next = name.map(|name| format!("next probe{opened}: {name}"));
            }
        }
        self.standing = Some(verdict);
        self.likeliest = likeliest;
        self.reasons = reasons;
        self.next = next;
    }

    fn outcome(&self, results: Vec<StepResult>, meter: &MeterView) -> CheckResult {
        let mut reasons = self.reasons.clone();
        reasons.extend(self.next.clone());
        CheckResult {
            check: NAME,
            verdict: self.standing.unwrap_or(Verdict::Retest),
            reasons,
            findings: self.likeliest.clone(),
            not_covered: Some(self.not_covered()),
            steps: results,
            blind_spot: meter.blind_spot(None),
            meter_heard: true,
        }
    }
}

/// How far the meter is trusted: as its maker states, or as a middling one.
fn trust(view: &MeterView, middling: Meter) -> Meter {
    /// Where most pickups and controls read.
    const USUAL: Ohms = Ohms(10e3);
    let facts = &view.facts;
    let stated = facts.accuracy.at(USUAL);
    Meter {
        accuracy: stated.map_or(middling.accuracy, |stated| stated.share),
        counts: stated.map_or(middling.counts, |stated| stated.counts),
        span: facts.counts.map_or(middling.span, f64::from),
        ..middling
    }
}

impl Check for Rewire {
    fn name(&self) -> &'static str {
        NAME
    }

    fn begin(&mut self, now: Stamp, out: &mut Outbox) {
        self.next_step(now, out);
    }

    fn reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox) {
        self.give((reading.at, meter), out, |step, aim, out| {
            step.reading(reading, aim, out);
        });
    }

    fn confirm(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox) {
        self.give((now, meter), out, |step, _, out| step.confirm(now, out));
    }

    fn suspend(&mut self, _now: Stamp, _out: &mut Outbox) {
        if let Some(step) = &mut self.now {
            step.suspend();
        }
    }

    fn resume(&mut self, now: Stamp, _meter: &MeterView, _out: &mut Outbox) {
        if let Some(step) = &mut self.now {
            step.resume(now);
        }
    }

    fn missed(&mut self) {
        if let Some(step) = &mut self.now {
            step.missed();
        }
    }

    fn due(&self) -> Option<Stamp> {
        self.now.as_ref()?.due(self.options.wait)
    }

    fn time(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox) {
        self.give((now, meter), out, |step, aim, out| step.time(now, aim, out));
    }

    fn result(&self, meter: &MeterView) -> Option<CheckResult> {
        self.over.then(|| self.outcome(self.results.clone(), meter))
    }

    fn cut_short(&self, why: &str, meter: &MeterView) -> CheckResult {
        let mut outcome = self.outcome(self.results.clone(), meter);
        outcome.verdict = outcome.verdict.max(Verdict::Retest);
        outcome.reasons.push(why.to_owned());
        outcome
    }

    fn view(&self) -> CheckView<'_> {
        let names = self.steps.iter().filter_map(|measurement| {
            let known = self.table.measurements.get(*measurement)?;
            Some(step_name(self.options.job.circuit(), known))
        });
        let steps = names.enumerate().map(|(index, name)| StepView {
            name,
            wants: Wants::Value,
            result: self.results.get(index),
        });
        CheckView {
            steps: steps.collect(),
            now: None,
            tare: self.options.tare,
            track: None,
        }
    }

    fn rewire(&self) -> Option<RewireView<'_>> {
        let states = (0..self.steps.len()).filter_map(|index| {
            let plan = self.plan(index)?;
            let seen = self.seen.get(index).copied().flatten();
            Some(StateLine {
                name: plan.name.to_string(),
                band: plan.told_band(&self.meter, seen.as_ref()),
                seen,
                verdict: self.results.get(index).map(|result| result.verdict),
            })
        });
        Some(RewireView {
            states: states.collect(),
            phase: self.now.as_ref().map(ValueStep::phase),
            likeliest: &self.likeliest,
            next: self.next.as_deref(),
        })
    }
}
