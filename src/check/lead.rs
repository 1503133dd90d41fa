//! A lead: its conductors closed, everything else apart, all of it while bent.
//!
//! What is measured follows from the kind's description, see [`derive()`]. Two methods. *End
//! to end*: one probe at each end, conductor by conductor, then both probes at one end for the
//! isolation, where only the operator can say that they were on. *Far-end short*: conductors
//! in a loop through a shorting plug at the far end; the isolation is reached by pulling that
//! plug, so the readings themselves prove contact.
//!
//! Where it lies: by the loop it cannot tell which conductor is at fault nor see crossed ones,
//! and a probe lifted instead of the plug pulled reads open too.

mod derive;
mod found;
mod prompt;
mod steps;

use crate::check::meter::MeterView;
use crate::check::notice::{CheckResult, Finding, StepResult, Verdict};
use crate::check::step::{Context, Pace, Reach, Rest, StepMachine, StepPlan, shows_contact};
use crate::check::{Check, CheckView, Outbox, StepView};
use crate::circuit::lead::LeadKind;
use crate::circuit::{Celsius, Gauge, Metres};
use crate::reading::{Magnitude, Ohms, Reading, Stamp};
pub use derive::{Derived, LeadStep, derive, find_step, moves, shows};
use std::sync::Arc;
pub use steps::MOST_TARE;
use steps::{is_of_probes, plans};

/// The check's name in the command contract.
pub const NAME: &str = "lead";

/// How the lead is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// One probe at each end.
    EndToEnd,
    /// Both probes at one end, the far end shorted.
    Loop,
}

/// How the resistance of the probe leads is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tare {
    /// It is not: the limits allow for it.
    None,
    /// It is this.
    Given(Ohms),
    /// By touching the probes together as a first step.
    Touch,
}

/// What is asked of a lead.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadOptions {
    /// What kind of lead it is.
    pub kind: Arc<LeadKind>,
    /// How it is measured.
    pub method: Method,
    /// The probe leads.
    pub tare: Tare,
    /// Whether the probe leads are bent first, which must give no event.
    pub probes_first: bool,
    /// Length and conductor, if they are known.
    pub conductor: Option<(Metres, Gauge)>,
    /// The temperature of the workshop, which its copper has.
    pub temperature: Celsius,
    /// The plain limit of a conductor where length and gauge are not known.
    pub limit: Ohms,
    /// The least that conductors apart must read.
    pub isolation: Ohms,
    /// How thoroughly and how fast.
    pub pace: Pace,
}

impl LeadOptions {
    /// The usual way with a kind of lead: its own limits, end to end, at 20 °C.
    pub fn of(kind: Arc<LeadKind>) -> Self {
        Self {
            method: Method::EndToEnd,
            tare: Tare::None,
            probes_first: false,
            conductor: None,
            temperature: Celsius::REFERENCE,
            // Where the limits come from the conductor, this one is never used: the door
            // asks for length and gauge.
            limit: kind.limit.unwrap_or_default(),
            isolation: kind.isolation,
            pace: Pace::default(),
            kind,
        }
    }
}

/// A lead under check.
#[derive(Debug)]
pub struct Lead {
    options: LeadOptions,
    derived: Derived,
    plans: Vec<StepPlan>,
    machine: Option<StepMachine>,
    results: Vec<StepResult>,
    tare: Option<Ohms>,
    closed: bool,
    rest: Option<Rest>,
    over: bool,
    /// Why nothing after this counts.
    void: Option<String>,
}

impl Lead {
    /// A check of one lead.
    pub fn new(options: LeadOptions) -> Self {
        let tare = match options.tare {
            Tare::Given(ohms) => Some(ohms),
            Tare::None | Tare::Touch => None,
        };
        let derived = derive(&options.kind, options.method);
        Self {
            plans: plans(&options, &derived.steps),
            derived,
            options,
            machine: None,
            results: Vec::new(),
            tare,
            closed: false,
            rest: None,
            over: false,
            void: None,
        }
    }

    /// The steps it will take.
    pub fn plans(&self) -> &[StepPlan] {
        &self.plans
    }

    fn next_step(&mut self, now: Stamp, out: &mut Outbox) {
        let next = self.plans.get(self.results.len());
        if next.is_some_and(|plan| plan.reach == Reach::PullShort)
            && self
                .results
                .last()
                .is_some_and(|before| before.ohms.is_none())
        {
            self.void = Some(
                "isolation was not measured: the loop it is reached from never closed"
                    .to_owned(),
            );
        }
        match next {
            Some(plan) if self.void.is_none() => {
                self.machine = Some(StepMachine::begin(plan.clone(), now, self.closed, out));
            }
            _ => {
                self.machine = None;
                self.over = true;
            }
        }
    }

    /// Takes the result of a step that is over, and begins the next.
    fn advance(&mut self, now: Stamp, out: &mut Outbox) {
        let Some(machine) = &self.machine else { return };
        let Some(result) = machine.result().cloned() else {
            return;
        };
        if let Some(Rest::Closed(_)) = machine.rest() {
            self.rest = machine.rest().copied();
        }
        if machine.probes_left_on() {
            self.void = Some(format!(
                "the probes were not lifted after {}, so nothing after it can be told apart",
                result.step
            ));
        }
        if is_of_probes(&result.step) {
            if result.verdict == Verdict::Pass {
                // A tare that was given stands; bending its leads only proves them.
                self.tare = self.tare.or(result.ohms);
            } else {
                self.void = Some(format!(
                    "the probe leads were not shown to be fit to measure with: {}",
                    result.reasons.join("; ")
                ));
            }
        }
        self.results.push(result);
        if self.results.len() == self.plans.len() {
            let asked = found::crossing(&self.options, &self.derived, &self.results);
            self.plans.extend(asked);
        }
        self.next_step(now, out);
    }

    fn context<'a>(&self, meter: &'a MeterView) -> Context<'a> {
        Context {
            meter,
            pace: self.options.pace,
            tare: self.work_tare(),
        }
    }

    /// What is taken off a reading: nothing while the probe leads themselves are measured.
    fn work_tare(&self) -> Option<Ohms> {
        let of_probes = self
            .machine
            .as_ref()
            .is_some_and(|machine| is_of_probes(&machine.plan().name));
        self.tare.filter(|_| !of_probes)
    }

    fn verdict(&self, results: &[StepResult]) -> (Verdict, Vec<String>) {
        let work = results
            .iter()
            .filter(|r| !is_of_probes(&r.step) && !found::is_crossing(&self.derived, r));
        let verdict = work
            .clone()
            .map(|result| result.verdict)
            .max()
            .unwrap_or(Verdict::Retest);
        let reasons_at = |level: Verdict| {
            let of_level = work.clone().filter(move |result| result.verdict == level);
            of_level.flat_map(|result| {
                let reasons = result.reasons.iter();
                reasons.map(|reason| format!("{}: {reason}", result.step))
            })
        };
        let mut reasons: Vec<String> = reasons_at(verdict).collect();
        if verdict == Verdict::Fail {
            // What else was suspect is not mended with it.
            reasons.extend(reasons_at(Verdict::Retest));
        }
        let crossed = found::crossed(&self.options.kind, &self.derived, results);
        if self.void.is_none()
            && crossed.is_none()
            && work.clone().any(|one| one.finding == Some(Finding::Open))
        {
            reasons.push("beyond an open conductor's break nothing was tested".to_owned());
        }
        let mut verdict = verdict;
        if let Some(void) = &self.void {
            verdict = verdict.max(Verdict::Retest);
            reasons.push(void.clone());
        } else if results.len() < self.plans.len() {
            verdict = verdict.max(Verdict::Retest);
        } else if verdict == Verdict::Pass {
            reasons.extend(self.derived.gaps(&self.options.kind));
        }
        if let Some(crossed) = crossed {
            reasons.insert(0, crossed.words);
        }
        (verdict, reasons)
    }

    fn outcome(&self, results: Vec<StepResult>, meter: &MeterView) -> CheckResult {
        let (verdict, reasons) = self.verdict(&results);
        CheckResult {
            check: NAME,
            verdict,
            reasons,
            findings: found::findings(&self.options.kind, &self.derived, &results),
            not_covered: self.derived.gaps(&self.options.kind),
            steps: results,
            blind_spot: meter.blind_spot(self.rest.as_ref().map(Rest::lift)),
            meter_heard: true,
        }
    }
}

impl Check for Lead {
    fn name(&self) -> &'static str {
        NAME
    }

    fn begin(&mut self, now: Stamp, out: &mut Outbox) {
        self.next_step(now, out);
    }

    fn reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox) {
        if reading.measured.magnitude != Magnitude::Blank {
            self.closed = shows_contact(&reading.measured);
        }
        let context = self.context(meter);
        if let Some(machine) = &mut self.machine {
            machine.reading(reading, context, out);
        }
        self.advance(reading.at, out);
    }

    fn confirm(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox) {
        let context = self.context(meter);
        if let Some(machine) = &mut self.machine {
            machine.confirm(now, context, out);
        }
        self.advance(now, out);
    }

    fn suspend(&mut self, now: Stamp, out: &mut Outbox) {
        if let Some(machine) = &mut self.machine {
            machine.suspend(now, out);
        }
    }

    fn resume(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox) {
        self.closed = false;
        let context = self.context(meter);
        if let Some(machine) = &mut self.machine {
            machine.resume(now, context, out);
        }
        self.advance(now, out);
    }

    fn missed(&mut self) {
        if let Some(machine) = &mut self.machine {
            machine.missed();
        }
    }

    fn due(&self) -> Option<Stamp> {
        self.machine.as_ref()?.due(&self.options.pace)
    }

    fn time(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox) {
        let context = self.context(meter);
        if let Some(machine) = &mut self.machine {
            machine.time(now, context, out);
        }
        self.advance(now, out);
    }

    fn result(&self, meter: &MeterView) -> Option<CheckResult> {
        self.over.then(|| self.outcome(self.results.clone(), meter))
    }

    fn cut_short(&self, why: &str, meter: &MeterView) -> CheckResult {
        let context = self.context(meter);
        let unfinished = self
            .machine
            .as_ref()
            .and_then(|machine| machine.so_far(context));
        let results = self.results.iter().cloned().chain(unfinished).collect();
        let mut outcome = self.outcome(results, meter);
        outcome.verdict = outcome.verdict.max(Verdict::Retest);
        outcome.reasons.push(why.to_owned());
        outcome
    }

    fn view(&self) -> CheckView<'_> {
        let steps = self
            .plans
            .iter()
            .enumerate()
            .map(|(index, plan)| StepView {
                name: plan.name.clone(),
                wants: plan.wants(),
                result: self.results.get(index),
            })
            .collect();
        CheckView {
            steps,
            now: self.machine.as_ref(),
            tare: self.tare,
            track: None,
        }
    }
}
