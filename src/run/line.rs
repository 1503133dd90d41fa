//! The JSON lines of the command contract.
//!
//! These types mirror the notices, since a line that others read is a promise; it is made
//! here and nowhere else.

use serde::Serialize;

use crate::check::notice::{CheckResult, Disturbance, Notice, StepResult};
use crate::reading::{Magnitude, Ohms, Reading, Seconds};
use crate::session::{Counts, Session};
use crate::signal::{Basis, BlindSpot};

/// One line.
#[derive(Debug, Serialize)]
#[serde(tag = "event", rename_all = "snake_case")]
enum Line<'a> {
    Opened {
        source: &'a str,
        protocol: &'a str,
        interval_s: Option<f64>,
    },
    Step {
        step: &'a str,
        wants: &'a str,
        prompt: &'a str,
    },
    Phase {
        step: &'a str,
        phase: &'a str,
    },
    Tick {
        step: &'a str,
        flex: u32,
        of: u32,
    },
    Reading {
        t: f64,
        ohms: Option<f64>,
        state: &'a str,
    },
    Break(Interval<'a>),
    Touch(Interval<'a>),
    Flicker(Interval<'a>),
    Jump(Interval<'a>),
    NoisyZone(Interval<'a>),
    Trouble {
        what: &'a str,
        text: &'a str,
    },
    StepDone(Step<'a>),
    Verdict {
        check: &'a str,
        verdict: &'a str,
        reasons: &'a [String],
        steps: Vec<Step<'a>>,
        blind_spot: Option<Blind>,
        recording: Option<&'a str>,
    },
    Statistics(Statistics),
    /// Beside a verdict: what is wrong in a few words each, and what this way of checking
    /// cannot see at all.
    Findings {
        findings: &'a [String],
        not_covered: Option<&'a str>,
    },
}

#[derive(Debug, Serialize)]
struct Interval<'a> {
    step: &'a str,
    from_s: f64,
    to_s: f64,
    at_least_s: f64,
    at_most_s: f64,
    ohms: Option<f64>,
}

#[derive(Debug, Serialize)]
pub(in crate::run) struct Step<'a> {
    #[serde(rename = "step")]
    name: &'a str,
    verdict: &'a str,
    ohms: Option<f64>,
    proof: &'a str,
    coverage: f64,
    reasons: &'a [String],
}

#[derive(Debug, Serialize)]
pub(in crate::run) struct Blind {
    interval_s: f64,
    aperture_s: f64,
    basis: &'static str,
    held_s: f64,
    sure_s: f64,
    chance: Vec<Chance>,
}

#[derive(Debug, Serialize)]
struct Chance {
    break_s: f64,
    p: f64,
    p_cautious: f64,
}

/// The last line of a watch: statistics of what came, in SI units and seconds.
#[derive(Debug, Serialize)]
struct Statistics {
    numbers: u64,
    over: u64,
    over_entered: u64,
    blank: u64,
    mean: Option<f64>,
    standard_deviation: Option<f64>,
    min: Option<f64>,
    max: Option<f64>,
    interval_median_s: Option<f64>,
    interval_high_s: Option<f64>,
    interval_longest_s: Option<f64>,
}

/// The line of a notice; a verdict's names the recording, and comes after a line of what was
/// found where something was.
pub(super) fn notice_line(notice: &Notice, recording: Option<&str>) -> String {
    let line = match notice {
        Notice::Opened(opened) => Line::Opened {
            source: &opened.source,
            protocol: &opened.protocol,
            interval_s: opened.interval.map(seconds),
        },
        Notice::Step(step) => Line::Step {
            step: &step.step,
            wants: step.wants.word(),
            prompt: &step.prompt,
        },
        Notice::Phase { step, phase } => Line::Phase {
            step,
            phase: phase.word(),
        },
        Notice::Tick(tick) => Line::Tick {
            step: &tick.step,
            flex: tick.flex,
            of: tick.of,
        },
        Notice::Reading(reading) => reading_line(reading),
        Notice::Disturbance(seen) => disturbance_line(seen),
        Notice::Trouble { what, text } => Line::Trouble {
            what: what.word(),
            text,
        },
        Notice::StepDone(result) => Line::StepDone(step(result)),
        Notice::Verdict(result) => {
            let verdict = to_text(&verdict_line(result, recording));
            return match findings_line(result) {
                Some(findings) => format!("{}\n{verdict}", to_text(&findings)),
                None => verdict,
            };
        }
    };
    to_text(&line)
}

/// The line before a verdict, where there is something to tell.
fn findings_line(result: &CheckResult) -> Option<Line<'_>> {
    let worth = !result.findings.is_empty() || result.not_covered.is_some();
    worth.then(|| Line::Findings {
        findings: &result.findings,
        not_covered: result.not_covered.as_deref(),
    })
}

/// The last line of a watch.
pub(super) fn statistics_line(session: &Session) -> String {
    let Counts {
        numbers,
        over,
        blank,
        over_entered,
    } = session.history().counts();
    let summary = session.history().summary();
    let intervals = session.intervals();
    to_text(&Line::Statistics(Statistics {
        numbers,
        over,
        over_entered,
        blank,
        mean: summary.mean(),
        standard_deviation: summary.standard_deviation(),
        min: summary.min(),
        max: summary.max(),
        interval_median_s: intervals.median().map(seconds),
        interval_high_s: intervals.high().map(seconds),
        interval_longest_s: intervals.longest().map(seconds),
    }))
}

fn reading_line(reading: &Reading) -> Line<'_> {
    Line::Reading {
        t: reading.at.seconds(),
        ohms: reading.measured.ohms().map(ohms),
        state: match reading.measured.magnitude {
            Magnitude::Number(_) => "number",
            Magnitude::Over { .. } => "over",
            Magnitude::Blank => "blank",
        },
    }
}

fn disturbance_line(seen: &Disturbance) -> Line<'_> {
    use crate::check::notice::DisturbanceKind as Kind;
    let interval = Interval {
        step: &seen.step,
        from_s: seen.from.seconds(),
        to_s: seen.to.seconds(),
        at_least_s: seconds(seen.at_least),
        at_most_s: seconds(seen.at_most),
        ohms: seen.ohms.map(ohms),
    };
    match seen.kind {
        Kind::Break => Line::Break(interval),
        Kind::Touch => Line::Touch(interval),
        Kind::Flicker => Line::Flicker(interval),
        Kind::Jump => Line::Jump(interval),
        Kind::NoisyZone => Line::NoisyZone(interval),
    }
}

pub(in crate::run) fn step(result: &StepResult) -> Step<'_> {
    Step {
        name: &result.step,
        verdict: result.verdict.word(),
        ohms: result.ohms.map(ohms),
        proof: result.proof.word(),
        coverage: rounded(result.coverage),
        reasons: &result.reasons,
    }
}

fn verdict_line<'a>(result: &'a CheckResult, recording: Option<&'a str>) -> Line<'a> {
    Line::Verdict {
        check: result.check,
        verdict: result.verdict.word(),
        reasons: &result.reasons,
        steps: result.steps.iter().map(step).collect(),
        blind_spot: result.blind_spot.as_ref().map(blind),
        recording,
    }
}

pub(in crate::run) fn blind(spot: &BlindSpot) -> Blind {
    Blind {
        interval_s: seconds(spot.interval),
        aperture_s: seconds(spot.aperture),
        basis: match spot.basis {
            Basis::Documented => "documented",
            Basis::Tried => "tried",
            Basis::Assumed => "assumed",
        },
        held_s: seconds(spot.held()),
        // What is called sure must not rest on an assumption.
        sure_s: seconds(match spot.basis {
            Basis::Assumed => spot.cautious_sure(),
            Basis::Documented | Basis::Tried => spot.sure(),
        }),
        chance: BlindSpot::SHOWN_BREAKS
            .iter()
            .map(|length| Chance {
                break_s: length.0,
                p: rounded(spot.chance(*length)),
                p_cautious: rounded(spot.cautious_chance(*length)),
            })
            .collect(),
    }
}

/// Seconds to the microsecond, in which stamps are kept.
fn seconds(span: Seconds) -> f64 {
    rounded(span.0)
}

/// Ohms without the last bits that a subtraction leaves behind.
fn ohms(value: Ohms) -> f64 {
    format!("{:.9e}", value.0).parse().unwrap_or(value.0)
}

fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn to_text(line: &Line<'_>) -> String {
    // Strings and numbers only: nothing in a line can fail to be written.
    serde_json::to_string(line).unwrap_or_default()
}
