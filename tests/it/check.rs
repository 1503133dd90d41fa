//! Checks: what a lead's readings prove, and what they do not.
//!
//! Limits marked so in the sources are common practice; the rules of judging are the
//! project's own and are stated in `DEVELOPERS.md`.

mod guard;
mod kinds;
mod rest;
pub(crate) mod scene;
mod unseen;

use steadyohm::bench::{LeadFault, MeterSettings, Ranging};
use steadyohm::check::lead::{LeadOptions, Method, Tare};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{DisturbanceKind, Notice, Phase, Proof, Trouble, Verdict};
use steadyohm::circuit::{Gauge, Metres};
use steadyohm::reading::{Annunciator, Decimal, Magnitude, Ohms, Quantity, Seconds};
use steadyohm::signal::Basis;

use crate::simulated::{Ran, Run};
use scene::{Next, Scene, brisk, facts, measured, ohms, over, over_on, play, sound, tared};

fn disturbances(ran: &Ran, kind: DisturbanceKind) -> usize {
    ran.notices
        .iter()
        .filter(|n| matches!(n, Notice::Disturbance(d) if d.kind == kind))
        .count()
}

fn troubles(ran: &Ran, which: Trouble) -> usize {
    ran.notices
        .iter()
        .filter(|n| matches!(n, Notice::Trouble { what, .. } if *what == which))
        .count()
}

fn ticks(ran: &Ran, step: &str) -> Vec<(u32, u32)> {
    ran.notices
        .iter()
        .filter_map(|n| match n {
            Notice::Tick(tick) if tick.step == step => Some((tick.flex, tick.of)),
            _ => None,
        })
        .collect()
}

fn says(ran: &Ran, step: &str, words: &str) -> bool {
    ran.step(step)
        .reasons
        .iter()
        .any(|reason| reason.contains(words))
}

/// Every fault of the simulated bench, by both methods, at three meter rates: a good lead
/// passes, a faulty one never does, and what plainly is a fault fails.
#[test]
fn each_fault_ends_in_its_verdict() {
    for fault in LeadFault::all(&crate::simulated::kind("instrument")) {
        for rate in [3.0, 10.0, 60.0] {
            for method in [Method::EndToEnd, Method::Loop] {
                let mut run = Run::new(fault, rate, 11);
                // As bytes where there are few; a format is written by search, which takes time.
                run.bytes = rate < 10.0;
                // Two conductors open are asked about once more; nobody need wait long for it.
                run.options.pace.wait = Seconds(5.0);
                let run = if method == Method::Loop {
                    run.by_loop()
                } else {
                    run
                };
                let ran = run.go();
                let verdict = ran.result().verdict;
                let wanted: &[Verdict] = match fault {
                    LeadFault::Good => &[Verdict::Pass],
                    LeadFault::Leakage(0, 1) => &[Verdict::Retest],
                    // What joins both conductors cannot tell them apart, and says so.
                    LeadFault::Crossed(..) if method == Method::Loop => &[Verdict::Pass],
                    _ => &[Verdict::Fail],
                };
                assert!(
                    wanted.contains(&verdict),
                    "{} at {rate}/s by {method:?}: {verdict}, {:?}",
                    fault.word(&crate::simulated::kind("instrument")),
                    ran.result().reasons
                );
                let unseen = ran.result().not_covered.as_ref();
                assert_eq!(unseen.is_some(), method == Method::Loop, "{unseen:?}");
            }
        }
    }
}

#[test]
fn the_fault_is_named_at_its_step() {
    let step_of = |fault| {
        let mut run = Run::new(fault, 10.0, 3);
        run.bytes = false;
        run.options.pace.wait = Seconds(3.0);
        let ran = run.go();
        let bad: Vec<&str> = ran
            .result()
            .steps
            .iter()
            .filter(|step| step.verdict != Verdict::Pass)
            .map(|step| step.step.as_str())
            .collect();
        bad.join("+")
    };
    assert_eq!(step_of(LeadFault::OpensWhenFlexed(0)), "tip");
    assert_eq!(step_of(LeadFault::Open(1)), "sleeve");
    assert_eq!(step_of(LeadFault::TouchWhenFlexed(0, 1)), "isolation");
    assert_eq!(step_of(LeadFault::HighResistanceJoint(0)), "tip");
    assert_eq!(step_of(LeadFault::Leakage(0, 1)), "isolation");
}

#[test]
fn the_number_of_bends_follows_the_rate() {
    let flexes = |rate| {
        let mut run = Run::new(LeadFault::Good, rate, 5);
        run.bytes = false;
        let ran = run.go();
        assert_eq!(ran.result().verdict, Verdict::Pass);
        let ticks = ticks(&ran, "tip");
        let of = ticks.first().unwrap().1;
        assert_eq!(
            ticks.iter().map(|(flex, _)| *flex).collect::<Vec<_>>(),
            (1..=of).collect::<Vec<_>>()
        );
        of
    };
    // p = d/T for an assumed aperture, n = ceil(ln 0.05 / ln(1 - p)), never below ten; the
    // interval is measured, 2 % jitter included. At 1/s: p = 0.1 - jitter, n = 29 or 30; the
    // table of worked values gives 29 for p = 0.1.
    assert!((29..=31).contains(&flexes(1.0)));
    assert_eq!(flexes(10.0), 10);
    assert_eq!(flexes(100.0), 10);
}

#[test]
fn a_sound_lead_passes_and_says_what_it_rests_on() {
    let ran = play(brisk(), facts(), sound);
    let result = ran.result();
    assert_eq!(result.verdict, Verdict::Pass);
    assert_eq!(
        result
            .steps
            .iter()
            .map(|s| s.step.as_str())
            .collect::<Vec<_>>(),
        ["tip", "sleeve", "isolation"]
    );
    assert_eq!(ran.step("tip").proof, Proof::Seen);
    assert_eq!(ran.step("isolation").proof, Proof::Operator);
    assert_eq!(ran.step("isolation").ohms, None);
    assert!(ran.step("tip").coverage >= 0.95);
    let spot = result.blind_spot.unwrap();
    assert_eq!(spot.basis, Basis::Assumed);
    assert!((spot.interval.0 - 0.1).abs() < 0.002, "{:?}", spot.interval);
}

#[test]
fn a_lone_break_is_a_retest_and_one_that_comes_again_a_fail() {
    let lone = |scene: &Scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            goes: 1,
            flex: 4,
            since_tick: 3,
            ..
        } => over(),
        other => sound(other),
    };
    let ran = play(brisk(), facts(), lone);
    assert_eq!(ran.step("tip").verdict, Verdict::Retest);
    assert!(says(&ran, "tip", "not again in a second go"));
    assert_eq!(disturbances(&ran, DisturbanceKind::Break), 1);
    assert_eq!(ran.result().verdict, Verdict::Retest);

    let again = |scene: &Scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 4,
            since_tick: 3,
            ..
        } => over(),
        other => sound(other),
    };
    let ran = play(brisk(), facts(), again);
    assert_eq!(ran.step("tip").verdict, Verdict::Fail);
    assert!(says(&ran, "tip", "2 separate bends"));
}

#[test]
fn many_breaks_fail_at_once() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            since_tick: 3,
            flex: 1..,
            ..
        } => over(),
        other => sound(other),
    });
    assert_eq!(ran.step("tip").verdict, Verdict::Fail);
    assert_eq!(
        ticks(&ran, "tip").last().unwrap().0,
        3,
        "the go ends with the third"
    );
}

/// A break shorter than an aperture lifts one reading part of the way: as good as over-range.
#[test]
fn one_raised_reading_is_a_break_with_both_bounds() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "sleeve",
            phase: Phase::Flexing,
            goes: 1,
            flex: 2,
            since_tick: 4,
            ..
        } => ohms(37.0),
        other => sound(other),
    });
    let seen = ran
        .notices
        .iter()
        .find_map(|n| match n {
            Notice::Disturbance(seen) => Some(seen.clone()),
            _ => None,
        })
        .unwrap();
    assert_eq!(
        (seen.kind, seen.step.as_str()),
        (DisturbanceKind::Break, "sleeve")
    );
    assert_eq!(seen.ohms, Some(Ohms(37.0)));
    assert!(seen.at_least.0.abs() < 1e-9, "one reading lasts no time");
    assert!(
        (seen.at_most.0 - 0.2).abs() < 1e-6,
        "from the reading before to the one after"
    );
}

#[test]
fn a_lost_contact_that_comes_back_is_a_retest() {
    let mut gone = 0;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            goes: 1,
            flex,
            phase,
            ..
        } if (gone > 0 || (*flex == 5 && *phase == Phase::Flexing)) && gone < 40 => {
            gone += 1;
            over()
        }
        other => sound(other),
    });
    let tip = ran.step("tip");
    assert_eq!(tip.verdict, Verdict::Retest, "{:?}", tip.reasons);
    assert!(says(&ran, "tip", "lifted probe or a parted conductor"));
}

#[test]
fn a_conductor_that_never_closes_fails_on_the_operators_word_or_the_second_time_out() {
    let open_tip = |scene: &Scene| match scene.step {
        "tip" => over(),
        _ => sound(scene),
    };
    let ran = play(brisk(), facts(), open_tip);
    assert_eq!(ran.step("tip").verdict, Verdict::Fail);
    assert_eq!(ran.step("tip").proof, Proof::Operator);
    assert!(ran.took.seconds() > 6.0, "two times of waiting");

    let mut enters = 0;
    let ran = play(
        crate::simulated::lead_options(),
        facts(),
        |scene| match scene {
            Scene {
                step: "tip",
                in_phase: 4,
                ..
            } => {
                enters += 1;
                Next::Enter
            }
            other => open_tip(other),
        },
    );
    assert_eq!(
        (ran.step("tip").verdict, enters),
        (Verdict::Fail, 2),
        "one Enter may be a reflex"
    );

    // A late start is nothing but late.
    let mut waited = 0;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Waiting,
            ..
        } if waited < 35 => {
            waited += 1;
            over()
        }
        other => sound(other),
    });
    assert_eq!(ran.result().verdict, Verdict::Pass);
}

#[test]
fn isolation_passes_only_on_a_range_that_is_known_and_high_enough() {
    let on = |beyond, facts: MeterFacts| {
        play(brisk(), facts, move |scene| {
            match (scene.step, scene.phase) {
                ("isolation", phase) if phase != Phase::Confirm => over_on(beyond),
                _ => sound(scene),
            }
        })
    };
    // Over-range on a 600 ohm range proves more than 600 ohm, not isolation.
    let low = on(
        Some(Decimal {
            digits: 6000,
            exponent: -1,
        }),
        facts(),
    );
    assert_eq!(low.step("isolation").verdict, Verdict::Retest);
    assert!(says(&low, "isolation", "600.0 Ω"));
    let unknown = on(None, MeterFacts::default());
    assert_eq!(unknown.step("isolation").verdict, Verdict::Retest);
    assert!(says(&unknown, "isolation", "--range"));
    let told = on(
        None,
        MeterFacts {
            range: Some(Ohms(40e6)),
            ..MeterFacts::default()
        },
    );
    assert_eq!(told.step("isolation").verdict, Verdict::Pass);
}

#[test]
fn isolation_needs_proof_of_contact() {
    let ran = play(brisk(), facts(), |scene| match (scene.step, scene.phase) {
        ("isolation", Phase::Confirm) => over(),
        _ => sound(scene),
    });
    assert_eq!(ran.step("isolation").verdict, Verdict::Retest);
    assert!(says(&ran, "isolation", "nobody confirmed"));

    let by_loop = LeadOptions {
        method: Method::Loop,
        ..brisk()
    };
    let pulled = play(by_loop.clone(), facts(), |scene| {
        match (scene.step, scene.phase) {
            ("isolation", Phase::Waiting) if scene.in_phase < 5 => ohms(0.6),
            ("isolation", _) => over(),
            _ => ohms(0.6),
        }
    });
    assert_eq!(pulled.result().verdict, Verdict::Pass);
    assert_eq!(pulled.step("isolation").proof, Proof::Seen);

    let never_out = play(by_loop, facts(), |_| ohms(0.6));
    assert_eq!(never_out.step("isolation").verdict, Verdict::Fail);
    assert!(says(&never_out, "isolation", "still closed"));
}

#[test]
fn leakage_is_told_from_a_short_and_from_isolation() {
    let reads = |megohms: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "a few thousand counts")]
        let digits = (megohms * 100.0).round() as i64;
        let value = Magnitude::Number(Decimal {
            digits,
            exponent: 4,
        });
        play(brisk(), facts(), move |scene| {
            match (scene.step, scene.phase) {
                ("isolation", phase) if phase != Phase::Confirm => {
                    Next::Reads(measured(value, Some(4)))
                }
                _ => sound(scene),
            }
        })
    };
    assert_eq!(reads(22.0).step("isolation").verdict, Verdict::Pass);
    let damp = reads(3.0);
    assert_eq!(damp.step("isolation").verdict, Verdict::Retest);
    assert!(says(&damp, "isolation", "leakage"));
    assert_eq!(reads(0.5).step("isolation").verdict, Verdict::Fail);
}

/// An autoranging meter at rest on its highest range goes blank or down only because it saw
/// something low.
#[test]
fn a_touch_too_short_for_a_number_still_shows() {
    let blank = || Next::Reads(measured(Magnitude::Blank, None));
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "isolation",
            phase: Phase::Flexing,
            since_tick: 2..=3,
            flex: 2..,
            ..
        } => blank(),
        other => sound(other),
    });
    assert_eq!(ran.step("isolation").verdict, Verdict::Fail);
    assert!(disturbances(&ran, DisturbanceKind::Touch) >= 2);
}

/// In a closed conductor a jump to a higher range is the break, and the way down its tail.
#[test]
fn the_range_changes_after_a_break_lengthen_only_its_upper_bound() {
    let on_range = |exponent: i8| {
        Next::Reads(measured(
            Magnitude::Number(Decimal {
                digits: 0,
                exponent,
            }),
            Some(exponent),
        ))
    };
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            goes: 1,
            flex: 3,
            since_tick: 2,
            ..
        } => over_on(Some(Decimal {
            digits: 4000,
            exponent: -1,
        })),
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            goes: 1,
            flex: 3,
            since_tick: 3,
            ..
        } => on_range(1),
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            goes: 1,
            flex: 3,
            since_tick: 4,
            ..
        } => on_range(0),
        other => sound(other),
    });
    assert_eq!(disturbances(&ran, DisturbanceKind::Break), 1);
    let Some(Notice::Disturbance(seen)) = ran
        .notices
        .iter()
        .find(|n| matches!(n, Notice::Disturbance(_)))
    else {
        panic!("a break");
    };
    assert!(seen.at_least.0.abs() < 1e-9);
    assert!((seen.at_most.0 - 0.4).abs() < 1e-6, "{:?}", seen.at_most);
}

#[test]
fn no_pass_under_hold_relative_low_battery_or_on_volts() {
    let spoil = |quantity, mark: Option<Annunciator>| {
        play(brisk(), facts(), move |scene| match sound(scene) {
            Next::Reads(reading) => {
                let marks = reading.annunciators;
                let annunciators = mark.map_or(marks, |mark| marks.with(mark));
                Next::Reads(steadyohm::reading::Measured {
                    quantity,
                    annunciators,
                    ..reading
                })
            }
            other => other,
        })
    };
    for (quantity, mark, trouble) in [
        (Quantity::DirectVoltage, None, Trouble::WrongFunction),
        (Quantity::Resistance, Some(Annunciator::Hold), Trouble::Hold),
        (
            Quantity::Resistance,
            Some(Annunciator::Relative),
            Trouble::Relative,
        ),
        (
            Quantity::Resistance,
            Some(Annunciator::LowBattery),
            Trouble::LowBattery,
        ),
    ] {
        let ran = spoil(quantity, mark);
        assert_eq!(ran.result().verdict, Verdict::Retest, "{trouble}");
        assert_eq!(
            troubles(&ran, trouble),
            1,
            "said once, not with every reading"
        );
        assert!(ran.result().steps.is_empty(), "nothing was judged");
    }
    assert_eq!(
        spoil(Quantity::Continuity, None).result().verdict,
        Verdict::Pass
    );
}

#[test]
fn a_passing_hold_costs_its_bend_and_nothing_else() {
    let mut held = 0;
    let ran = play(brisk(), facts(), |scene| match (scene, sound(scene)) {
        (
            Scene {
                step: "tip",
                phase: Phase::Flexing,
                flex: 4,
                ..
            },
            Next::Reads(reading),
        ) if held < 5 => {
            held += 1;
            let annunciators = reading.annunciators.with(Annunciator::Hold);
            Next::Reads(steadyohm::reading::Measured {
                annunciators,
                ..reading
            })
        }
        (_, next) => next,
    });
    assert_eq!(troubles(&ran, Trouble::Hold), 1);
    assert_eq!(ran.result().verdict, Verdict::Pass);
    let fourth = ticks(&ran, "tip")
        .iter()
        .filter(|(flex, _)| *flex == 4)
        .count();
    assert_eq!(fourth, 2, "the bend under HOLD is done again");
}

#[test]
fn time_without_readings_is_not_coverage() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 2,
            since_tick: 1..=4,
            ..
        } if scene.in_phase < 30 => Next::Nothing,
        other => sound(other),
    });
    assert_eq!(ran.result().verdict, Verdict::Pass);
    assert!(
        ticks(&ran, "tip")
            .iter()
            .filter(|(flex, _)| *flex == 2)
            .count()
            >= 2
    );

    let holes = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            since_tick: 1..=4,
            flex: 1..,
            ..
        } => Next::Nothing,
        other => sound(other),
    });
    assert_eq!(holes.step("tip").verdict, Verdict::Retest);
    assert!(says(&holes, "tip", "readings were missing"));
}

#[test]
fn a_lost_port_ends_in_retest_at_best() {
    let mut lost = 0;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "sleeve",
            phase: Phase::Flexing,
            flex: 3,
            ..
        } if lost < 10 => {
            lost += 1;
            match lost {
                1 => Next::Lost,
                10 => Next::Back,
                _ => Next::Nothing,
            }
        }
        other => sound(other),
    });
    assert_eq!(troubles(&ran, Trouble::Lost), 1);
    assert_eq!(ran.result().steps.len(), 3, "the check went on");
    assert_eq!(ran.result().verdict, Verdict::Retest);
    assert!(
        ran.result()
            .reasons
            .iter()
            .any(|reason| reason.contains("lost"))
    );
}

#[test]
fn the_tare_is_taken_off_refused_or_void() {
    let touched = LeadOptions {
        tare: Tare::Touch,
        ..brisk()
    };
    let ran = play(touched.clone(), facts(), |scene| {
        match (scene.step, scene.phase) {
            ("tare", phase) if phase != Phase::Lifting => ohms(0.3),
            _ => sound(scene),
        }
    });
    assert_eq!(ran.result().verdict, Verdict::Pass);
    // 0.4 raw less 0.3 tare; and the worked example 0.53 - 0.21 = 0.32 by option.
    assert!((ran.step("tip").ohms.unwrap().0 - 0.1).abs() < 1e-9);
    let ran = play(tared(0.2), facts(), sound);
    assert!((ran.step("tip").ohms.unwrap().0 - 0.2).abs() < 1e-9);

    let refused = play(touched, facts(), |scene| match scene.step {
        "tare" if scene.phase != Phase::Lifting => ohms(5.0),
        _ => sound(scene),
    });
    assert_eq!(refused.result().verdict, Verdict::Retest);
    assert_eq!(refused.result().steps.len(), 1, "nothing after it counts");

    let below_zero = play(tared(0.9), facts(), sound);
    assert_eq!(below_zero.step("tip").verdict, Verdict::Retest);
    assert!(says(&below_zero, "tip", "below zero"));
}

#[test]
fn probe_leads_that_break_void_the_check() {
    let options = LeadOptions {
        probes_first: true,
        ..brisk()
    };
    let ran = play(options.clone(), facts(), |scene| match scene {
        Scene {
            step: "probes",
            phase: Phase::Flexing,
            since_tick: 3,
            flex: 1..,
            ..
        } => over(),
        other => sound(other),
    });
    assert_eq!(
        ran.result().verdict,
        Verdict::Retest,
        "it is not the lead that failed"
    );
    assert_eq!(ran.result().steps.len(), 1);
    assert_eq!(
        play(options, facts(), sound).result().verdict,
        Verdict::Pass
    );
}

#[test]
fn probes_never_lifted_make_the_next_step_meaningless() {
    let ran = play(brisk(), facts(), |scene| match scene.phase {
        Phase::Lifting => ohms(0.4),
        _ => sound(scene),
    });
    assert_eq!(ran.result().verdict, Verdict::Retest);
    assert_eq!(ran.result().steps.len(), 1);
}

/// Limits from the handbook: 24 AWG, 6 m, one way 0.5053 ohm (IEC 60028 copper, ASTM B258).
#[test]
fn the_limit_follows_length_and_gauge() {
    let conductor = Some((
        "6m".parse::<Metres>().unwrap(),
        "24AWG".parse::<Gauge>().unwrap(),
    ));
    let options = LeadOptions {
        conductor,
        ..tared(0.0)
    };
    let at = |value: f64| {
        play(options.clone(), facts(), move |scene| match scene {
            Scene {
                step: "tip", phase, ..
            } if *phase != Phase::Lifting => ohms(value),
            other => sound(other),
        })
    };
    // Passes up to 0.5053 + 0.5, fails above 0.5053 + 2.0, each less 2 x 0.1 / sqrt(12) x
    // sqrt(2) = 0.0816, what two readings of 0.1 ohm digits may be off (JCGM 100:2008).
    assert_eq!(at(0.9).step("tip").verdict, Verdict::Pass);
    assert_eq!(at(1.0).step("tip").verdict, Verdict::Retest);
    assert_eq!(at(1.1).step("tip").verdict, Verdict::Retest);
    assert_eq!(at(2.5).step("tip").verdict, Verdict::Retest);
    assert_eq!(at(2.6).step("tip").verdict, Verdict::Fail);
}

/// A meter left on its highest fixed range sees no joint of a few ohms; the reading says 0.
#[test]
fn a_manual_high_range_is_not_taken_for_a_good_conductor() {
    let mut run = Run::new(LeadFault::HighResistanceJoint(0), 10.0, 1);
    run.bench.meter = MeterSettings {
        ranging: Ranging::Fixed(5),
        ..MeterSettings::handheld(10.0)
    };
    run.bytes = false;
    let ran = run.go();
    assert_ne!(
        ran.result().verdict,
        Verdict::Pass,
        "{:?}",
        ran.result().reasons
    );
}
