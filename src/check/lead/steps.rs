//! The steps of a lead check, and where their limits come from.

use crate::check::lead::{LeadOptions, Method, Tare};
use crate::check::notice::StepName;
use crate::check::step::{Limit, Reach, StepPlan};
use crate::circuit::{Celsius, conductor};
use crate::reading::Ohms;

/// Contacts and joints of one conductor above its copper (common practice, no source).
const CONTACTS: Ohms = Ohms(0.5);
/// What one contact or joint may read above that while cleaning may still help (common
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
pub(super) const TARE_STEP: &str = "tare";
/// The step that bends the probe leads alone.
pub(super) const PROBES_STEP: &str = "probes";

/// Whether a step measures the probe leads and not the work.
pub(super) fn is_of_probes(step: &StepName) -> bool {
    matches!(step.as_str(), TARE_STEP | PROBES_STEP)
}

/// Leads fail most at the strain reliefs, then where they are trodden on (common practice, no
/// source).
const ALONG: &[&str] = &[
    "at the strain relief of one plug",
    "at the strain relief of the other",
    "along the length",
];

/// The steps of a check, in order.
pub(super) fn plans(options: &LeadOptions) -> Vec<StepPlan> {
    let mut plans = Vec::new();
    if options.probes_first || options.tare == Tare::Touch {
        plans.push(probe_leads(options));
    }
    match options.method {
        Method::EndToEnd => {
            plans.push(closed(
                "tip",
                "Probe tip to tip, one probe at each end.",
                1.0,
                options,
            ));
            plans.push(closed(
                "sleeve",
                "Probe sleeve to sleeve, one probe at each end.",
                1.0,
                options,
            ));
            plans.push(isolation(
                "Probe tip and sleeve at the same end, far end free; press Enter when they are on.",
                Reach::Confirm,
                options,
            ));
        }
        Method::Loop => {
            let mut round = closed(
                "loop",
                "Put the shorting plug on the far end; probe tip and sleeve at the near end.",
                2.0,
                options,
            );
            round.lift_after = false;
            plans.push(round);
            plans.push(isolation(
                "Pull the shorting plug off the far end; leave the probes on.",
                Reach::PullShort,
                options,
            ));
        }
    }
    plans
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
            &["the probe leads, and only them"]
        } else {
            &[]
        },
        lift_after: true,
        of_probes: true,
    }
}

/// A step over `conductors` in series that should be closed.
fn closed(name: &str, prompt: &str, conductors: f64, options: &LeadOptions) -> StepPlan {
    let copper = options.conductor.map(|(length, gauge)| {
        (
            length,
            gauge,
            conductor::resistance(length, gauge, Celsius::REFERENCE),
        )
    });
    let (mut pass, mut fail, mut basis) = match copper {
        Some((length, gauge, one)) => (
            conductors * (one.0 + CONTACTS.0),
            conductors * (one.0 + CONTACTS.0) + SUSPECT.0,
            format!(
                "{} of copper in {length} of {gauge}, {} for contacts and joints",
                Ohms(one.0 * conductors),
                Ohms(CONTACTS.0 * conductors)
            ),
        ),
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
    StepPlan {
        name: name.into(),
        prompt: prompt.to_owned(),
        limit: Limit::Closed {
            pass: Ohms(pass),
            fail: Ohms(fail),
            basis,
        },
        reach: Reach::Touch,
        bends: ALONG,
        lift_after: true,
        of_probes: false,
    }
}

fn isolation(prompt: &str, reach: Reach, options: &LeadOptions) -> StepPlan {
    StepPlan {
        name: "isolation".into(),
        prompt: prompt.to_owned(),
        limit: Limit::Open {
            pass: options.isolation,
            fail: Ohms(options.isolation.0 * LEAKAGE_SHARE),
        },
        reach,
        bends: ALONG,
        lift_after: false,
        of_probes: false,
    }
}
