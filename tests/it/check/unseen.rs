//! What was not seen does not pass, what is fine does not fail, and every run comes to an end.

use proptest::prelude::*;
use steadyohm::bench::{LeadFault, MeterSettings};
use steadyohm::check::lead::{LeadOptions, Method, Tare};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{Phase, Proof, Trouble, Verdict};
use steadyohm::reading::{Annunciator, Decimal, Magnitude, Measured, Ohms, Quantity};

use super::scene::{
    Next, Scene, blank, brisk, facts, measured, ohms, over, over_on, play, sound, tared,
};
use super::{says, ticks, troubles};
use crate::simulated::Run;

fn bending(scene: &Scene, step: &str) -> bool {
    scene.step == step && scene.phase == Phase::Flexing && scene.flex > 0
}

fn held(next: Next) -> Next {
    match next {
        Next::Reads(reading) => Next::Reads(Measured {
            annunciators: reading.annunciators.with(Annunciator::Hold),
            ..reading
        }),
        other => other,
    }
}

/// One reading missing, blank or unreadable in every bend may have been the break.
#[test]
fn a_hole_of_one_reading_in_every_bend_is_not_passed() {
    for hole in [Next::Nothing, blank(), Next::Garbled] {
        let ran = play(brisk(), facts(), |scene| {
            if bending(scene, "tip") && scene.since_tick == 3 {
                hole
            } else {
                sound(scene)
            }
        });
        assert_eq!(ran.step("tip").verdict, Verdict::Retest, "{hole:?}");
        assert!(says(&ran, "tip", "missing, blank or garbled"));
    }
}

#[test]
fn a_hole_in_one_bend_costs_that_bend() {
    let mut holes = 0;
    let ran = play(brisk(), facts(), |scene| {
        if bending(scene, "tip") && scene.flex == 2 && scene.since_tick == 3 && holes == 0 {
            holes += 1;
            return Next::Garbled;
        }
        sound(scene)
    });
    assert_eq!(ran.result().verdict, Verdict::Pass);
    assert_eq!(
        ticks(&ran, "tip")
            .iter()
            .filter(|(flex, _)| *flex == 2)
            .count(),
        2
    );
}

/// Otherwise the tip would be measured again as the sleeve.
#[test]
fn a_step_that_ends_on_a_blank_still_asks_to_lift() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 10,
            since_tick: 7,
            ..
        } => blank(),
        Scene {
            step: "tip",
            phase: Phase::Lifting,
            ..
        } => ohms(0.4),
        other => sound(other),
    });
    assert_eq!(ran.result().steps.len(), 1);
    assert_eq!(ran.result().verdict, Verdict::Retest);
}

/// A scratch of the probe is not a lift.
#[test]
fn a_moment_of_opening_is_not_a_lift() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            phase: Phase::Lifting,
            in_phase: 0..=1,
            ..
        } => over(),
        Scene {
            phase: Phase::Lifting,
            ..
        } => ohms(0.4),
        other => sound(other),
    });
    assert_eq!(ran.result().verdict, Verdict::Retest);
    assert_eq!(ran.result().steps.len(), 1, "the probes were never lifted");
}

#[test]
fn an_interruption_costs_the_proof_of_contact() {
    let by_loop = LeadOptions {
        method: Method::Loop,
        ..brisk()
    };
    // The probes are put down while HOLD is on, and the plug was never pulled.
    let ran = play(by_loop, facts(), |scene| match (scene.step, scene.phase) {
        ("isolation", Phase::Waiting) if scene.in_phase < 5 => held(ohms(0.6)),
        ("isolation", _) => over(),
        _ => ohms(0.6),
    });
    assert_eq!(ran.step("isolation").verdict, Verdict::Retest);

    // End to end, the operator is asked again after an interruption.
    let (mut asked, mut holds) = (0, 0);
    let ran = play(brisk(), facts(), |scene| match (scene.step, scene.phase) {
        ("isolation", Phase::Confirm) if scene.in_phase == 3 => {
            asked += 1;
            Next::Enter
        }
        ("isolation", Phase::Flexing) if scene.flex == 4 && holds < 5 => {
            holds += 1;
            held(over())
        }
        ("isolation", _) => over(),
        _ => sound(scene),
    });
    assert_eq!((asked, ran.result().verdict), (2, Verdict::Pass));
}

#[test]
fn a_tight_plug_that_touches_again_is_not_a_short() {
    let by_loop = LeadOptions {
        method: Method::Loop,
        ..brisk()
    };
    let mut since = 0;
    let ran = play(by_loop, facts(), |scene| match (scene.step, scene.phase) {
        ("isolation", _) => {
            since += 1;
            // Open for half a second, closed for one, then out.
            if (5..10).contains(&since) || since >= 20 {
                over()
            } else {
                ohms(0.6)
            }
        }
        _ => ohms(0.6),
    });
    assert_eq!(
        ran.result().verdict,
        Verdict::Pass,
        "{:?}",
        ran.result().reasons
    );
    assert_eq!(ran.step("isolation").proof, Proof::Seen);
}

/// The buzzer has a range of its own, and below zero there is a voltage.
#[test]
fn the_operators_range_is_not_that_of_the_buzzer() {
    let facts = MeterFacts {
        range: Some(Ohms(40e6)),
        ..MeterFacts::default()
    };
    let unmarked = |scene: &Scene| match (scene.step, scene.phase) {
        ("isolation", phase) if phase != Phase::Confirm => over_on(None),
        _ => sound(scene),
    };
    assert_eq!(
        play(brisk(), facts, unmarked).result().verdict,
        Verdict::Pass
    );
    let buzzer = play(brisk(), facts, |scene| match unmarked(scene) {
        Next::Reads(reading) => Next::Reads(Measured {
            quantity: Quantity::Continuity,
            ..reading
        }),
        other => other,
    });
    assert_eq!(buzzer.step("isolation").verdict, Verdict::Retest);
    let below_zero = play(brisk(), facts, |scene| match unmarked(scene) {
        Next::Reads(reading) if matches!(reading.magnitude, Magnitude::Over { .. }) => {
            let annunciators = reading.annunciators.with(Annunciator::Minus);
            Next::Reads(Measured {
                annunciators,
                ..reading
            })
        }
        other => other,
    });
    assert!(troubles(&below_zero, Trouble::WrongFunction) > 0);
    assert_eq!(below_zero.result().verdict, Verdict::Retest);
}

/// A probe that slides off bounces first: one bend, one occurrence.
#[test]
fn a_bounce_and_a_slip_in_the_same_bend_are_no_fail() {
    let mut slipping = 0;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            goes: 1,
            flex: 4..,
            ..
        } if slipping < 40 => {
            slipping += 1;
            if slipping == 4 { ohms(0.4) } else { over() }
        }
        other => sound(other),
    });
    assert_eq!(
        ran.step("tip").verdict,
        Verdict::Retest,
        "{:?}",
        ran.step("tip").reasons
    );
}

/// Noise on a sound lead is no fault, however few readings know its width.
#[test]
fn noise_alone_never_fails() {
    for counts in [1.5, 3.0, 6.0] {
        for seed in 0..12 {
            let mut run = Run::new(LeadFault::Good, 60.0, seed);
            run.bench.meter = MeterSettings {
                noise: counts,
                ..MeterSettings::handheld(60.0)
            };
            run.bytes = false;
            let ran = run.go();
            let reasons = &ran.result().reasons;
            assert_ne!(
                ran.result().verdict,
                Verdict::Fail,
                "{counts} {seed} {reasons:?}"
            );
        }
    }
}

#[test]
fn a_given_tare_stands_beside_bent_probe_leads() {
    let options = LeadOptions {
        probes_first: true,
        tare: Tare::Given(Ohms(0.2)),
        ..brisk()
    };
    let ran = play(options, facts(), |scene| match scene.step {
        "probes" if scene.phase != Phase::Lifting => ohms(0.2),
        _ => sound(scene),
    });
    assert_eq!(ran.result().verdict, Verdict::Pass);
    assert!((ran.step("tip").ohms.unwrap().0 - 0.2).abs() < 1e-9);
    assert!(
        (ran.step("probes").ohms.unwrap().0 - 0.2).abs() < 1e-9,
        "itself, not less itself"
    );
}

#[test]
fn a_key_held_down_answers_once() {
    let mut count = 0;
    let ran = play(
        crate::simulated::lead_options(),
        facts(),
        |scene| match scene {
            Scene { step: "tip", .. } if count < 60 => {
                count += 1;
                // From the second second on the key stays down for three.
                if (20..50).contains(&count) {
                    Next::Enter
                } else {
                    over()
                }
            }
            other => sound(other),
        },
    );
    assert_eq!(
        ran.result().verdict,
        Verdict::Pass,
        "{:?}",
        ran.result().reasons
    );
}

#[test]
fn nothing_is_judged_by_what_was_read_before_a_loss() {
    let mut lost = 0;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Waiting,
            ..
        } if lost < 60 => {
            lost += 1;
            match lost {
                ..40 => over(),
                40 => Next::Lost,
                45 => Next::Back,
                46..=58 => Next::Enter,
                _ => Next::Nothing,
            }
        }
        other => sound(other),
    });
    assert_eq!(ran.step("tip").verdict, Verdict::Pass);
    assert_eq!(ran.result().verdict, Verdict::Retest, "for the loss");
}

#[test]
fn breaks_seen_before_a_run_breaks_off_stay_counted() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 2..=3,
            since_tick: 3,
            ..
        } => over(),
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 5,
            since_tick: 1,
            ..
        } => Next::Lost,
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 5,
            ..
        } => Next::Nothing,
        other => sound(other),
    });
    assert_eq!(
        ran.result().verdict,
        Verdict::Fail,
        "{:?}",
        ran.result().reasons
    );
    assert!(says(&ran, "tip", "2 separate bends"));
}

/// A board that drops its last zeros does not read coarser for it.
#[test]
fn the_finest_digit_counts() {
    let text = |digits, exponent| {
        Next::Reads(measured(
            Magnitude::Number(Decimal { digits, exponent }),
            Some(exponent),
        ))
    };
    let ran = play(tared(0.0), MeterFacts::default(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 2..,
            since_tick: 3,
            ..
        } => text(45, -1),
        Scene {
            step: "tip",
            phase,
            in_phase,
            ..
        } if *phase != Phase::Lifting => {
            if in_phase % 2 == 0 {
                text(98, -2)
            } else {
                text(1, 0)
            }
        }
        other => sound(other),
    });
    assert_eq!(
        ran.step("tip").verdict,
        Verdict::Fail,
        "{:?}",
        ran.step("tip").reasons
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever a meter repeats for ever, a verdict comes, and it passes nothing that opens,
    /// blanks or hides.
    #[test]
    fn a_verdict_always_comes(pattern in prop::collection::vec(0_u8..8, 1..7)) {
        let mut turn = 0;
        let ran = play(brisk(), facts(), |scene| {
            let which = pattern[turn % pattern.len()];
            turn += 1;
            match which {
                0..=2 => sound(scene),
                3 => over(),
                4 => blank(),
                5 => held(sound(scene)),
                6 => Next::Garbled,
                _ => ohms(35.0),
            }
        });
        let clean = pattern.iter().all(|which| *which <= 2);
        prop_assert_eq!(ran.result().verdict == Verdict::Pass, clean, "{:?}", ran.result().reasons);
    }
}
