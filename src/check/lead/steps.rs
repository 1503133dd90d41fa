//! The steps of a lead check as plans: what is asked for, and where the limits come from.

use crate::check::lead::derive::LeadStep;
use crate::check::lead::{LeadOptions, Tare, prompt};
use crate::check::notice::{StepName, Wants};
use crate::check::step::{Limit, Reach, StepPlan};
use crate::circuit::conductor;
use crate::reading::Ohms;

/// What contacts and joints may read above what is right while cleaning may still help (common
/// practice, no source).
const SUSPECT: Ohms = Ohms(1.5);
/// The same as a share of one conductor's plain limit.
const SUSPECT_SHARE: f64 = 1.5;
/// A pair of probe leads reads 0.1 to 0.5 Ω (from memory).
const PROBE_LEADS: Ohms = Ohms(0.5);
/// Probe leads above this are themselves at fault (common practice, no source).
pub const MOST_TARE: Ohms = Ohms(2.0);
/// Leakage below this share of the isolation wanted is a fail.
const LEAKAGE_SHARE: f64 = 1.0 / 20.0;

/// The step that takes the probe leads' resistance.
const TARE_STEP: &str = "tare";
/// The step that bends the probe leads alone.
const PROBES_STEP: &str = "probes";

/// Whether a step measures the probe leads and not the work.
pub(super) fn is_of_probes(step: &StepName) -> bool {
    matches!(step.as_str(), TARE_STEP | PROBES_STEP)
}

/// The steps of a check, in order.
pub(super) fn plans(options: &LeadOptions, steps: &[LeadStep]) -> Vec<StepPlan> {
    let first =
        (options.probes_first || options.tare == Tare::Touch).then(|| probe_leads(options));
    let mut plans: Vec<StepPlan> = first
        .into_iter()
        .chain(steps.iter().map(|step| plan(options, step)))
        .collect();
    // What must be known of this kind is told before anything is measured.
    if let (Some(first), Some(caution)) = (plans.first_mut(), &options.kind.caution) {
        first.prompt = format!("{} {caution}", first.prompt);
    }
    plans
}

/// A step as the step machine takes it.
pub(super) fn plan(options: &LeadOptions, step: &LeadStep) -> StepPlan {
    let by_loop = !step.shorted.is_empty();
    StepPlan {
        name: step.name.clone(),
        prompt: prompt::of(&options.kind, step),
        limit: if step.wants == Wants::Open {
            Limit::Open {
                pass: options.isolation,
                fail: Ohms(options.isolation.0 * LEAKAGE_SHARE),
            }
        } else {
            closed(options, step.path.len())
        },
        reach: step.reach,
        bends: if step.bent {
            prompt::bends(&options.kind)
        } else {
            Vec::new()
        },
        // A loop is left closed: what follows is reached by opening it.
        lift_after: step.wants == Wants::Closed && !by_loop,
        of_probes: false,
        when_open: by_loop
            .then_some("which conductor, or the shorting plug, the end-to-end method tells"),
    }
}

fn probe_leads(options: &LeadOptions) -> StepPlan {
    let (name, prompt) = if options.probes_first {
        (
            PROBES_STEP,
            "Touch the probe tips together firmly, then bend only the probe leads.",
        )
    } else {
        (TARE_STEP, "Touch the probe tips together firmly.")
    };
    StepPlan {
        name: name.into(),
        prompt: prompt.to_owned(),
        limit: Limit::Closed {
            pass: MOST_TARE,
            fail: MOST_TARE,
            basis: "sound probe leads".to_owned(),
        },
        reach: Reach::Touch,
        bends: if options.probes_first {
            vec!["the probe leads, and only them".to_owned()]
        } else {
            Vec::new()
        },
        lift_after: true,
        of_probes: true,
        when_open: None,
    }
}

/// The limits of so many conductors in series.
fn closed(options: &LeadOptions, conductors: usize) -> Limit {
    let conductors = u32::try_from(conductors).map_or(f64::INFINITY, f64::from);
    let contacts = conductors * options.kind.contacts_allowed.0;
    let (mut pass, mut fail, mut basis) = match options.conductor {
        Some((length, gauge)) => {
            let temperature = options.temperature;
            let copper = conductors * conductor::resistance(length, gauge, temperature).0;
            (
                copper + contacts,
                copper + contacts + SUSPECT.0,
                format!(
                    "{} of copper in {length} of {gauge} at {temperature}, {} for contacts and \
                     joints",
                    Ohms(copper),
                    Ohms(contacts)
                ),
            )
        }
        None => (
            conductors * options.limit.0,
            (conductors + SUSPECT_SHARE) * options.limit.0,
            "plain limit, length and gauge not given".to_owned(),
        ),
    };
    if options.tare == Tare::None && !options.probes_first {
        pass += PROBE_LEADS.0;
        fail += PROBE_LEADS.0;
        basis = format!("{basis}, {PROBE_LEADS} for the probe leads, no tare taken");
    }
    Limit::Closed {
        pass: Ohms(pass),
        fail: Ohms(fail),
        basis,
    }
}
