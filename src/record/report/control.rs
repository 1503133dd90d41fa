//! What a control's check shows on its page: the expected values beside the measured ones, the
//! turning over time, the track from end to end, and what was not checked.

use crate::check::notice::{CheckResult, Proof, StepResult, Verdict};
use crate::check::pot::{Place, PotOptions, Swept};
use crate::circuit::control::{CLEAN_RESIDUAL, WORST_RESIDUAL, Wiring};
use crate::reading::Ohms;
use crate::record::report::input::{
    Expected, MeasuredValue, Section, StateRow, Track, TrackBin, TrackFault,
};
use crate::record::report::text::sentence;
use crate::signal::sweep::{Analysis, EventKind, Finding, Grade, Pass, Zone};

/// The sections of a control: those of any check, with what is known of its sweeps.
pub fn control_sections(
    sections: Vec<Section>,
    options: &PotOptions,
    swept: &[Swept<'_>],
) -> Vec<Section> {
    let mut sections: Vec<Section> = sections
        .into_iter()
        .map(|section| match section {
            Section::States(mut states) => {
                states.rows = states
                    .rows
                    .into_iter()
                    .flat_map(|row| rows(row, options, swept))
                    .collect();
                Section::States(states)
            }
            Section::Traces(mut traces) => {
                for trace in &mut traces {
                    let sweep = swept.iter().find(|sweep| sweep.step == trace.name);
                    trace.top = sweep.map(|sweep| sweep.analysis.highest).or(trace.top);
                }
                traces.retain(|trace| trace.top.is_some());
                Section::Traces(traces)
            }
            Section::Track(track) => Section::Track(track),
        })
        .collect();
    sections.extend(
        swept
            .iter()
            .filter(|sweep| !sweep.analysis.passes.is_empty())
            .map(|sweep| Section::Track(track(sweep, swept.len() > 1))),
    );
    sections
}

/// A step's row, and under a sweep its track residual against the borrowed limits.
fn rows(mut row: StateRow, options: &PotOptions, swept: &[Swept<'_>]) -> Vec<StateRow> {
    if row.name.starts_with("total")
        && let Some(control) = options.nominal
    {
        let band = control.band();
        row.expected = Expected::Between {
            low: band.from,
            nominal: control.nominal,
            high: band.to,
        };
    }
    let Some(sweep) = swept.iter().find(|sweep| sweep.step == row.name) else {
        return vec![row];
    };
    row.expected = Expected::Word("a smooth track, both ways".to_owned());
    let Some(residual) = sweep.analysis.residual() else {
        return vec![row];
    };
    let noise = StateRow {
        name: format!("{}: track residual", row.name),
        expected: Expected::AtMost {
            pass: Ohms(CLEAN_RESIDUAL * sweep.total.0),
            fail: Ohms(WORST_RESIDUAL * sweep.total.0),
        },
        measured: MeasuredValue::Value(Ohms(residual * sweep.total.0)),
        verdict: if residual <= CLEAN_RESIDUAL {
            Some(Verdict::Pass)
        } else {
            row.verdict
        },
        proof: row.proof,
        coverage: None,
        reasons: Vec::new(),
    };
    vec![row, noise]
}

/// The strip of one sweep.
fn track(sweep: &Swept<'_>, named: bool) -> Track {
    let Analysis { bins, findings, .. } = sweep.analysis;
    Track {
        title: if named {
            format!("The track, {}", sweep.step)
        } else {
            "The track".to_owned()
        },
        ends: ["low end".to_owned(), "high end".to_owned()],
        noise_limit: Ohms(WORST_RESIDUAL * sweep.total.0),
        bins: bins
            .iter()
            .map(|bin| TrackBin {
                readings: bin.readings,
                noise: (bin.readings > 0).then_some(Ohms(bin.residual * sweep.total.0)),
                fault: fault(&bin.zone, findings),
            })
            .collect(),
    }
}

/// The gravest thing found in a bin.
fn fault(bin: &Zone, findings: &[Finding]) -> Option<TrackFault> {
    let middle = bin.middle();
    let half = 0.5 * bin.width();
    findings
        .iter()
        .filter(|finding| {
            finding.zone.from - half <= middle && middle <= finding.zone.to + half
        })
        .find_map(|finding| match (finding.kind, finding.grade) {
            (EventKind::Break | EventKind::Flicker, _) if finding.confirmed => {
                Some(TrackFault::Again)
            }
            (EventKind::Break | EventKind::Flicker, _) => Some(TrackFault::Once),
            (EventKind::Flat, _) if finding.confirmed => Some(TrackFault::Dead),
            (EventKind::Jump, _) if finding.confirmed => Some(TrackFault::Jump),
            (EventKind::NoisyZone, Grade::Bad) => Some(TrackFault::Noisy),
            _ => None,
        })
}

/// What was not checked of a control.
pub fn control_unchecked(
    options: &PotOptions,
    result: &CheckResult,
    swept: &[Swept<'_>],
) -> Vec<String> {
    let mut unchecked = Vec::new();
    for sweep in swept {
        let unread: Vec<String> = sweep.analysis.unread(2).iter().map(Zone::words).collect();
        if !unread.is_empty() {
            unchecked.push(format!(
                "{}: not read on two passes at {}.",
                sweep.step,
                unread.join(", ")
            ));
        }
        let finest = sweep.analysis.passes.iter().filter_map(Pass::smallest_zone);
        if let Some(zone) = finest.reduce(f64::min) {
            unchecked.push(format!(
                "{}: a fault on less than {:.1} % of the track; that is the smallest zone its \
                 slowest pass could have shown at this meter's rate.",
                sweep.step,
                100.0 * zone
            ));
        }
    }
    if swept.is_empty() {
        unchecked.push("The track: no sweep was made to its end.".to_owned());
    }
    unchecked.extend(result.not_covered.as_deref().map(sentence));
    match options.place {
        Place::Bench(plan) => {
            if !plan.law_marks {
                unchecked.push(
                    "The law of the track: places are parts of its resistance, and no marks of \
                     the turn were confirmed."
                        .to_owned(),
                );
            }
            if !plan.both_ends {
                unchecked.push(
                    "The high end by itself: it is told by complement from the sweep to the low \
                     end."
                        .to_owned(),
                );
            }
        }
        Place::Jack { wiring, .. } => unchecked.push(format!(
            "Whether the volume is wired as assumed: {}.",
            match wiring {
                Wiring::Standard => "wiper to the jack",
                Wiring::Independent => "wiper to the pickup",
            }
        )),
    }
    if options.nominal.is_none() && matches!(options.place, Place::Bench(_)) {
        unchecked.push("The total against what is marked: no value was given.".to_owned());
    }
    unchecked
}

/// What the reader must know before relying on the page.
pub fn control_cautions(result: &CheckResult) -> Vec<String> {
    let mut cautions = Vec::new();
    let on_word: Vec<&str> = result
        .steps
        .iter()
        .filter(|step| step.proof == Proof::Operator)
        .map(|step: &StepResult| step.step.as_str())
        .collect();
    if !on_word.is_empty() {
        cautions.push(format!(
            "That the probes were on, or the knob at its mark, is only the operator's word for {}.",
            on_word.join(" and ")
        ));
    }
    cautions.push(format!(
        "The limits of the track residual, {} % clean and {} % bad, are borrowed from contact \
         resistance variation of a guitar control's data sheet and of MIL-PRF-39035E 3.9, which \
         are measured with more bandwidth than a meter's stream has: a pass is weaker evidence \
         than theirs.",
        whole_percent(CLEAN_RESIDUAL),
        whole_percent(WORST_RESIDUAL)
    ));
    if result.verdict == Verdict::Pass {
        cautions.push(
            "A pass says how this control read on this day, turned as shown; it is no promise \
             for later."
                .to_owned(),
        );
    }
    cautions
}

/// A part in whole percent.
fn whole_percent(part: f64) -> String {
    format!("{:.0}", 100.0 * part)
}
