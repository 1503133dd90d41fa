//! A trial of the meter on the simulated bench in simulated time, and what checks make of it.

use std::sync::{Arc, OnceLock};

use steadyohm::bench::{
    Bench, BenchSettings, BoardPlan, Happening, Hunting, MeterSettings, OperatorStyle, Ranging,
};
use steadyohm::check::meter::{Lift, MeterFacts, MeterView, Tried};
use steadyohm::check::notice::{CheckResult, Notice, Verdict};
use steadyohm::check::trial::{Findings, Trial, TrialOptions};
use steadyohm::protocol::{Item, find};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::session::{Effect, Event, Session, Setup};
use steadyohm::signal::{Basis, BlindSpot};

/// A board, a meter, and what the program is told of the board.
#[derive(Debug, Clone)]
struct Scene {
    meter: MeterSettings,
    options: TrialOptions,
    board: BoardPlan,
    seed: u64,
    /// Readings that come as bytes without sense, by number.
    garbled: fn(u32) -> bool,
}

impl Scene {
    fn new(rate: f64, milliseconds: &[f64], every: f64) -> Self {
        let lengths: Vec<Seconds> = milliseconds.iter().map(|ms| Seconds(ms / 1e3)).collect();
        let lead_in = Seconds(20.0 / rate);
        Self {
            meter: MeterSettings {
                ranging: Ranging::Fixed(0),
                ..MeterSettings::handheld(rate)
            },
            board: BoardPlan::new(&lengths, 40, Seconds(every), lead_in),
            options: TrialOptions {
                lengths,
                gaps: 40,
                every: Seconds(every),
                wait: Seconds(60.0),
            },
            seed: 1,
            garbled: |_| false,
        }
    }

    fn run(&self) -> (CheckResult, Option<Findings>) {
        let findings = Arc::new(OnceLock::new());
        let trial = Trial::new(self.options.clone(), Arc::clone(&findings));
        let mut session = Session::new(Setup {
            protocol: find("lcd-segments-14").unwrap(),
            source: "the simulated bench".to_owned(),
            facts: MeterFacts {
                counts: Some(4000),
                ..MeterFacts::default()
            },
            check: Some(Box::new(trial)),
            patience: Seconds(60.0),
        });
        let mut bench = Bench::new(&BenchSettings {
            meter: self.meter,
            operator: OperatorStyle::Board(self.board),
            seed: self.seed,
            ..crate::simulated::bench_settings()
        });
        let mut verdict = None;
        let mut events = vec![Event::Opened {
            at: Stamp::START,
            mid_stream: true,
            caution: None,
        }];
        let mut count = 0;
        while verdict.is_none() {
            for event in std::mem::take(&mut events) {
                for effect in session.update(event) {
                    if let Effect::Emit(Notice::Verdict(result)) = effect {
                        verdict = Some(result);
                    }
                }
            }
            let next = bench.next_at();
            assert!(next < Stamp::from_seconds(7_200.0), "no end in sight");
            for happening in bench.advance(next) {
                let Happening::Reading { at, measured } = happening else {
                    continue;
                };
                count += 1;
                let item = if (self.garbled)(count) {
                    Item::Garbled {
                        bytes: vec![0],
                        why: steadyohm::protocol::Garble::OutOfStep,
                    }
                } else {
                    Item::Reading(measured)
                };
                events.push(Event::Item { at, item });
            }
        }
        (verdict.unwrap(), findings.get().cloned())
    }
}

/// The simulated meter's own figures: threshold 0.5 ohm above rest, clip at 440 ohm.
fn truth(meter: &MeterSettings) -> (f64, f64) {
    (meter.aperture().0, 0.5 / 440.0)
}

#[test]
fn a_meter_is_found_as_it_is_built() {
    for (rate, lengths, every) in [
        (3.0, [5.0, 10.0, 50.0, 100.0, 200.0], 1.618),
        (10.0, [2.0, 5.0, 10.0, 20.0, 50.0], 0.618),
        (50.0, [0.5, 1.0, 2.0, 3.0, 6.0], 0.1313),
    ] {
        for seed in 1..=4 {
            let scene = Scene {
                seed,
                ..Scene::new(rate, &lengths, every)
            };
            let (result, found) = scene.run();
            assert_eq!(result.verdict, Verdict::Pass, "{result:?}");
            let found = found.unwrap();
            let (aperture, fraction) = truth(&scene.meter);
            let fit = found.fit;
            assert!(
                fit.fraction.low <= fraction && fraction <= fit.fraction.high,
                "{fit:?}"
            );
            // The beat sweeps the phases evenly, so the counts scatter less than a binomial.
            let reach = aperture * (1.0 - 2.0 * fraction);
            assert!(fit.reach.low <= reach && reach <= fit.reach.high, "{fit:?}");
            assert!(
                fit.aperture.low <= aperture && aperture <= fit.aperture.high,
                "{fit:?}"
            );
            let spot = result.blind_spot.unwrap();
            assert_eq!(spot.basis, Basis::Tried);
            let honest = BlindSpot::tried(Seconds(1.0 / rate), Seconds(aperture), fraction);
            for ms in 1..400 {
                let length = Seconds(f64::from(ms) / 1e3);
                assert!(
                    spot.chance(length) <= honest.chance(length) + 1e-9,
                    "{ms} ms"
                );
            }
            assert!(spot.sure() < BlindSpot::assumed(spot.interval).cautious_sure());
        }
    }
}

#[test]
fn a_beat_in_step_with_the_meter_is_refused() {
    let mut scene = Scene::new(4.0, &[10.0, 50.0, 100.0], 1.625);
    scene.meter.jitter = 0.0;
    let (result, found) = scene.run();
    assert_eq!((result.verdict, found), (Verdict::Retest, None));
    insta::assert_snapshot!(result.reasons.join("\n"), @"the gaps met the meter at the same few moments of its cycle, so their share is not the chance: one every 1.62 s is 6.50 readings; set the board and --every to 1654ms");
}

#[test]
fn a_board_that_does_not_do_as_told_is_found_out() {
    let good = Scene::new(10.0, &[10.0, 50.0], 0.618);
    let with = |board: BoardPlan| {
        Scene {
            board,
            ..good.clone()
        }
        .run()
    };
    let plan = |gaps, every| {
        BoardPlan::new(
            &[Seconds(0.01), Seconds(0.05)],
            gaps,
            Seconds(every),
            Seconds(2.0),
        )
    };
    for board in [
        plan(30, 0.618),
        plan(40, 0.7),
        BoardPlan::new(&[Seconds(0.01)], 40, Seconds(0.618), Seconds(2.0)),
        // Never starts within the time.
        BoardPlan::new(&[Seconds(0.01)], 40, Seconds(0.618), Seconds(3_000.0)),
    ] {
        let (result, found) = with(board);
        assert_eq!(
            (result.verdict, found),
            (Verdict::Retest, None),
            "{board:?}"
        );
        assert_eq!(result.reasons.len(), 1, "{result:?}");
    }
    assert_eq!(good.run().0.verdict, Verdict::Pass);
}

#[test]
fn a_meter_that_hunts_for_its_range_is_told_to_hold_it() {
    let mut scene = Scene::new(3.0, &[10.0, 50.0, 100.0], 1.618);
    scene.meter.ranging = Ranging::Auto;
    scene.meter.hunting = Hunting::Blank;
    scene.meter.blanks = 2;
    // It looks for its range before it rests, too.
    scene.board.lead_in = Seconds(20.0);
    let (result, found) = scene.run();
    assert_eq!((result.verdict, found), (Verdict::Retest, None));
    assert!(
        result.reasons[0].contains("set its range by hand"),
        "{result:?}"
    );
}

#[test]
fn gaps_that_fell_into_lost_frames_are_not_counted() {
    let scene = Scene {
        garbled: |count| count > 40 && count % 100 == 0,
        ..Scene::new(10.0, &[10.0, 50.0], 0.618)
    };
    let (result, found) = scene.run();
    assert_eq!(result.verdict, Verdict::Pass, "{result:?}");
    for batch in found.unwrap().batches {
        assert!((20..40).contains(&batch.made), "{batch:?}");
    }
    let torn = Scene {
        garbled: |count| count > 40 && count % 8 == 0,
        ..Scene::new(10.0, &[10.0, 50.0], 0.618)
    };
    let (result, _) = torn.run();
    assert_eq!(result.verdict, Verdict::Retest);
    assert!(result.reasons[0].contains("were watched"), "{result:?}");
}

/// A trial holds at its own pace, on its own range, for breaks; a higher threshold asks for
/// more of the aperture in proportion, as a linear average does.
#[test]
fn a_trial_holds_only_where_it_was_made() {
    let tried = Tried {
        aperture: Seconds(0.1),
        fraction: 0.02,
        rise: Ohms(0.5),
        range: Some(-1),
        interval: Seconds(0.33),
    };
    let view = |interval| MeterView {
        facts: MeterFacts {
            tried: Some(tried),
            ..MeterFacts::default()
        },
        interval: Some(Seconds(interval)),
        arrival: None,
    };
    let lift = |rise, range| {
        Some(Lift::Break {
            rise: Ohms(rise),
            fraction: None,
            range,
        })
    };
    let basis = |interval, lift| view(interval).blind_spot(lift).unwrap().basis;
    let share = |rise| {
        view(0.33)
            .blind_spot(lift(rise, Some(-1)))
            .unwrap()
            .fraction
    };
    assert_eq!(basis(0.33, None), Basis::Tried);
    assert_eq!(share(0.5), Some(0.02));
    assert_eq!(share(0.4), Some(0.02));
    assert_eq!(share(1.0), Some(0.04));
    assert_eq!(share(500.0), Some(1.0));
    assert_eq!(basis(0.33, lift(0.5, Some(0))), Basis::Assumed);
    assert_eq!(basis(0.33, Some(Lift::Touch)), Basis::Assumed);
    assert_eq!(basis(0.5, lift(0.5, Some(-1))), Basis::Assumed);
    assert_eq!(basis(0.1, None), Basis::Assumed);
    insta::assert_snapshot!(view(0.33).blind_spot(None).unwrap().sentence(), @"Readings every 0.33 s: a break of 0.24 s or longer is surely seen; 100 ms with 59 %; shorter than 2.00 ms is not counted on (as tried).");
}
