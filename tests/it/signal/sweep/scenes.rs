//! Each fault found at its place, and no fault on a good track.

use steadyohm::circuit::control::{BenchTrack, Jack, Lug, Wiring};
use steadyohm::reading::Ohms;
use steadyohm::signal::Track;
use steadyohm::signal::sweep::{
    Analysis, Cause, Direction, EventKind, Finding, Grade, Level, SweepReading, SweepSettings,
    Zone, analyse,
};

use super::hand::{Fault, Scene, TOTAL};

const ZONE: Zone = Zone {
    from: 0.30,
    to: 0.34,
};

/// The circuits a control is measured in.
fn circuits() -> Vec<(&'static str, Box<dyn Track>)> {
    let jack = |wiring| Jack {
        wiring,
        total: TOTAL,
        pickup: Ohms(6e3),
    };
    vec![
        ("low lug", Box::new(BenchTrack::new(TOTAL))),
        (
            "high lug",
            Box::new(BenchTrack {
                lug: Lug::High,
                ..BenchTrack::new(TOTAL)
            }),
        ),
        ("standard", Box::new(jack(Wiring::Standard))),
        ("independent", Box::new(jack(Wiring::Independent))),
    ]
}

fn look(scene: &Scene, track: &dyn Track, faults: &[Fault]) -> Analysis {
    analyse(
        &scene.readings(track, faults),
        track,
        &SweepSettings::DEFAULT,
    )
}

fn worst(analysis: &Analysis) -> Vec<&Finding> {
    analysis
        .findings
        .iter()
        .filter(|finding| finding.grade == Grade::Bad && finding.confirmed)
        .collect()
}

#[track_caller]
fn at(finding: &Finding, zone: &Zone, what: &str) {
    let off = (finding.zone.middle() - zone.middle()).abs();
    assert!(
        off < 0.03,
        "{what}: {} for {}",
        finding.zone.words(),
        zone.words()
    );
}

#[test]
fn a_good_track_gives_no_finding_and_is_covered() {
    for (name, track) in circuits() {
        for seed in 0..20 {
            let scene = Scene {
                seed,
                rests: 0.05,
                ..Scene::CAREFUL
            };
            let analysis = look(&scene, track.as_ref(), &[]);
            let ways: Vec<Direction> =
                analysis.passes.iter().map(|pass| pass.direction).collect();
            let (up, down) = (Direction::Up, Direction::Down);
            assert_eq!(ways, [up, down, up, down], "{name} {seed}");
            assert_eq!(analysis.findings, [], "{name} {seed}");
            assert!(
                analysis.coverage(4) > 0.9,
                "{name} {seed}: {}",
                analysis.coverage(4)
            );
            assert!(
                analysis.coverage(2) > 0.99,
                "{name} {seed}: {:?}",
                analysis.unread(2)
            );
            assert!(
                analysis.residual().unwrap() < 0.01,
                "{name} {seed}: {:?}",
                analysis.residual()
            );
            for pass in &analysis.passes {
                assert!(
                    pass.zone.from < 0.02 && pass.zone.to > 0.98,
                    "{name} {seed}: {:?}",
                    pass.zone
                );
            }
        }
    }
}

#[test]
fn an_open_zone_is_found_at_its_place_on_every_pass() {
    for (name, track) in circuits() {
        for seed in 0..20 {
            let scene = Scene {
                seed,
                ..Scene::CAREFUL
            };
            let analysis = look(&scene, track.as_ref(), &[Fault::Open(ZONE)]);
            let found = worst(&analysis);
            assert_eq!(found.len(), 1, "{name} {seed}: {:#?}", analysis.findings);
            at(found[0], &ZONE, name);
            assert_eq!(
                (found[0].kind, found[0].cause),
                (EventKind::Break, Cause::Track),
                "{name}"
            );
            assert_eq!(
                found[0].seen,
                4,
                "{name} {seed}: {:#?}",
                analysis
                    .passes
                    .iter()
                    .map(|p| (p.direction, p.zone, p.readings, p.events.len()))
                    .collect::<Vec<_>>()
            );
            for event in &found[0].events {
                assert!(event.at_least <= event.at_most);
            }
        }
    }
}

#[test]
fn a_dirty_zone_is_noise_at_its_place() {
    for (name, track) in circuits() {
        for seed in 0..20 {
            let scene = Scene {
                seed,
                ..Scene::CAREFUL
            };
            let analysis = look(&scene, track.as_ref(), &[Fault::Dirt(ZONE, 0.08)]);
            let found = worst(&analysis);
            assert_eq!(found.len(), 1, "{name} {seed}: {:#?}", analysis.findings);
            at(found[0], &ZONE, name);
            assert_eq!(
                (found[0].kind, found[0].cause),
                (EventKind::NoisyZone, Cause::Track),
                "{name}"
            );
        }
    }
}

#[test]
fn a_fault_turned_one_way_says_so() {
    let track = BenchTrack::new(TOTAL);
    let analysis = look(&Scene::CAREFUL, &track, &[Fault::DirtUp(ZONE, 0.1)]);
    let found = worst(&analysis);
    assert_eq!(found.len(), 1);
    assert_eq!(
        (found[0].cause, found[0].seen, found[0].watched),
        (Cause::OneWay, 2, 4)
    );
    assert!(
        found[0].sentence().contains("on 2 of 4 passes"),
        "{}",
        found[0].sentence()
    );
}

#[test]
fn a_fault_at_the_peak_of_the_loaded_control_is_seen() {
    let track = Jack {
        wiring: Wiring::Standard,
        total: TOTAL,
        pickup: Ohms(6e3),
    };
    let zone = Zone {
        from: 0.49,
        to: 0.53,
    };
    for seed in 0..20 {
        let scene = Scene {
            seed,
            ..Scene::CAREFUL
        };
        let analysis = look(&scene, &track, &[Fault::Dirt(zone, 0.08)]);
        let found = worst(&analysis);
        assert_eq!(found.len(), 1, "{seed}: {:#?}", analysis.findings);
        at(found[0], &zone, "peak");
    }
}

#[test]
fn faults_on_both_sides_of_the_peak_are_told_apart() {
    let track = Jack {
        wiring: Wiring::Standard,
        total: TOTAL,
        pickup: Ohms(6e3),
    };
    for place in [0.15, 0.25, 0.75, 0.85] {
        let zone = Zone {
            from: place,
            to: place + 0.04,
        };
        let analysis = look(&Scene::CAREFUL, &track, &[Fault::Open(zone)]);
        let found = worst(&analysis);
        assert_eq!(found.len(), 1, "{place}: {:#?}", analysis.findings);
        at(found[0], &zone, "one side");
    }
}

#[test]
fn a_cracked_track_is_open_from_the_crack_up() {
    let track = BenchTrack::new(TOTAL);
    let analysis = look(&Scene::CAREFUL, &track, &[Fault::Crack(0.6)]);
    let found = worst(&analysis);
    assert_eq!(found.len(), 1, "{:#?}", analysis.findings);
    assert_eq!(found[0].kind, EventKind::Break);
    assert!(
        (found[0].zone.from - 0.6).abs() < 0.02 && found[0].zone.to > 0.99,
        "{:?}",
        found[0].zone
    );
}

#[test]
fn a_dead_spot_comes_again_where_a_rest_does_not() {
    let track = BenchTrack::new(TOTAL);
    let analysis = look(&Scene::CAREFUL, &track, &[Fault::Dead(0.4, 0.08)]);
    let flat: Vec<&Finding> = analysis
        .findings
        .iter()
        .filter(|finding| finding.kind == EventKind::Flat)
        .collect();
    assert_eq!(flat.len(), 1, "{:#?}", analysis.findings);
    assert!((flat[0].zone.middle() - 0.4 / 0.92).abs() < 0.02);
    assert!(worst(&analysis).is_empty());
}

#[test]
fn a_sweep_that_ends_open_says_where() {
    let track = BenchTrack::new(TOTAL);
    let scene = Scene {
        passes: 3,
        ..Scene::CAREFUL
    };
    let analysis = look(&scene, &track, &[Fault::Crack(0.6)]);
    assert!((analysis.ended_open.unwrap() - 0.6).abs() < 0.02);
    assert_eq!(look(&scene, &track, &[]).ended_open, None);
}

/// Makes the first reading for which `picks` holds over-range, and every second one after it,
/// `count` in all.
fn lose(readings: &mut [SweepReading], count: usize, picks: impl Fn(f64, f64) -> bool) {
    let place = readings
        .windows(2)
        .position(|pair| match pair {
            [one, other] => one
                .ohms()
                .zip(other.ohms())
                .is_some_and(|(a, b)| picks(a, b)),
            _ => false,
        })
        .unwrap();
    for reading in readings.iter_mut().skip(place).step_by(2).take(count) {
        reading.level = Level::Over(None);
    }
}

#[test]
fn contact_that_comes_and_goes_is_flicker() {
    let track = BenchTrack::new(TOTAL);
    let mut readings = Scene::CAREFUL.readings(&track, &[]);
    lose(&mut readings, 4, |one, other| one < 100e3 && other >= 100e3);
    let analysis = analyse(&readings, &track, &SweepSettings::DEFAULT);
    assert_eq!(analysis.findings.len(), 1, "{:#?}", analysis.findings);
    let finding = &analysis.findings[0];
    assert_eq!(
        (finding.kind, finding.cause),
        (EventKind::Flicker, Cause::Once)
    );
    assert_eq!((finding.events[0].readings, finding.confirmed), (4, false));
    assert!((finding.zone.middle() - 0.4).abs() < 0.03);
}

#[test]
fn breaks_at_a_different_place_each_time_point_at_the_wiper() {
    let track = BenchTrack::new(TOTAL);
    let mut readings = Scene::CAREFUL.readings(&track, &[]);
    lose(&mut readings, 1, |one, other| one < 75e3 && other >= 75e3);
    lose(&mut readings, 1, |one, other| one > 175e3 && other <= 175e3);
    let analysis = analyse(&readings, &track, &SweepSettings::DEFAULT);
    let causes: Vec<Cause> = analysis
        .findings
        .iter()
        .map(|finding| finding.cause)
        .collect();
    assert_eq!(
        causes,
        [Cause::Moving, Cause::Moving],
        "{:#?}",
        analysis.findings
    );
    assert!(analysis.findings.iter().all(|finding| !finding.confirmed));
}
