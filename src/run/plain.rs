//! The run as lines of plain words, for a terminal without a screen and for a log.

use crate::check;
use crate::check::notice::{CheckResult, Notice, Proof, Verdict};
use crate::reading::{Magnitude, Reading};
use crate::session::{Counts, Session};
use crate::signal::BlindSpot;

/// The sign that goes with a verdict, so that colour is never needed.
pub(super) const fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "[ok]",
        Verdict::Retest => "[??]",
        Verdict::Fail => "[XX]",
    }
}

/// The text of a notice, without a line end.
pub(super) fn notice_text(notice: &Notice) -> String {
    match notice {
        Notice::Opened(opened) => format!("meter open: {}, {}", opened.source, opened.protocol),
        Notice::Step(step) => format!("{}: {}", step.step, step.prompt),
        Notice::Phase { step, phase } => format!("  {step}: {phase}"),
        Notice::Tick(tick) => format!(
            "  {}: bend and hold, {} of {}",
            tick.step, tick.flex, tick.of
        ),
        Notice::Reading(reading) => {
            format!("{:10.3} s  {}", reading.at.seconds(), shown(reading))
        }
        Notice::Disturbance(seen) => format!(
            "  {}: {} at {:.2} s, lasted {} to {}{}",
            seen.step,
            seen.kind.word().to_uppercase(),
            seen.from.seconds(),
            seen.at_least,
            seen.at_most,
            seen.ohms
                .map_or_else(String::new, |ohms| format!(", {ohms}"))
        ),
        Notice::Trouble { what, text } => {
            format!("TROUBLE ({}): {text}", what.word().replace('_', " "))
        }
        Notice::StepDone(result) => format!(
            "{} {}: {} ({}){}",
            sign(result.verdict),
            result.step,
            result.verdict.word().to_uppercase(),
            contact(result.proof),
            indented(&result.reasons)
        ),
        Notice::Verdict(result) => verdict(result),
    }
}

/// How it is known that the probes were on the work.
const fn contact(proof: Proof) -> &'static str {
    match proof {
        Proof::Seen => "contact seen",
        Proof::Operator => "contact on your word",
    }
}

/// What a watch came to.
pub(super) fn statistics_text(session: &Session) -> String {
    let Counts {
        numbers,
        over,
        blank,
        over_entered,
    } = session.history().counts();
    let summary = session.history().summary();
    let number =
        |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{v:.6}"));
    let intervals = session.intervals();
    let span = |value: Option<crate::reading::Seconds>| {
        value.map_or_else(|| "-".to_owned(), |seconds| seconds.to_string())
    };
    format!(
        "{numbers} numbers, {over} over-range (entered {over_entered} times), {blank} blank\n\
         mean {}, standard deviation {}, from {} to {}\n\
         time between readings: median {}, 95 in 100 within {}, longest {}",
        number(summary.mean()),
        number(summary.standard_deviation()),
        number(summary.min()),
        number(summary.max()),
        span(intervals.median()),
        span(intervals.high()),
        span(intervals.longest()),
    )
}

fn verdict(result: &CheckResult) -> String {
    let mut text = format!(
        "\n{} {}: {}{}",
        sign(result.verdict),
        result.check,
        result.verdict.word().to_uppercase(),
        indented(&result.reasons)
    );
    // A knob is turned and a circuit measured: nothing is held bent.
    let telling = match result.check {
        check::pot::NAME | check::rewire::NAME => BlindSpot::of_breaks,
        _ => BlindSpot::lines,
    };
    for line in result.blind_spot.as_ref().map(telling).unwrap_or_default() {
        text.push_str("\n     ");
        text.push_str(&line);
    }
    text
}

pub(super) fn indented(reasons: &[String]) -> String {
    reasons.iter().fold(String::new(), |text, reason| {
        text + "
     " + reason
    })
}

fn shown(reading: &Reading) -> String {
    let measured = &reading.measured;
    let marks = match measured.annunciators.to_string() {
        marks if marks.is_empty() => marks,
        marks => format!("  ({marks})"),
    };
    let value = match measured.magnitude {
        Magnitude::Over {
            beyond: Some(beyond),
        } => {
            format!(
                "OL, more than {} {}",
                beyond.to_f64(),
                measured.quantity.unit()
            )
        }
        Magnitude::Over { beyond: None } => "OL".to_owned(),
        Magnitude::Blank => "- - -".to_owned(),
        Magnitude::Number(decimal) => match measured.ohms() {
            Some(ohms) => ohms.to_string(),
            None => format!("{} {}", decimal.to_f64(), measured.quantity.unit()),
        },
    };
    format!("{value}{marks}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::notice::StepResult;

    #[test]
    fn a_step_tells_how_contact_is_known() {
        let line = |proof| {
            notice_text(&Notice::StepDone(StepResult {
                step: "isolation".into(),
                verdict: Verdict::Pass,
                ohms: None,
                finding: None,
                proof,
                coverage: 1.0,
                reasons: vec!["open".to_owned()],
            }))
        };
        assert_eq!(
            line(Proof::Seen),
            "[ok] isolation: PASS (contact seen)\n     open"
        );
        assert_eq!(
            line(Proof::Operator),
            "[ok] isolation: PASS (contact on your word)\n     open"
        );
    }
}
