//! From what a run said to what its report shows.
//!
//! A feeder hands over every notice with its time, and after each event what the check shows of
//! itself. A deadline must be fired at its own time, or its bend is drawn late; see
//! [`Transcript::look`].

use crate::check::CheckView;
use crate::check::notice::{CheckResult, Notice, Phase, StepName, StepResult, Trouble, Wants};
use crate::check::step::{Limit, OpenLevel, Rest, StepMachine, StepPlan};
use crate::reading::{Ohms, Reading, Seconds, Stamp};
use crate::record::report::input::{
    Expected, MarkSpan, MeasuredValue, Section, StateRow, States, TickMark, Trace,
};
use crate::signal::{Point, Sample};

/// What a run said, in the order of its steps.
#[derive(Debug, Default)]
pub struct Transcript {
    steps: Vec<Step>,
    /// Every step there is, and what it wants.
    wanted: Vec<(StepName, Wants)>,
    troubles: Vec<(Trouble, String)>,
    verdict: Option<CheckResult>,
}

/// One step as it went.
#[derive(Debug)]
struct Step {
    name: StepName,
    began: Stamp,
    /// When it was first read at rest.
    still: Option<Stamp>,
    /// When the probes were to be lifted, or it was over.
    ended: Option<Stamp>,
    plan: Option<StepPlan>,
    rest: Option<Rest>,
    tare: Option<Ohms>,
    readings: Vec<Reading>,
    ticks: Vec<TickMark>,
    marks: Vec<MarkSpan>,
    result: Option<StepResult>,
}

impl Transcript {
    /// Takes what was said at a time.
    pub fn hear(&mut self, at: Stamp, notice: &Notice) {
        match notice {
            // A step that asks again is still the same one.
            Notice::Step(begins) => {
                let again = self
                    .steps
                    .last()
                    .is_some_and(|step| step.name == begins.step && step.result.is_none());
                if !again {
                    self.steps.push(Step::new(begins.step.clone(), at));
                }
            }
            Notice::Trouble { what, text } => {
                if !self.troubles.iter().any(|(known, _)| known == what) {
                    self.troubles.push((*what, text.clone()));
                }
            }
            Notice::Verdict(result) => self.verdict = Some(result.clone()),
            Notice::Opened(_) => {}
            Notice::Phase { .. }
            | Notice::Tick(_)
            | Notice::Reading(_)
            | Notice::Disturbance(_)
            | Notice::StepDone(_) => {
                if let Some(step) = self.steps.last_mut() {
                    step.hear(at, notice);
                }
            }
        }
    }

    /// Takes what the check shows of itself, after each event.
    pub fn look(&mut self, view: &CheckView<'_>) {
        if self.wanted.is_empty() {
            self.wanted = view
                .steps
                .iter()
                .map(|step| (step.name.clone(), step.wants))
                .collect();
        }
        if let (Some(machine), Some(step)) = (view.now, self.steps.last_mut())
            && machine.plan().name == step.name
        {
            step.look(machine, view.tare);
        }
    }

    /// The verdict, once there is one.
    pub const fn verdict(&self) -> Option<&CheckResult> {
        self.verdict.as_ref()
    }

    /// What was wrong with the meter during the run, each kind once.
    pub fn troubles(&self) -> impl Iterator<Item = &str> {
        self.troubles.iter().map(|(_, text)| text.as_str())
    }

    /// The steps against what was expected, then their traces.
    pub fn sections(&self, interval: Option<Seconds>) -> Vec<Section> {
        let rows = self.wanted.iter().map(|(name, wants)| {
            let step = self.steps.iter().rfind(|step| step.name == *name);
            row(name, *wants, step)
        });
        let states = States {
            title: "Expected and measured".to_owned(),
            rows: rows.collect(),
        };
        let traces = self.steps.iter().filter(|step| !step.readings.is_empty());
        vec![
            Section::States(states),
            Section::Traces(traces.map(|step| step.trace(interval)).collect()),
        ]
    }
}

impl Step {
    fn new(name: StepName, began: Stamp) -> Self {
        Self {
            name,
            began,
            still: None,
            ended: None,
            plan: None,
            rest: None,
            tare: None,
            readings: Vec::new(),
            ticks: Vec::new(),
            marks: Vec::new(),
            result: None,
        }
    }

    fn hear(&mut self, at: Stamp, notice: &Notice) {
        match notice {
            Notice::Phase { phase, .. } => match phase {
                // A control is looked at from when it is turned.
                Phase::Still | Phase::Sweeping => {
                    self.still.get_or_insert(at);
                }
                Phase::Lifting => {
                    self.ended.get_or_insert(at);
                }
                _ => {}
            },
            Notice::Tick(tick) => {
                let place = self
                    .plan
                    .as_ref()
                    .and_then(|plan| plan.place(tick.flex, tick.of));
                self.ticks.push(TickMark {
                    at,
                    number: tick.flex,
                    place: place.map(str::to_owned),
                });
            }
            Notice::Reading(reading) => self.readings.push(*reading),
            Notice::Disturbance(seen) => self.marks.push(MarkSpan {
                kind: seen.kind,
                from: seen.from,
                to: seen.to,
                at_least: seen.at_least,
                at_most: seen.at_most,
                ohms: seen.ohms,
            }),
            Notice::StepDone(result) => {
                self.ended.get_or_insert(at);
                self.result = Some(result.clone());
            }
            Notice::Opened(_)
            | Notice::Step(_)
            | Notice::Trouble { .. }
            | Notice::Verdict(_) => {}
        }
    }

    fn look(&mut self, machine: &StepMachine, tare: Option<Ohms>) {
        if self.plan.is_none() {
            self.plan = Some(machine.plan().clone());
        }
        self.rest = machine.rest().copied().or(self.rest);
        self.tare = tare.filter(|_| !machine.plan().of_probes);
    }

    /// From just before it was read at rest to its end; all of it, if it never came to rest.
    fn trace(&self, interval: Option<Seconds>) -> Trace {
        let last = self
            .readings
            .last()
            .map_or(self.began, |reading| reading.at);
        let off = self.tare.map_or(0.0, |tare| tare.0);
        let less = |ohms: Ohms| Ohms(ohms.0 - off);
        let (rest, threshold) = match &self.rest {
            Some(Rest::Closed(rest)) => (Some(less(rest.raw)), Some(less(rest.enter))),
            Some(Rest::Open(rest)) => (None, Some(rest.enter)),
            None => (None, None),
        };
        let points = self.readings.iter().map(|reading| Point {
            at: reading.at,
            sample: match Sample::from(&reading.measured) {
                Sample::Ohms(ohms) => Sample::Ohms(ohms - off),
                other => other,
            },
        });
        let wants = self.plan.as_ref().map(StepPlan::wants);
        Trace {
            name: self.name.to_string(),
            from: self.still.unwrap_or(self.began),
            to: self.ended.unwrap_or(last).max(self.began),
            points: points.collect(),
            interval,
            rest,
            threshold,
            apart: wants == Some(Wants::Open),
            top: None,
            ticks: self.ticks.clone(),
            marks: self.marks.clone(),
        }
    }

    fn expected(&self) -> Option<Expected> {
        Some(match self.plan.as_ref()?.limit {
            Limit::Closed { pass, fail, .. } => Expected::AtMost { pass, fail },
            Limit::Open { pass, fail } => Expected::AtLeast { pass, fail },
        })
    }

    fn measured(&self) -> MeasuredValue {
        let value = self.result.as_ref().and_then(|result| result.ohms);
        match (value, &self.rest) {
            (Some(ohms), _) => MeasuredValue::Value(ohms),
            (None, Some(Rest::Open(rest))) => match rest.level {
                OpenLevel::MoreThan(range) => MeasuredValue::MoreThan(range),
                OpenLevel::Reads(ohms, _) => MeasuredValue::Value(ohms),
            },
            (None, Some(Rest::Closed(_)) | None) => MeasuredValue::Nothing,
        }
    }
}

fn row(name: &str, wants: Wants, step: Option<&Step>) -> StateRow {
    let result = step.and_then(|step| step.result.as_ref());
    StateRow {
        name: name.to_owned(),
        expected: step
            .and_then(Step::expected)
            .unwrap_or_else(|| Expected::Word(wants.word().to_owned())),
        measured: step.map_or(MeasuredValue::Nothing, Step::measured),
        verdict: result.map(|result| result.verdict),
        proof: result.map(|result| result.proof),
        coverage: result.map(|result| result.coverage),
        reasons: result
            .map(|result| result.reasons.clone())
            .unwrap_or_default(),
    }
}
