//! The verdict on what a step read at rest, before anything is bent.

use crate::check::notice::{Finding, Verdict};
use crate::check::step::Context;
use crate::check::step::judge::Judgement;
use crate::check::step::plan::{Limit, StepPlan};
use crate::check::step::rest::{CONTACT, OpenLevel, Rest};
use crate::reading::Ohms;
use crate::signal::{Accuracies, Accuracy, uncertainty};

/// A tared value further below zero than this many counts means the tare no longer holds.
const BELOW_ZERO_COUNTS: f64 = 2.0;

/// The verdict on the value at rest alone.
pub(super) fn of(plan: &StepPlan, rest: &Rest, context: Context<'_>) -> Judgement {
    let stated = context.meter.facts.accuracy;
    match (&plan.limit, rest) {
        (Limit::Closed { pass, fail, basis }, Rest::Closed(rest)) => {
            let ohms = Ohms(rest.raw.0 - context.tare.unwrap_or_default().0);
            let slack = rest
                .step
                .map_or(0.0, |step| step.0 * BELOW_ZERO_COUNTS)
                .max(0.05);
            if ohms.0 < -slack {
                return Judgement::of(
                    Verdict::Retest,
                    format!("reads {ohms} after tare, below zero: take the tare again"),
                );
            }
            let accuracy = stated.at(rest.raw);
            let off = uncertainty(rest.raw, rest.step, context.tare.is_some(), accuracy);
            closed_value(ohms, off, (*pass, *fail), basis, accuracy)
        }
        (Limit::Open { pass, fail }, Rest::Open(rest)) => {
            open_value(*pass, *fail, rest.level, &stated)
        }
        _ => Judgement::of(Verdict::Retest, "nothing was read at rest".to_owned()),
    }
}

/// The verdict on a closed conductor's value, which may be off by `off` either way.
fn closed_value(
    ohms: Ohms,
    off: Ohms,
    (pass, fail): (Ohms, Ohms),
    basis: &str,
    accuracy: Option<Accuracy>,
) -> Judgement {
    if ohms.0 - off.0 > fail.0 {
        Judgement::of(
            Verdict::Fail,
            format!("reads {ohms} where at most {pass} is right ({basis})"),
        )
        .finding(Finding::HighResistance)
    } else if ohms > pass {
        Judgement::of(
            Verdict::Retest,
            format!(
                "reads {ohms}, above the {pass} wanted ({basis}) but not surely above {fail}: \
                 clean the contacts and measure again"
            ),
        )
        .finding(Finding::HighResistance)
    } else if ohms.0 + off.0 > pass.0 {
        Judgement::of(
            Verdict::Retest,
            format!(
                "reads {ohms}, too close to the {pass} wanted ({basis}) to call: the reading may \
                 be off by {off}{}",
                counted_in(accuracy)
            ),
        )
    } else {
        Judgement::of(
            Verdict::Pass,
            format!("closed at {ohms}, at most {pass} wanted ({basis})"),
        )
    }
}

/// What went into an uncertainty, if it is not all.
const fn counted_in(accuracy: Option<Accuracy>) -> &'static str {
    match accuracy {
        Some(_) => "",
        None => " for its digits alone; the meter's accuracy was not given",
    }
}

fn open_value(pass: Ohms, fail: Ohms, level: OpenLevel, stated: &Accuracies) -> Judgement {
    match level {
        OpenLevel::MoreThan(Some(scale)) if scale >= pass => Judgement::of(
            Verdict::Pass,
            format!(
                "open: more than {scale}, at least {pass} wanted, at the meter's own low voltage"
            ),
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
        OpenLevel::Reads(ohms, step) => {
            let off = uncertainty(ohms, step, false, stated.at(ohms));
            apart_value(ohms, off, pass, fail)
        }
    }
}

/// The verdict on a number read between conductors apart, which may be off by `off`.
fn apart_value(ohms: Ohms, off: Ohms, pass: Ohms, fail: Ohms) -> Judgement {
    /// Below this two conductors are simply joined (common practice, no source).
    const SHORT: Ohms = Ohms(10.0);
    if ohms.0 - off.0 >= pass.0 {
        Judgement::of(
            Verdict::Pass,
            format!("apart: reads {ohms}, at least {pass} wanted"),
        )
    } else if ohms >= pass {
        Judgement::of(
            Verdict::Retest,
            format!(
                "reads {ohms}, too close to the {pass} wanted to call: the reading may be off \
                 by {off}"
            ),
        )
    } else if ohms.0 + off.0 >= fail.0 {
        Judgement::of(
            Verdict::Retest,
            format!(
                "leakage: reads {ohms} where {pass} is wanted; keep fingers off the probe tips, \
                 dry and clean the plugs, and measure again"
            ),
        )
        .finding(Finding::Leakage)
    } else if ohms < SHORT {
        Judgement::of(
            Verdict::Fail,
            format!("shorted: reads {ohms} where nothing should connect"),
        )
        .finding(Finding::Joined)
    } else {
        let finding = if ohms < CONTACT {
            Finding::Joined
        } else {
            Finding::Leakage
        };
        Judgement::of(
            Verdict::Fail,
            format!("reads {ohms} where at least {pass} is wanted"),
        )
        .finding(finding)
    }
}
