//! The verdict on what a step read at rest, before anything is bent.

use crate::check::notice::Verdict;
use crate::check::step::judge::Judgement;
use crate::check::step::plan::{Limit, StepPlan};
use crate::check::step::rest::{OpenLevel, Rest};
use crate::reading::Ohms;

/// A tared value further below zero than this many counts means the tare no longer holds.
const BELOW_ZERO_COUNTS: f64 = 2.0;

/// The verdict on the value at rest alone.
pub(super) fn of(plan: &StepPlan, rest: &Rest, tare: Option<Ohms>) -> Judgement {
    match (&plan.limit, rest) {
        (Limit::Closed { pass, fail, basis }, Rest::Closed(rest)) => {
            let ohms = Ohms(rest.raw.0 - tare.unwrap_or_default().0);
            let slack = rest
                .step
                .map_or(0.0, |step| step.0 * BELOW_ZERO_COUNTS)
                .max(0.05);
            if ohms.0 < -slack {
                Judgement::of(
                    Verdict::Retest,
                    format!("reads {ohms} after tare, below zero: take the tare again"),
                )
            } else if ohms > *fail {
                Judgement::of(
                    Verdict::Fail,
                    format!("reads {ohms} where at most {pass} is right ({basis})"),
                )
            } else if ohms > *pass {
                Judgement::of(
                    Verdict::Retest,
                    format!(
                        "reads {ohms}, above the {pass} wanted ({basis}) but not above {fail}: \
                         clean the contacts and measure again"
                    ),
                )
            } else {
                Judgement::of(
                    Verdict::Pass,
                    format!("closed at {ohms}, at most {pass} wanted ({basis})"),
                )
            }
        }
        (Limit::Open { pass, fail }, Rest::Open(rest)) => open_value(*pass, *fail, rest.level),
        _ => Judgement::of(Verdict::Retest, "nothing was read at rest".to_owned()),
    }
}

fn open_value(pass: Ohms, fail: Ohms, level: OpenLevel) -> Judgement {
    /// Below this two conductors are simply joined (common practice, no source).
    const SHORT: Ohms = Ohms(10.0);
    match level {
        OpenLevel::MoreThan(Some(scale)) if scale >= pass => Judgement::of(
            Verdict::Pass,
            format!("open: more than {scale}, at least {pass} wanted"),
        ),
        OpenLevel::MoreThan(Some(scale)) => Judgement::of(
            Verdict::Retest,
            format!(
                "over-range on a range of {scale} proves only more than that, and {pass} is \
                 wanted: set the meter to its highest ohms range or to auto"
            ),
        ),
        OpenLevel::MoreThan(None) => Judgement::of(
            Verdict::Retest,
            "over-range proves only more than the selected range, and the range is not known: \
             give it with --range"
                .to_owned(),
        ),
        OpenLevel::Reads(ohms) if ohms >= pass => Judgement::of(
            Verdict::Pass,
            format!("apart: reads {ohms}, at least {pass} wanted"),
        ),
        OpenLevel::Reads(ohms) if ohms >= fail => Judgement::of(
            Verdict::Retest,
            format!(
                "leakage: reads {ohms} where {pass} is wanted; keep fingers off the probe tips, \
                 dry and clean the plugs, and measure again"
            ),
        ),
        OpenLevel::Reads(ohms) if ohms < SHORT => Judgement::of(
            Verdict::Fail,
            format!("shorted: reads {ohms} where nothing should connect"),
        ),
        OpenLevel::Reads(ohms) => Judgement::of(
            Verdict::Fail,
            format!("reads {ohms} where at least {pass} is wanted"),
        ),
    }
}
