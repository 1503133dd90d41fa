//! The probe leads' resistance through a stock: taken once, and again when it matters.
//!
//! Where it lies: it drifts as the tips wear and the plugs in the meter warm up. Between two
//! takings a lead near a limit is judged with the old one.

use crate::check::lead::{Lead, LeadOptions, Tare};
use crate::check::notice::{CheckResult, StepResult, Verdict};
use crate::check::step::Limit;
use crate::reading::Ohms;

/// A tare older than so many leads is in doubt where it decides.
const OLD: u32 = 10;
/// How far a tare may have drifted (common practice, no source).
const DRIFT: f64 = 0.3;

/// The tare of a stock.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct TareKept {
    taken: Option<Ohms>,
    /// Leads measured with it.
    leads: u32,
}

impl TareKept {
    /// What is asked of the next lead: the tare only where there is none to go by.
    pub fn options(&self, first: &LeadOptions) -> LeadOptions {
        match self.taken {
            Some(ohms) => LeadOptions {
                tare: Tare::Given(ohms),
                probes_first: false,
                ..first.clone()
            },
            None => first.clone(),
        }
    }

    /// Takes what a lead measured with these options came to.
    pub fn learn(&mut self, options: &LeadOptions, result: &CheckResult) {
        let taken = result
            .steps
            .iter()
            .find(|step| matches!(step.step.as_str(), "tare" | "probes"))
            .filter(|step| step.verdict == Verdict::Pass)
            .and_then(|step| step.ohms);
        if taken.is_some() {
            (self.taken, self.leads) = (taken, 0);
        }
        self.leads = self.leads.saturating_add(1);
        if self.is_in_doubt(options, result) {
            self.taken = None;
        }
    }

    fn is_in_doubt(&self, options: &LeadOptions, result: &CheckResult) -> bool {
        let below_zero = |step: &StepResult| {
            // The step's own judgement knows the meter's counts.
            step.verdict == Verdict::Retest && step.ohms.is_some_and(|ohms| ohms.0 < 0.0)
        };
        if result.steps.iter().any(below_zero) {
            return true;
        }
        let lead = Lead::new(options.clone());
        let nearly = |step: &StepResult| {
            let plan = lead.plans().iter().find(|plan| plan.name == step.step);
            let Some((Limit::Closed { pass, fail, .. }, ohms)) =
                plan.map(|plan| &plan.limit).zip(step.ohms)
            else {
                return false;
            };
            let beyond = |limit: &Ohms| ohms > *limit && ohms.0 - limit.0 < DRIFT;
            beyond(pass) || beyond(fail)
        };
        self.leads > OLD && result.steps.iter().any(nearly)
    }
}
