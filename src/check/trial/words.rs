//! What a trial says.

use crate::check::meter::MeterView;
use crate::check::notice::{StepName, StepResult};
use crate::check::step::ClosedRest;
use crate::check::trial::{Findings, TrialOptions, done};
use crate::reading::{Seconds, Stamp};
use crate::signal::trial::{Batch, Estimate};

pub(super) const REST: &str = "Connect the meter to the board's loop and leave the board stopped, \
so that the loop is closed. Set the meter to its lowest ohms range by hand.";

pub(super) const BURSTS: &str = "readings arrive several at a time, so it cannot be told whether \
the gaps met the meter at every moment of its cycle: nothing is concluded; use an adapter that \
passes each reading on at once";

/// What the operator does once the loop was read at rest.
pub(super) fn start(options: &TrialOptions) -> String {
    format!(
        "Start the board now. The rest goes by itself and takes about {:.0} minutes: leave meter \
         and wires alone.",
        (options.duration().0 / 60.0).ceil()
    )
}

/// Which length comes next.
pub(super) fn next(options: &TrialOptions, length: Seconds) -> String {
    format!(
        "Counting {} gaps of {}, one every {}: leave meter and wires alone.",
        options.gaps,
        milliseconds(length.0),
        options.every
    )
}

/// The closed loop at rest.
pub(super) fn at_rest(step: StepName, rest: &ClosedRest) -> StepResult {
    let reason = format!("rests at {}; a gap shows above {}", rest.raw, rest.enter);
    done(step, Some(rest.raw), 1.0, vec![reason])
}

/// One length counted.
pub(super) fn counted(step: StepName, batch: &Batch) -> StepResult {
    let share = if batch.made == 0 {
        0.0
    } else {
        f64::from(batch.seen) / f64::from(batch.made)
    };
    let reason = format!(
        "gaps of {}: {} of {} showed",
        milliseconds(batch.length.0),
        batch.seen,
        batch.made
    );
    done(step, None, share, vec![reason])
}

/// What was found, with what it could not give.
pub(super) fn found(findings: &Findings) -> Vec<String> {
    let fit = &findings.fit;
    let mut lines = vec![
        format!(
            "each reading averages over {}",
            stretch(&fit.aperture, milliseconds)
        ),
        format!(
            "a gap must fill {} of that to show",
            stretch(&fit.fraction, |share| format!("{:.1} %", 100.0 * share))
        ),
    ];
    if fit.shortest_showed {
        lines.push(format!(
            "the shortest gaps tried showed too, so how short a gap can still show is not known: \
             none under {} is counted on; try shorter ones to know more",
            milliseconds(fit.shortest.high)
        ));
    }
    if fit.none_in_between {
        lines.push(
            "every length showed always or never, so there are only bounds: try lengths in \
             between"
                .to_owned(),
        );
    }
    lines.push("checks reckon with the cautious end of these figures".to_owned());
    lines
}

fn stretch(estimate: &Estimate, shown: impl Fn(f64) -> String) -> String {
    format!(
        "{} (95 %: {} to {})",
        shown(estimate.best),
        shown(estimate.low),
        shown(estimate.high)
    )
}

/// Milliseconds with as many digits as matter.
fn milliseconds(seconds: f64) -> String {
    let shown = seconds * 1e3;
    if shown.abs() < 9.995 {
        format!("{shown:.2} ms")
    } else if shown < 99.95 {
        format!("{shown:.1} ms")
    } else {
        format!("{shown:.0} ms")
    }
}

/// A beat of at least this much that does not fall in step with the readings: the fraction of
/// the golden section is the furthest from every simple ratio.
fn beat(least: f64, interval: Seconds) -> Seconds {
    const GOLDEN: f64 = 0.618;
    let whole = (least / interval.0 - GOLDEN).ceil().max(1.0);
    Seconds((whole + GOLDEN) * interval.0)
}

fn in_milliseconds(span: Seconds) -> String {
    format!("{:.0}ms", span.0 * 1e3)
}

/// Why the board goes too fast for this meter, if it does.
pub(super) fn too_fast(options: &TrialOptions, meter: &MeterView) -> Option<String> {
    let interval = meter.pacing_interval();
    let longest = options.longest();
    let least = (2.0 * longest.0).max(longest.0 + 4.0 * interval.0);
    (options.every.0 < least).then(|| {
        format!(
            "a gap every {} is too often: readings come every {interval}, and between two gaps \
             the meter must be back at rest; set the board and --every to {}",
            options.every,
            in_milliseconds(beat(least, interval))
        )
    })
}

/// The gaps fell in step with the readings.
pub(super) fn in_step(options: &TrialOptions, interval: Seconds) -> String {
    format!(
        "the gaps met the meter at the same few moments of its cycle, so their share is not the \
         chance: one every {} is {:.2} readings; set the board and --every to {}",
        options.every,
        options.every.0 / interval.0,
        in_milliseconds(beat(options.every.0, interval))
    )
}

/// The loop never lay still.
pub(super) fn never_rested(wait: Seconds) -> String {
    format!(
        "the loop did not read closed and still within {wait}: connect it, and start the board \
         only when asked to"
    )
}

/// The board never started.
pub(super) fn never_started(options: &TrialOptions) -> String {
    format!(
        "no opening of {} came within {}: start the board when asked to, and check that it opens \
         the loop",
        options.long_opening(),
        options.wait
    )
}

/// The board stopped on the way.
pub(super) fn stopped(options: &TrialOptions) -> String {
    format!(
        "the next long opening did not come when it should: the board must make {} lengths of {} \
         gaps each, one every {}, and one more long opening at the end",
        options.lengths.len(),
        options.gaps,
        options.every
    )
}

/// A long opening came too early or too late.
pub(super) fn out_of_time(options: &TrialOptions, took: Seconds) -> String {
    format!(
        "from one long opening to the next it took {took}, and should take {}: --gaps and --every \
         must be what the board does",
        options.cycle()
    )
}

/// A break where no gap was made.
pub(super) fn stray(at: Stamp) -> String {
    format!(
        "a break at {:.2} s, where the board made no gap: the loop's wiring is loose, or --gaps \
         and --every are not what the board does",
        at.seconds()
    )
}

/// The meter is not back when the next gap comes.
pub(super) fn slow_return(options: &TrialOptions, back: Seconds, interval: Seconds) -> String {
    format!(
        "the meter takes {back} to come back after a gap: set its range by hand, or set the \
         board and --every to {}",
        in_milliseconds(beat(
            back.0.max(options.every.0) + 2.0 * interval.0,
            interval
        ))
    )
}

/// Too much was missing.
pub(super) fn full_of_holes(length: Seconds, made: u32, wanted: u32) -> String {
    format!(
        "only {made} of {wanted} gaps of {} were watched: readings were missing, blank or garbled",
        milliseconds(length.0)
    )
}
