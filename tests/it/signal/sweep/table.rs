//! Every fault in every circuit at every rate, with hands of several kinds: what is found,
//! placed, missed, and falsely failed.

use steadyohm::circuit::control::{BenchTrack, Jack, Wiring};
use steadyohm::reading::Ohms;
use steadyohm::signal::Track;
use steadyohm::signal::sweep::{Analysis, Finding, Grade, Pass, SweepSettings, Zone, analyse};

use super::hand::{Fault, Scene, TOTAL};

const RATES: [f64; 4] = [2.0, 5.0, 20.0, 100.0];
const PASSES: [f64; 3] = [5.0, 12.0, 40.0];
const SEEDS: u64 = 4;

fn circuits() -> [Box<dyn Track>; 3] {
    let jack = |wiring| Jack {
        wiring,
        total: TOTAL,
        pickup: Ohms(6e3),
    };
    [
        Box::new(BenchTrack::new(TOTAL)),
        Box::new(jack(Wiring::Standard)),
        Box::new(jack(Wiring::Independent)),
    ]
}

fn scenes() -> impl Iterator<Item = Scene> {
    RATES.into_iter().flat_map(|rate| {
        PASSES.into_iter().flat_map(move |pass| {
            (0..SEEDS).map(move |seed| Scene {
                rate,
                // Thousands of readings a pass show nothing that hundreds do not.
                pass: pass.min(600.0 / rate),
                seed,
                rests: 0.03,
                slips: if seed % 3 == 0 { 0.1 } else { 0.0 },
                auto: seed % 4 == 1,
                ..Scene::CAREFUL
            })
        })
    })
}

fn bad(analysis: &Analysis) -> impl Iterator<Item = &Finding> {
    analysis
        .findings
        .iter()
        .filter(|finding| finding.grade == Grade::Bad)
}

#[derive(Debug, Default)]
struct Row {
    runs: u32,
    failed: u32,
    placed: u32,
    retest: u32,
    short: u32,
    missed: Vec<String>,
}

fn row(track: &dyn Track, fault: Fault, zone: &Zone) -> Row {
    let mut row = Row::default();
    for scene in scenes() {
        row.runs += 1;
        let analysis = analyse(
            &scene.readings(track, &[fault]),
            track,
            &SweepSettings::DEFAULT,
        );
        let confirmed = bad(&analysis).find(|finding| finding.confirmed);
        if let Some(finding) = confirmed {
            row.failed += 1;
            // A slow meter and a fast hand place it no better than their steps.
            let sure = analysis.passes.iter().filter_map(Pass::sure_zone);
            let slack = sure.fold(0.05, f64::max);
            let off = (finding.zone.middle() - zone.middle()).abs();
            let placed = off <= slack && finding.zone.meets(zone, 0.03);
            row.placed += u32::from(placed);
        } else if bad(&analysis).next().is_some() {
            row.retest += 1;
        } else if analysis.passes.is_empty()
            || analysis
                .passes
                .iter()
                .all(|pass| pass.sure_zone().is_none_or(|sure| sure > zone.width()))
        {
            row.short += 1;
        } else {
            row.missed.push(format!("{scene:?}"));
        }
    }
    row
}

#[test]
fn no_good_track_is_failed() {
    let (mut runs, mut failed) = (0, Vec::new());
    for track in circuits() {
        for scene in scenes() {
            runs += 1;
            let analysis = analyse(
                &scene.readings(track.as_ref(), &[]),
                track.as_ref(),
                &SweepSettings::DEFAULT,
            );
            if let Some(finding) = bad(&analysis).find(|finding| finding.confirmed) {
                failed.push(format!("{scene:?} {}", finding.sentence()));
            }
        }
    }
    assert_eq!(runs, 3 * scenes().count());
    assert!(
        100 * failed.len() < runs,
        "{} of {runs}: {failed:#?}",
        failed.len()
    );
}

#[test]
fn no_fault_wider_than_two_steps_is_missed() {
    for (name, zone) in [
        (
            "low",
            Zone {
                from: 0.3,
                to: 0.35,
            },
        ),
        (
            "high",
            Zone {
                from: 0.7,
                to: 0.74,
            },
        ),
    ] {
        for track in circuits() {
            for fault in [
                Fault::Open(zone),
                Fault::Dirt(zone, 0.1),
                Fault::Dirt(zone, 0.4),
            ] {
                let row = row(track.as_ref(), fault, &zone);
                assert!(2 * row.failed >= row.runs, "{name} {fault:?}: {row:?}");
                assert!(row.missed.is_empty(), "{name} {fault:?}: {:#?}", row.missed);
                assert!(
                    20 * row.placed >= 19 * row.failed,
                    "{name} {fault:?}: {row:?}"
                );
            }
        }
    }
}
