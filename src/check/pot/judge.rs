//! What a sweep amounts to: pass, fail or retest, and the words for it.

mod cracked;
mod doubt;
mod ends;

use crate::check::notice::Verdict;
use crate::check::pot::circuit::Circuit;
use crate::check::pot::sweeping::Sweeping;
use crate::check::pot::words;
use crate::circuit::control::{CLEAN_RESIDUAL, Law};
use crate::reading::Ohms;
use crate::signal::Track;
use crate::signal::sweep::{Analysis, Cause, Event, EventKind, Finding, Grade, Pass};

/// A verdict with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judgement {
    pub(super) verdict: Verdict,
    pub(super) reasons: Vec<String>,
    /// What is wrong, in a few words each.
    pub(super) findings: Vec<String>,
}

impl Judgement {
    pub(super) const fn new() -> Self {
        Self {
            verdict: Verdict::Pass,
            reasons: Vec::new(),
            findings: Vec::new(),
        }
    }

    /// The same, with a reason for at least this verdict.
    pub(super) fn because(&mut self, verdict: Verdict, reason: String) {
        self.verdict = self.verdict.max(verdict);
        self.reasons.push(reason);
    }

    fn fault(&mut self, verdict: Verdict, reason: String) {
        self.findings.push(reason.clone());
        self.because(verdict, reason);
    }
}

/// What is known besides the readings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known {
    pub(super) law: Option<Law>,
    pub(super) detents: bool,
}

/// Judges a sweep that is over.
pub(super) fn judge(sweep: &Sweeping, known: Known) -> Judgement {
    let mut judgement = Judgement::new();
    let (Some(track), Some(analysis)) = (sweep.circuit.track(), &sweep.analysis) else {
        judgement.because(Verdict::Retest, no_circuit(sweep));
        return judgement;
    };
    if let Some((range, _)) = sweep.range_trouble.filter(|(_, times)| *times > 2) {
        let words = words::range_too_low(range, track.highest());
        judgement.because(Verdict::Retest, words);
        return judgement;
    }
    if let Some(said) = cracked::placed(sweep).or_else(|| cracked::unplaced(sweep)) {
        judgement.fault(Verdict::Fail, said);
    }
    if analysis.passes.is_empty() && judgement.verdict == Verdict::Fail {
        return judgement;
    }
    if analysis.passes.is_empty()
        && let Some(said) = cracked::open_beyond(sweep)
    {
        judgement.fault(Verdict::Fail, said);
        return judgement;
    }
    if analysis.passes.is_empty() {
        judgement.because(
            Verdict::Retest,
            "no pass from end to end was seen: begin at the low stop and turn up to the other"
                .to_owned(),
        );
        return judgement;
    }
    findings(sweep, analysis, known, &mut judgement);
    if let Circuit::Lugs(bench) = sweep.circuit {
        ends::ends(sweep, analysis, (bench.lug, bench.total), &mut judgement);
    } else if let Circuit::Jack(_) = sweep.circuit {
        ends::zero_at_the_jack(sweep, analysis, track, &mut judgement);
    }
    ends::leaps(sweep, &mut judgement);
    cracked::corner(sweep, &mut judgement);
    doubt::few_readings(sweep, analysis, &mut judgement);
    evidence(sweep, analysis, track, &mut judgement);
    summary(sweep, analysis, &mut judgement);
    judgement
}

fn no_circuit(sweep: &Sweeping) -> String {
    let mut circuit = sweep.circuit;
    match circuit.learn(sweep.readings()) {
        Err(why) => why.to_string(),
        Ok(()) => {
            "the control and the pickup could not be worked out from the sweep: turn from \
                   the very stop to the very stop, or give --total and --pickup"
                .to_owned()
        }
    }
}

/// Goes through what the passes showed.
fn findings(sweep: &Sweeping, analysis: &Analysis, known: Known, judgement: &mut Judgement) {
    for finding in &analysis.findings {
        // A crack has its own sentence.
        if sweep.crack.is_some_and(|crack| crack.zone == finding.zone)
            || sweep
                .unplaced
                .as_ref()
                .is_some_and(|u| u.zone == finding.zone)
        {
            continue;
        }
        let said = sentence(finding, known.law);
        let open = matches!(finding.kind, EventKind::Break | EventKind::Flicker);
        if let Some(range) = sweep.low_scale.filter(|_| open) {
            let words = words::range_too_low(range, analysis.highest);
            judgement.because(Verdict::Retest, words);
            continue;
        }
        if finding.kind == EventKind::Flat && doubt::is_of_a_bad_place(finding, analysis) {
            continue;
        }
        match (finding.kind, finding.grade, finding.confirmed) {
            (_, Grade::Bad, _) if doubt::was_too_fast(sweep, analysis, finding) => {
                judgement.because(
                    Verdict::Retest,
                    format!("{said}; turned too fast to be sure of it: not found is not good"),
                );
            }
            (_, Grade::Bad, true) => judgement.fault(Verdict::Fail, said),
            (_, Grade::Bad, false) if came_again(sweep, analysis, finding) => {
                let said = format!("{said}; it came again in the second go");
                judgement.fault(Verdict::Fail, said);
            }
            (_, Grade::Bad, false) => judgement.because(Verdict::Retest, said),
            (EventKind::Flat, _, true) if known.detents => judgement
                .reasons
                .push(format!("{said}; taken for a detent, as --detents says")),
            (EventKind::Flat, _, true) => judgement.fault(
                Verdict::Fail,
                format!(
                    "dead spot: {said}; a detent reads the same (--detents says it has some)"
                ),
            ),
            (EventKind::NoisyZone | EventKind::Jump, Grade::Noisy, true) => {
                judgement.fault(Verdict::Retest, said);
            }
            (EventKind::Dip, _, true) => judgement.because(
                Verdict::Retest,
                format!("{said}; poor contact only adds: fingers or debris across the probes"),
            ),
            _ => {}
        }
    }
    if !known.detents {
        flat_again(analysis, judgement);
    }
    judgement.findings.dedup();
}

/// A finding's sentence, its place in parts of the turn too where the law is known.
fn sentence(finding: &Finding, law: Option<Law>) -> String {
    let mut said = finding.sentence();
    let place = finding.zone.words();
    let turn = words::in_turn(&finding.zone, law);
    if !turn.is_empty() {
        said = said.replacen(&place, &format!("{place}{turn}"), 1);
    }
    said
}

/// Whether a fault that wanders was seen in the first go and again in the second, each time as
/// a step no hand makes.
fn came_again(sweep: &Sweeping, analysis: &Analysis, finding: &Finding) -> bool {
    let Some(second) = sweep.second_go else {
        return false;
    };
    let sharp = |after: bool| {
        let events = analysis
            .findings
            .iter()
            .filter(|other| other.grade == Grade::Bad)
            .flat_map(|other| &other.events);
        events
            .filter(|event| event.grade == Grade::Bad && !event.smooth)
            .any(|event| (event.from > second) == after)
    };
    finding.cause != Cause::LowEnd
        && finding.cause != Cause::HighEnd
        && sharp(false)
        && sharp(true)
}

/// Flat at one place on most passes, though not on all: too often for a hand that rests.
fn flat_again(analysis: &Analysis, judgement: &mut Judgement) {
    /// As near as that is the same place.
    const SAME: f64 = 0.01;
    let told = analysis
        .findings
        .iter()
        .any(|finding| finding.kind == EventKind::Flat);
    let flats: Vec<&Event> = analysis
        .passes
        .iter()
        .flat_map(|pass| &pass.events)
        .filter(|event| event.kind == EventKind::Flat)
        .collect();
    let again = flats.iter().find(|one| {
        let mut passes: Vec<usize> = flats
            .iter()
            .filter(|other| (other.zone.middle() - one.zone.middle()).abs() <= SAME)
            .map(|other| other.pass)
            .collect();
        passes.dedup();
        passes.len() >= 3 && 2 * passes.len() > analysis.passes.len()
    });
    if let (false, Some(event)) = (told, again) {
        judgement.because(
            Verdict::Retest,
            format!(
                "the reading stood still at {} on most passes: a dead spot, a detent, or the hand",
                event.zone.words()
            ),
        );
    }
}

/// No pickup is known to read more.
const MOST_PICKUP: Ohms = Ohms(30e3);

/// Whether there is enough to pass on.
fn evidence(
    sweep: &Sweeping,
    analysis: &Analysis,
    track: &dyn Track,
    judgement: &mut Judgement,
) {
    if judgement.verdict == Verdict::Fail {
        return;
    }
    let (up, down) = words::counted(&analysis.passes);
    if up < sweep.demand.passes || down < sweep.demand.passes {
        judgement.because(
            Verdict::Retest,
            format!(
                "{up} passes up and {down} down were seen, {} each are needed",
                sweep.demand.passes
            ),
        );
    }
    if let Some(why) = sweep.short_of() {
        judgement.because(Verdict::Retest, format!("{why}: not found is not good"));
        judgement.reasons.extend(analysis.range_advice());
    }
    if let Circuit::Jack(known) = sweep.circuit
        && let (None, Some(jack)) = (known.pickup, known.jack)
        && jack.pickup > MOST_PICKUP
    {
        judgement.because(
            Verdict::Retest,
            format!(
                "full up would mean a pickup of {}: turn to the very stop, or give --pickup",
                jack.pickup
            ),
        );
    }
    let digit = sweep
        .readings()
        .iter()
        .filter_map(|reading| reading.ohms().and(reading.resolution))
        .fold(0.0, f64::max);
    if 3.0 * digit > CLEAN_RESIDUAL * track.total().0 {
        let words = words::range_too_coarse(Ohms(digit), track.total());
        judgement.because(Verdict::Retest, words);
    }
    noise_everywhere(analysis, judgement);
    if let Some(place) = analysis.ended_open {
        judgement.because(
            Verdict::Retest,
            format!(
                "contact was lost at {:.0} % from the low end and did not come back: a lifted \
                 probe, or the track",
                100.0 * place
            ),
        );
    }
    if analysis.dropped > 0 {
        judgement.because(
            Verdict::Retest,
            format!(
                "{} readings were more than one sweep can hold",
                analysis.dropped
            ),
        );
    }
}

/// Noise above the lower limit on most passes, at one place or another.
fn noise_everywhere(analysis: &Analysis, judgement: &mut Judgement) {
    let noisy = analysis
        .passes
        .iter()
        .filter_map(|pass| pass.residual)
        .filter(|residual| residual.part > CLEAN_RESIDUAL)
        .count();
    if 2 * noisy > analysis.passes.len() {
        judgement.because(
            Verdict::Retest,
            format!(
                "above 1 % of the total on {noisy} of {} passes, wherever it was: the wiper, or \
                 the probes",
                analysis.passes.len()
            ),
        );
    }
}

/// What was measured, whatever the verdict.
fn summary(sweep: &Sweeping, analysis: &Analysis, judgement: &mut Judgement) {
    if let Circuit::Jack(known) = sweep.circuit
        && let Some(jack) = known.jack
        // The total of a track that is not reached to its end is not known.
        && sweep.unplaced.is_none()
    {
        let how = match (known.total, known.pickup) {
            (Some(_), Some(_)) => "as given",
            _ => "worked out from the sweep",
        };
        judgement.reasons.push(format!(
            "control {}, pickup {} {how}",
            jack.total, jack.pickup
        ));
    }
    if let Circuit::Cracked(jack) = sweep.circuit {
        judgement.reasons.push(format!(
            "control {}, pickup {}, worked out from both sides of the crack",
            jack.total, jack.pickup
        ));
    }
    if let Some(residual) = analysis.residual() {
        judgement.reasons.push(format!(
            "track residual at most {:.1} % of the total; 1 % is clean and 3 % bad, borrowed from \
             contact resistance variation, which no meter's stream shows",
            100.0 * residual
        ));
    }
    judgement.reasons.push(words::blind(&analysis.passes));
    if judgement.verdict == Verdict::Pass {
        judgement.reasons.push(
            "places are in parts of the track's resistance: on an audio track its first 5 %, \
             which is not judged for noise, is up to a third of the turn; --law-marks tells"
                .to_owned(),
        );
    } else if !judgement.findings.is_empty() && !cracked::is_cracked(sweep) {
        judgement.reasons.push(words::CLEAN_FIRST.to_owned());
    }
}

/// The part of the track that was read on at least two passes.
pub(super) fn coverage(analysis: Option<&Analysis>) -> f64 {
    analysis.map_or(0.0, |analysis| analysis.coverage(2))
}

/// The whole sweep in a line, for comparing two recordings.
pub fn headline(analysis: &Analysis) -> String {
    let residual = analysis.residual().map_or_else(
        || "no residual".to_owned(),
        |residual| format!("residual {:.1} %", 100.0 * residual),
    );
    let passes = analysis.passes.len();
    let bad = analysis
        .findings
        .iter()
        .filter(|finding| finding.grade == Grade::Bad)
        .count();
    let slow = analysis
        .passes
        .iter()
        .filter_map(Pass::smallest_zone)
        .reduce(f64::max);
    format!(
        "{residual}, {bad} bad places, {passes} passes{}",
        slow.map_or_else(String::new, |zone| format!(
            " that show {:.1} % or more",
            100.0 * zone
        ))
    )
}
