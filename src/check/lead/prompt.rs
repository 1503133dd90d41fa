//! What the operator is asked for in each step of a lead, and where it is bent.

use crate::check::lead::derive::LeadStep;
use crate::check::notice::Wants;
use crate::check::step::Reach;
use crate::circuit::lead::LeadKind;

/// The prompt of a step.
pub(super) fn of(kind: &LeadKind, step: &LeadStep) -> String {
    let [a, b] = step.probes;
    let (first, second) = (kind.contact_name(a), kind.contact_name(b));
    let straight = kind.is_straight();
    match (step.wants == Wants::Open, step.reach) {
        (false, _) if !step.shorted.is_empty() && straight => format!(
            "Put the shorting plug on the far end; probe {first} and {second} at the near end."
        ),
        (false, _) if !step.shorted.is_empty() => format!(
            "Put {} on {}; probe {first} and {second} of {}.",
            shorting_plugs(&step.shorted),
            ends(kind, &step.shorted),
            kind.plug_name(a.plug)
        ),
        (false, _) if straight => {
            format!("Probe {first} to {second}, one probe at each end.")
        }
        (false, _) => format!(
            "Probe {first} of {} and {second} of {}.",
            kind.plug_name(a.plug),
            kind.plug_name(b.plug)
        ),
        (true, Reach::PullShort) if straight => {
            "Pull the shorting plug off the far end; leave the probes on.".to_owned()
        }
        (true, Reach::PullShort) => format!(
            "Pull {} off {}; leave the probes on.",
            shorting_plugs(&step.pulled),
            ends(kind, &step.pulled)
        ),
        (true, _) if a.plug == b.plug && straight => format!(
            "Probe {first} and {second} at the same end, far end free; press Enter when they \
             are on."
        ),
        (true, _) if a.plug == b.plug => format!(
            "Probe {first} and {second} of {}, the other ends free; press Enter when they are \
             on.",
            kind.plug_name(a.plug)
        ),
        (true, _) => format!(
            "Probe {first} of {} and {second} of {}, all ends free; press Enter when they are \
             on.",
            kind.plug_name(a.plug),
            kind.plug_name(b.plug)
        ),
    }
}

/// Where a lead is bent. Leads fail most at the strain reliefs, then where they are trodden on
/// (common practice, no source).
pub(super) fn bends(kind: &LeadKind) -> Vec<String> {
    let reliefs: Vec<String> = if kind.is_straight() {
        vec![
            "at the strain relief of one plug".to_owned(),
            "at the strain relief of the other".to_owned(),
        ]
    } else {
        kind.plugs
            .iter()
            .map(|plug| format!("at the strain relief of {}", plug.name))
            .collect()
    };
    reliefs
        .into_iter()
        .chain(["along the length".to_owned()])
        .collect()
}

const fn shorting_plugs(plugs: &[usize]) -> &'static str {
    match plugs {
        [_] => "the shorting plug",
        _ => "the shorting plugs",
    }
}

/// The ends in words: `send`, `send and return`.
fn ends(kind: &LeadKind, plugs: &[usize]) -> String {
    let names: Vec<&str> = plugs.iter().map(|plug| kind.plug_name(*plug)).collect();
    names.join(" and ")
}
