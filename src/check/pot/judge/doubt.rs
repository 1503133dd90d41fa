//! What was seen and may not be the control: turned too fast, or of another fault's making.

use crate::check::notice::Verdict;
use crate::check::pot::circuit::Circuit;
use crate::check::pot::judge::Judgement;
use crate::check::pot::sweeping::Sweeping;
use crate::circuit::control::Wiring;
use crate::signal::sweep::{Analysis, Finding, Grade, Pass};

/// Whether something bad rests on numbers of passes so fast that the hand, the meter on its way or
/// a curve worked out wrong may have made it: over-range on the right range is proof at any pace.
pub(super) fn was_too_fast(sweep: &Sweeping, analysis: &Analysis, finding: &Finding) -> bool {
    /// A pass may have been unable to show this many times the zone it should.
    const FAST: f64 = 2.0;
    if finding.events.is_empty() {
        return false;
    }
    let doubtful = sweep.circuit_is_doubtful();
    let slow = |pass: usize| {
        let zone = analysis.passes.get(pass).and_then(Pass::smallest_zone);
        !doubtful && zone.is_some_and(|zone| zone <= FAST * sweep.demand.zone)
    };
    let mut sure: Vec<usize> = finding
        .events
        .iter()
        .filter(|event| event.ohms.is_none() || slow(event.pass))
        .map(|event| event.pass)
        .collect();
    sure.dedup();
    sure.len() < finding.seen.min(2)
}

/// At the jack, control and pickup are worked out from the very readings that are judged by
/// them: of few to a pass nothing bad is sure, and a track cracked half way, whose peak is a
/// corner where a sound one's is round, reads like a sound one of another total.
pub(super) fn few_readings(sweep: &Sweeping, analysis: &Analysis, judgement: &mut Judgement) {
    const SURE: u32 = 16;
    const ROUND: u32 = 40;
    if matches!(sweep.circuit, Circuit::Lugs(_)) {
        return;
    }
    let mut counts: Vec<u32> = analysis.passes.iter().map(|pass| pass.readings).collect();
    counts.sort_unstable();
    let few = counts.get(counts.len() / 2).copied().unwrap_or(0);
    let has_corner = matches!(sweep.circuit, Circuit::Jack(known)
        if known.total.is_none() && known.wiring == Wiring::Standard);
    if judgement.verdict == Verdict::Fail && few < SURE {
        judgement.verdict = Verdict::Retest;
        let words = format!(
            "{few} readings a pass are too few to be sure of what follows: turn slower; not found \
             is not good"
        );
        judgement.reasons.insert(0, words);
    } else if judgement.verdict != Verdict::Fail && few < ROUND && has_corner {
        judgement.because(
            Verdict::Retest,
            format!(
                "{few} readings a pass do not tell a track cracked half way from a control of \
                 another total: turn slower, or give --total; not found is not good"
            ),
        );
    }
}

/// Whether a flat spot lies where contact is poor anyway: the fit is level under what it adds.
pub(super) fn is_of_a_bad_place(flat: &Finding, analysis: &Analysis) -> bool {
    const NEAR: f64 = 0.05;
    let mut bad = analysis
        .findings
        .iter()
        .filter(|other| other.grade == Grade::Bad);
    bad.any(|other| other.zone.meets(&flat.zone, NEAR))
}
