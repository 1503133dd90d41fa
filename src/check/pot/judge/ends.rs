//! The ends of a control: what is read at rest there, and turns no hand makes.

use crate::check::notice::Verdict;
use crate::check::pot::judge::Judgement;
use crate::check::pot::sweeping::Sweeping;
use crate::circuit::control::{Lug, end_limit};
use crate::reading::Ohms;
use crate::signal::Track;
use crate::signal::sweep::{Analysis, Direction, Grade};

/// Ends that read alike within this part of the total are a stop, and no hand that stops short.
const SAME_STOP: f64 = 0.006;

/// A rest above this part of the highest reading is not at the end.
const AT_REST: f64 = 0.3;

/// A break this near an end is the end's.
const COVERS_END: f64 = 0.94;

/// What was read at rest at one end of the turn, in ohms from that end's lug; where the hand
/// never rested, what the passes read there.
fn at_end(
    sweep: &Sweeping,
    analysis: &Analysis,
    high: bool,
    from: impl Fn(Ohms) -> f64,
) -> Vec<f64> {
    let (levels, other): (Vec<f64>, Vec<f64>) = sweep
        .rests
        .iter()
        .map(|ohms| (from(Ohms(*ohms)), *ohms))
        .filter(|(level, _)| *level <= AT_REST * analysis.highest.0)
        .unzip();
    if levels.len() >= 3 || (levels.is_empty() && other.len() >= 2) {
        return levels;
    }
    levels
        .into_iter()
        .chain(of_passes(analysis, high).map(from))
        .collect()
}

/// What the passes read at one end of the turn.
fn of_passes(analysis: &Analysis, high: bool) -> impl Iterator<Item = Ohms> {
    analysis
        .passes
        .iter()
        .map(move |pass| match (pass.direction, high) {
            (Direction::Up, false) | (Direction::Down, true) => pass.start,
            (Direction::Up, true) | (Direction::Down, false) => pass.end,
        })
}

/// Both ends against the limit borrowed from trimmers.
pub(super) fn ends(
    sweep: &Sweeping,
    analysis: &Analysis,
    (lug, total): (Lug, Ohms),
    judgement: &mut Judgement,
) {
    let limit = end_limit(total);
    for (high, name) in [(false, "low"), (true, "high")] {
        let opens_there = analysis
            .findings
            .iter()
            .filter(|finding| finding.grade == Grade::Bad)
            .any(|finding| {
                if high {
                    finding.zone.to >= COVERS_END
                } else {
                    finding.zone.from <= 1.0 - COVERS_END
                }
            });
        if opens_there {
            continue;
        }
        let measured = (lug == Lug::High) == high;
        let levels = at_end(sweep, analysis, high, |ohms| {
            if measured { ohms.0 } else { total.0 - ohms.0 }
        });
        let how = if measured { "" } else { ", by complement" };
        let Some(least) = levels.iter().copied().reduce(f64::min) else {
            continue;
        };
        let most = levels.iter().copied().fold(least, f64::max);
        let shown = Ohms(least.max(0.0));
        if least <= limit.0 {
            judgement.reasons.push(format!(
                "{name} end reads {shown}{how}, at most {limit} (MIL-PRF-22097J, borrowed)"
            ));
        } else if levels.len() >= 3 && most - least <= SAME_STOP * total.0 {
            judgement.fault(
                Verdict::Fail,
                format!(
                    "end resistance above its limit: the {name} end reads {shown}{how} every time, above \
                     {limit} (MIL-PRF-22097J, borrowed)"
                ),
            );
        } else {
            judgement.because(
                Verdict::Retest,
                format!(
                    "the {name} end never read below {shown}{how}: turn to the very stop, or its \
                     end resistance is above {limit}"
                ),
            );
        }
    }
}

/// At zero the standard wiring reads the end resistance and nothing else.
pub(super) fn zero_at_the_jack(
    sweep: &Sweeping,
    analysis: &Analysis,
    track: &dyn Track,
    judgement: &mut Judgement,
) {
    if track.peak() <= 0.0 || track.peak() >= 1.0 {
        return;
    }
    let limit = end_limit(track.total());
    let full = track.reading(1.0).0;
    let levels: Vec<f64> = zero_rests(sweep, analysis, full);
    let Some(least) = levels.iter().copied().reduce(f64::min) else {
        return;
    };
    let most = levels.iter().copied().fold(least, f64::max);
    if least <= limit.0 {
        return;
    }
    let shown = Ohms(least);
    if levels.len() >= 3 && most - least <= SAME_STOP * track.total().0 {
        judgement.fault(
            Verdict::Fail,
            format!(
                "end resistance above its limit: at zero the jack reads {shown} every time, above {limit} \
                 (MIL-PRF-22097J, borrowed): it will not turn down to silence"
            ),
        );
    } else {
        judgement.because(
            Verdict::Retest,
            format!("turned down, the jack never read below {shown}: turn to the very stop"),
        );
    }
}

/// Passes in which the reading leapt and nothing was between: a flicked knob, or contact lost at
/// that end where the circuit gives an open wiper a number.
pub(super) fn leaps(sweep: &Sweeping, judgement: &mut Judgement) {
    if judgement.verdict == Verdict::Fail {
        return;
    }
    let open = sweep.circuit.track().and_then(Track::open_reading);
    if let (Some(open), leaps @ 1..) = (open, sweep.leapt()) {
        judgement.because(
            Verdict::Retest,
            format!(
                "the reading leapt from end to end {leaps} times: a knob flicked, or contact lost, \
                 which reads {open} in this wiring"
            ),
        );
    }
}

/// What was read turned down to zero: every rest that is not the one full up.
fn zero_rests(sweep: &Sweeping, analysis: &Analysis, full: f64) -> Vec<f64> {
    let rests = sweep.rests.iter().copied();
    let zero: Vec<f64> = rests
        .filter(|ohms| (ohms / full - 1.0).abs() > 0.1 && *ohms <= AT_REST * analysis.highest.0)
        .collect();
    if zero.len() >= 2 {
        zero
    } else {
        of_passes(analysis, false).map(|ohms| ohms.0).collect()
    }
}
