//! A rewired instrument at its jack: every state against what its circuit predicts, and which
//! fault explains what does not fit.
//!
//! The fewest states that see every part come first, from outside; then, while something is
//! wrong and not yet certain, the measurement that tells most for its effort. What lies inside
//! is only asked for when the instrument may be opened.

mod explained;
mod pairs;
mod plan;
mod study;
mod value;
mod view;
mod words;

pub use pairs::with_pairs;
pub use plan::{ValuePlan, find_measurement, planned, step_name};
pub use study::further;
pub use value::ValueStep;
pub use view::{RewireView, StateLine};

use std::sync::Arc;

use crate::check::meter::MeterView;
use crate::check::notice::{CheckResult, Notice, StepResult, Verdict, Wants};
use crate::check::{Check, CheckView, Outbox, StepView};
use crate::circuit::diagnosis::{Evidence, Meter, Observation, Priors};
use crate::circuit::{Forecasts, Job};
use crate::reading::{Ohms, Reading, Seconds, Stamp};
use study::{Opinion, Study};
use value::Aim;

/// The check's name in the command contract.
pub const NAME: &str = "rewire";

/// What is asked of a rewire.
#[derive(Debug, Clone, PartialEq)]
pub struct RewireOptions {
    /// The instrument.
    pub job: Arc<Job>,
    /// A table of chances and efforts of the user's own, in place of the built-in one.
    pub priors: Option<Arc<Priors>>,
    /// The resistance of the probe leads, taken off every reading.
    pub tare: Option<Ohms>,
    /// Whether the instrument is open, or may be opened.
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
            priors: None,
            tare: None,
            open: false,
            probes: 6,
            wait: Seconds(30.0),
        }
    }

    /// What practice says: the user's table, else the built-in one.
    fn priors(&self) -> Option<&Priors> {
        self.priors.as_deref().or_else(|| Priors::built_in())
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
    now: Option<ValueStep>,
    results: Vec<StepResult>,
    seen: Vec<Option<Observation>>,
    evidence: Evidence,
    opinion: Opinion,
    lines: Vec<StateLine>,
    over: bool,
}

impl Rewire {
    /// A check of one instrument.
    pub fn new(options: RewireOptions) -> Self {
        let circuit = options.job.circuit();
        let table = circuit.predict(&circuit.faults(), &circuit.measurements());
        let meter = Meter::default();
        let mut steps = planned(&table, circuit, &meter);
        if circuit.active() && options.open {
            steps.extend(plan::meaningful(&table));
        }
        Self {
            required: steps.len(),
            steps,
            options,
            table,
            meter,
            now: None,
            results: Vec::new(),
            seen: Vec::new(),
            evidence: Evidence::new(),
            opinion: Opinion::default(),
            lines: Vec::new(),
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
        let circuit = self.options.job.circuit();
        let mut step = plan::step(&self.table, circuit, pair, &self.meter)?;
        if let Some(caution) = self.caution().filter(|_| index == 0) {
            step.prompt = format!("{caution} {}", step.prompt);
        }
        Some(step)
    }

    /// What must be done before anything is measured.
    pub fn caution(&self) -> Option<&'static str> {
        let active = self.options.job.circuit().active();
        active.then_some(
            "Battery out, and wait a minute: a plugged jack often switches the electronics on.",
        )
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
        self.draw_up();
        let Some(plan) = self.plan(self.results.len()) else {
            self.now = None;
            self.over = true;
            return;
        };
        let before = self.seen.last().copied().flatten();
        self.now = Some(ValueStep::begin(plan, before, now, out));
    }

    /// The list of states anew, as screen and report show it.
    fn draw_up(&mut self) {
        let lines = (0..self.steps.len()).filter_map(|index| {
            let plan = self.plan(index)?;
            let seen = self.seen.get(index).copied().flatten();
            Some(StateLine {
                name: plan.name.to_string(),
                ohms: plan.ohms,
                band: plan.told_band(&self.meter, seen.as_ref()),
                seen,
                verdict: self.results.get(index).map(|result| result.verdict),
            })
        });
        self.lines = lines.collect();
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
        let trusted = trust(meter, Meter::default());
        if trusted != self.meter {
            self.meter = trusted;
            self.draw_up();
        }
        let Some(mut step) = self.now.take() else {
            return;
        };
        what(&mut step, self.aim(meter), out);
        let Some(end) = step.ended() else {
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
        let (end, seen) = ((end, step.proof(), self.options.wait), end.seen());
        let result = words::result(&plan, end, meter_words, &limits);
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
        let Some(priors) = self.options.priors() else {
            return;
        };
        let study = Study {
            table: &self.table,
            circuit: self.options.job.circuit(),
            priors,
            meter: self.meter,
            steps: &self.steps,
            required: self.required,
            open: self.options.open,
            probes: self.options.probes,
        };
        self.opinion = study.of(&self.evidence);
        self.steps.extend(self.opinion.take);
    }

    fn outcome(&self, results: Vec<StepResult>, meter: &MeterView) -> CheckResult {
        let mut reasons = self.opinion.reasons.clone();
        reasons.extend(self.opinion.next.clone());
        if self.steps.is_empty() {
            reasons.push(
                "nothing of this active circuit can be measured from outside: with --open, each \
                 pickup at its own wires and the cases to ground"
                    .to_owned(),
            );
        }
        CheckResult {
            check: NAME,
            verdict: self.opinion.verdict.unwrap_or(Verdict::Retest),
            reasons,
            findings: self.opinion.likeliest.clone(),
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
        Some(RewireView {
            states: &self.lines,
            phase: self.now.as_ref().map(ValueStep::phase),
            likeliest: &self.opinion.likeliest,
            next: self.opinion.next.as_deref(),
        })
    }
}
