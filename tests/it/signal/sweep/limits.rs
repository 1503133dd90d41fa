//! What a pass could have shown, the meter's own gaps, and readings of any kind.

use proptest::prelude::*;
use steadyohm::circuit::control::{BenchTrack, Jack, Wiring, fit};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::signal::sweep::{
    Advice, Grade, Level, MOST_READINGS, Sweep, SweepReading, SweepSettings, Zone, analyse,
    landmarks, smallest_zone, sweep_time,
};

use super::hand::{Fault, Scene, TOTAL};
use crate::signal::close;

#[test]
fn the_worked_sampling_limits() {
    // Worked: T = (100 k + m r) / n; one whole reading within a zone, w = 2 / (n T).
    close(sweep_time(4.0, 1.0, 0.0).0, 25.0, 1e-9);
    close(sweep_time(4.0, 1.0, 6.0).0, 26.5, 1e-9);
    close(smallest_zone(4.0, Seconds(50.0)), 0.01, 1e-12);
    close(smallest_zone(3.0, Seconds(10.0)), 0.066_67, 1e-5);
    // MIL-PRF-39002C 4.6.3: both ways in 60 +-15 s, so 22.5 to 37.5 s one way; at 4 a second
    // that gives each hundredth of the track about one reading.
    assert!((22.5..37.5).contains(&sweep_time(4.0, 1.0, 0.0).0));
}

#[test]
fn a_fast_clean_pass_says_what_it_could_not_show() {
    let track = BenchTrack::new(TOTAL);
    let scene = Scene {
        rate: 3.0,
        pass: 10.0,
        jitter: 0.0,
        ..Scene::CAREFUL
    };
    let analysis = analyse(
        &scene.readings(&track, &[]),
        &track,
        &SweepSettings::DEFAULT,
    );
    assert_eq!(analysis.passes.len(), 4);
    for pass in &analysis.passes {
        close(
            pass.smallest_zone().unwrap(),
            smallest_zone(3.0, Seconds(10.0)),
            0.004,
        );
        assert!(pass.sure_zone() >= pass.smallest_zone());
        assert!(pass.coverage() < 0.8);
        assert!(pass.blind_sentence().contains("may have been missed"));
    }
    assert!(!analysis.unread(4).is_empty());
}

#[test]
fn the_coach_speaks_of_the_step() {
    let track = BenchTrack::new(TOTAL);
    let mut sweep = Sweep::new(SweepSettings::DEFAULT);
    let reading = |seconds: f64, ohms: f64| SweepReading {
        at: Stamp::from_seconds(seconds),
        level: Level::Ohms(ohms),
        resolution: None,
    };
    assert_eq!(
        sweep.push(reading(0.0, 0.0), &track),
        Some((0.0, Advice::Steady))
    );
    assert_eq!(
        sweep.push(reading(0.5, 2500.0), &track),
        Some((0.01, Advice::Steady))
    );
    let (position, advice) = sweep.push(reading(1.0, 12500.0), &track).unwrap();
    close(position, 0.05, 1e-12);
    assert_eq!(
        advice.sentence().unwrap(),
        "slower: 4 % of the track passed between two readings"
    );
    // Through the peak of a loaded control it follows to the other side.
    let jack = Jack {
        wiring: Wiring::Standard,
        total: TOTAL,
        pickup: Ohms(6e3),
    };
    let mut sweep = Sweep::new(SweepSettings::DEFAULT);
    for reading in (Scene {
        passes: 1,
        ..Scene::CAREFUL
    })
    .readings(&jack, &[])
    {
        sweep.push(reading, &jack);
    }
    let last = *sweep.readings().last().unwrap();
    close(sweep.push(last, &jack).unwrap().0, 1.0, 0.01);
}

#[test]
fn the_meters_own_range_changes_are_no_breaks() {
    let track = BenchTrack::new(TOTAL);
    for seed in 0..30 {
        for rate in [5.0, 10.0, 20.0] {
            let scene = Scene {
                auto: true,
                rate,
                pass: 200.0 / rate,
                seed,
                ..Scene::CAREFUL
            };
            let readings = scene.readings(&track, &[]);
            let analysis = analyse(&readings, &track, &SweepSettings::DEFAULT);
            assert!(
                readings.iter().any(SweepReading::is_over),
                "the meter did change its range"
            );
            assert!(analysis.range_changes > 0, "{seed} {rate}");
            let bad = analysis
                .findings
                .iter()
                .any(|finding| finding.grade == Grade::Bad);
            assert!(!bad, "{seed} {rate}: {:#?}", analysis.findings);
            assert!(analysis.range_advice().unwrap().contains("lock the range"));
        }
    }
}

#[test]
fn a_break_on_an_autoranging_meter_is_still_a_break() {
    let track = BenchTrack::new(TOTAL);
    let zone = Zone {
        from: 0.30,
        to: 0.34,
    };
    for seed in 0..30 {
        let scene = Scene {
            auto: true,
            seed,
            ..Scene::CAREFUL
        };
        let readings = scene.readings(&track, &[Fault::Open(zone)]);
        let analysis = analyse(&readings, &track, &SweepSettings::DEFAULT);
        let finding = analysis.findings.first().unwrap();
        assert!(
            finding.confirmed && finding.grade == Grade::Bad,
            "{seed}: {finding:#?}"
        );
        assert!(
            finding.zone.meets(&zone, 0.02),
            "{seed}: {}",
            finding.zone.words()
        );
    }
}

#[test]
fn the_circuit_is_worked_out_from_a_sweep() {
    let truth = Jack {
        wiring: Wiring::Standard,
        total: TOTAL,
        pickup: Ohms(6e3),
    };
    for seed in 0..20 {
        let scene = Scene {
            seed,
            ..Scene::CAREFUL
        };
        let faults = [Fault::Dirt(
            Zone {
                from: 0.3,
                to: 0.32,
            },
            0.1,
        )];
        let marks = landmarks(
            &scene.readings(&truth, &faults),
            SweepSettings::DEFAULT.turn,
        );
        let peak = marks.tops.iter().copied().fold(f64::INFINITY, f64::min);
        let full = marks.valleys.iter().copied().filter(|ohms| *ohms > 1000.0);
        let found = fit(
            Wiring::Standard,
            Ohms(peak),
            Ohms(full.fold(f64::INFINITY, f64::min)),
        );
        let found = found.unwrap();
        close(found.total.0, 250e3, 2500.0);
        close(found.pickup.0, 6e3, 60.0);
    }
}

#[test]
fn memory_has_an_end() {
    let track = BenchTrack::new(TOTAL);
    let mut sweep = Sweep::new(SweepSettings::DEFAULT);
    for index in 0..MOST_READINGS + 7 {
        let micros = u64::try_from(index).unwrap() * 1000;
        let reading = SweepReading {
            at: Stamp::from_micros(micros),
            level: Level::Ohms(1000.0),
            resolution: Some(100.0),
        };
        sweep.push(reading, &track);
    }
    assert_eq!(sweep.readings().len(), MOST_READINGS);
    assert_eq!(sweep.analyse(&track).dropped, 7);
}

fn level() -> impl Strategy<Value = Level> {
    prop_oneof![
        6 => (0.0_f64..300e3).prop_map(Level::Ohms),
        2 => prop::num::f64::ANY.prop_map(Level::Ohms),
        1 => Just(Level::Over(None)),
        1 => prop::num::f64::ANY.prop_map(|scale| Level::Over(Some(scale))),
        1 => Just(Level::Blank),
    ]
}

proptest! {
    #[test]
    fn any_readings_are_analysed(
        rows in prop::collection::vec(
            (0_u64..10_000_000, level(), prop::option::of(prop::num::f64::ANY)), 0..80),
        total in prop_oneof![4 => Just(250e3), 1 => prop::num::f64::ANY],
        pickup in prop_oneof![4 => Just(6e3), 1 => prop::num::f64::ANY],
        wiring in 0_u8..3,
        bins in 0_u16..80,
    ) {
        let readings: Vec<SweepReading> = rows
            .into_iter()
            .map(|(micros, level, resolution)| SweepReading { at: Stamp::from_micros(micros), level, resolution })
            .collect();
        let settings = SweepSettings { bins, ..SweepSettings::DEFAULT };
        let jack = |wiring| Jack { wiring, total: Ohms(total), pickup: Ohms(pickup) };
        let analysis = match wiring {
            0 => analyse(&readings, &BenchTrack::new(Ohms(total)), &settings),
            1 => analyse(&readings, &jack(Wiring::Standard), &settings),
            _ => analyse(&readings, &jack(Wiring::Independent), &settings),
        };
        prop_assert_eq!(analysis.bins.len(), usize::from(bins));
        prop_assert!((0.0..=1.0).contains(&analysis.coverage(1)));
        for finding in &analysis.findings {
            prop_assert!(finding.zone.from <= finding.zone.to);
            prop_assert!(!finding.sentence().is_empty());
        }
        prop_assert!(landmarks(&readings, 0.3).tops.len() <= readings.len());
    }

    #[test]
    fn a_clean_rising_sweep_has_no_fault(
        steps in prop::collection::vec(0.0_f64..1.0, 60..300),
        resolution in prop_oneof![Just(1.0), Just(10.0), Just(100.0)],
    ) {
        let whole: f64 = steps.iter().sum();
        let mut along = 0.0;
        let mut readings = Vec::new();
        for (index, step) in (0_u32..).zip(&steps) {
            along += step;
            let ohms = (250e3 * along / whole / resolution).round() * resolution;
            readings.push(SweepReading {
                at: Stamp::from_seconds(0.1 * f64::from(index)),
                level: Level::Ohms(ohms),
                resolution: Some(resolution),
            });
        }
        let track = BenchTrack::new(TOTAL);
        let analysis = analyse(&readings, &track, &SweepSettings::DEFAULT);
        prop_assert_eq!(analysis.passes.len(), 1);
        prop_assert!(analysis.findings.iter().all(|finding| !finding.confirmed));
        prop_assert!(analysis.findings.iter().all(|finding| finding.grade != Grade::Bad));
        prop_assert!(analysis.residual().unwrap_or(0.0) < 0.005);
    }
}
