//! What a step says when contact does not come, does not hold, or is lost.

use crate::check::notice::{Finding, Verdict};
use crate::check::step::judge::Judgement;
use crate::check::step::plan::{Reach, StepPlan};
use crate::check::step::rest::shows_contact;
use crate::reading::Measured;

/// The verdict on a step whose contact never came, was never lifted, or was never confirmed.
pub(super) fn never_came(
    plan: &StepPlan,
    loop_seen: bool,
    last: Option<&Measured>,
) -> Judgement {
    let shown = last
        .and_then(Measured::ohms)
        .map_or_else(|| "over-range".to_owned(), |ohms| ohms.to_string());
    match plan.reach {
        Reach::Touch if last.is_some() => Judgement::of(
            Verdict::Fail,
            format!(
                "open: {shown} where a closed conductor is wanted{}",
                plan.when_open
                    .map_or_else(String::new, |hint| format!("; {hint}"))
            ),
        )
        .finding(Finding::Open),
        Reach::Touch => Judgement::of(Verdict::Retest, "no reading came".to_owned()),
        Reach::PullShort if loop_seen && last.is_some_and(shows_contact) => Judgement::of(
            Verdict::Fail,
            format!("still closed at {shown} after the far-end plug was to come out"),
        )
        .finding(Finding::Joined),
        Reach::PullShort => Judgement::of(
            Verdict::Retest,
            "the closed loop was not seen first, so nothing proves that the probes were on"
                .to_owned(),
        ),
        Reach::Confirm => Judgement::of(
            Verdict::Retest,
            "nobody confirmed that the probes were on, and probes in the air read open as well"
                .to_owned(),
        ),
    }
}

/// Why a step ends that nothing would hold still for.
pub(super) fn will_not_hold(plan: &StepPlan) -> String {
    match plan.reach {
        Reach::Touch => {
            "contact would not hold long enough to read at rest: clip the probes on".to_owned()
        }
        Reach::PullShort | Reach::Confirm => {
            "nothing stayed long enough to be read at rest: clip the probes on".to_owned()
        }
    }
}

/// The prompt when a step asks a second time.
pub(super) fn ask_again(plan: &StepPlan, loop_seen: bool) -> String {
    match plan.reach {
        Reach::Touch => {
            format!(
                "No contact yet. {} If the probes are on, press Enter.",
                plan.prompt
            )
        }
        Reach::PullShort if loop_seen => {
            format!("Still closed. {} If it is out, press Enter.", plan.prompt)
        }
        Reach::PullShort => {
            "Put the shorting plug back, probe the same contacts, then pull it again."
                .to_owned()
        }
        Reach::Confirm => format!("Waiting for Enter. {}", plan.prompt),
    }
}

/// The prompt after contact was lost for longer than a bend.
pub(super) fn contact_lost(plan: &StepPlan) -> String {
    format!(
        "Contact lost: lifted probe or parted conductor? {} If the probes are still on, press \
         Enter.",
        plan.prompt
    )
}
