//! What the check says of each fault, of its own limits, and to the hand.

use steadyohm::bench::{PotFault, Ranging};
use steadyohm::check::notice::{DisturbanceKind, Notice, Phase, Proof, Verdict};
use steadyohm::check::pot::{BenchPlan, Gangs, Place};
use steadyohm::circuit::control::{Control, Law, Wiring};
use steadyohm::reading::{Ohms, Seconds};

use super::run::{Ran, Run};

const AUDIO: Law = Law::Exponential { mid: 0.15 };

fn bench(plan: BenchPlan) -> Place {
    Place::Bench(plan)
}

/// Whether some reason of a step says all of it.
#[track_caller]
fn says(ran: &Ran, step: &str, words: &[&str]) {
    let reasons = &ran.step(step).reasons;
    let said = reasons
        .iter()
        .any(|reason| words.iter().all(|word| reason.contains(word)));
    assert!(said, "{words:?} is not in {reasons:#?}");
}

#[test]
fn a_good_control_passes_and_the_pass_says_what_it_could_not_have_shown() {
    let ran = Run::new(Law::Linear, PotFault::Good).go();
    assert_eq!(ran.result().verdict, Verdict::Pass, "{:#?}", ran.result());
    says(&ran, "total", &["250.0 kΩ", "200.0 kΩ to 300.0 kΩ"]);
    says(
        &ran,
        "sweep",
        &["smallest zone each pass could have shown", "where fastest"],
    );
    says(
        &ran,
        "sweep",
        &["low end reads", "MIL-PRF-22097J, borrowed"],
    );
    says(&ran, "sweep", &["high end reads", "by complement"]);
    says(&ran, "sweep", &["track residual", "borrowed"]);
    assert!((ran.step("sweep").coverage - 1.0).abs() < 1e-9);
    assert_eq!(ran.step("sweep").proof, Proof::Seen);
    let phases: Vec<Phase> = ran
        .notices
        .iter()
        .filter_map(|notice| match notice {
            Notice::Phase { step, phase } if *step == "sweep" => Some(*phase),
            _ => None,
        })
        .collect();
    assert_eq!(phases, [Phase::Waiting, Phase::Settling, Phase::Sweeping]);
}

#[test]
fn a_fast_clean_sweep_on_a_slow_meter_is_not_found_and_not_good() {
    for seed in 0..6 {
        let mut run = Run::new(Law::Linear, PotFault::Good);
        run.seed = seed;
        run.meter.rate = 3.0;
        run.pot.turning.pass = Seconds(4.0);
        run.pot.turning.heeds = false;
        let ran = run.go();
        assert_eq!(ran.result().verdict, Verdict::Retest, "{:#?}", ran.result());
        says(&ran, "sweep", &["not found is not good"]);
        assert!(
            ran.prompts()
                .iter()
                .any(|prompt| prompt.contains("slower: ") && prompt.contains("% of the track")),
            "{:#?}",
            ran.prompts()
        );
    }
}

#[test]
fn the_hand_is_not_coached_more_often_than_every_other_second() {
    let mut run = Run::new(Law::Linear, PotFault::Good);
    run.pot.turning.pass = Seconds(3.0);
    run.pot.turning.heeds = false;
    let (mut last, mut now, mut coached) = (None, 0.0, 0);
    for notice in &run.go().notices {
        match notice {
            Notice::Reading(reading) => now = reading.at.seconds(),
            Notice::Step(step) if step.prompt.starts_with("slower: ") => {
                assert!(
                    last.is_none_or(|last: f64| now - last >= 2.0),
                    "{now} {last:?}"
                );
                (last, coached) = (Some(now), coached + 1);
            }
            _ => {}
        }
    }
    assert!(coached >= 3, "{coached}");
}

#[test]
fn a_total_off_its_mark_fails_and_an_unmarked_one_is_named() {
    let mut run = Run::new(Law::Linear, PotFault::Good);
    run.options.nominal = Some("500kK".parse::<Control>().unwrap());
    let ran = run.go();
    assert_eq!(ran.step("total").verdict, Verdict::Fail);
    says(
        &ran,
        "total",
        &["-50.0 % off 500.0 kΩ", "450.0 kΩ to 550.0 kΩ"],
    );
    run.options.nominal = None;
    let ran = run.go();
    assert_eq!(ran.result().verdict, Verdict::Pass, "{:#?}", ran.result());
    // 240k to 300k is both: nothing is guessed.
    says(&ran, "total", &["250.0 kΩ and 300.0 kΩ", "--value"]);
}

#[test]
fn the_law_is_told_from_marks_and_places_faults_in_the_turn() {
    let mut run = Run::new(AUDIO, PotFault::DirtyZone);
    run.options.place = bench(BenchPlan {
        law_marks: true,
        ..BenchPlan::default()
    });
    run.options.letter = Some('A');
    let ran = run.go();
    says(
        &ran,
        "law",
        &["15 % of the total at half the turn", "audio"],
    );
    assert_eq!(ran.step("law").proof, Proof::Operator);
    says(
        &ran,
        "sweep",
        &["noisy zone", "of its resistance", "% of its turn"],
    );
    // Regional letters are said with all their meanings.
    let letters = ran.result().reasons.last().unwrap();
    assert!(letters.contains("The letter A is audio"), "{letters}");
    let confirms = ran
        .notices
        .iter()
        .filter(|notice| matches!(notice, Notice::Step(step) if step.step == "law"))
        .count();
    assert_eq!(confirms, 3);
}

#[test]
fn two_gangs_are_compared() {
    let mut run = Run::new(Law::Linear, PotFault::Good);
    run.options.place = bench(BenchPlan {
        gangs: Gangs::Two,
        ..BenchPlan::default()
    });
    let ran = run.go();
    assert_eq!(ran.result().verdict, Verdict::Pass, "{:#?}", ran.result());
    let steps: Vec<&str> = ran
        .result()
        .steps
        .iter()
        .map(|step| step.step.as_str())
        .collect();
    assert_eq!(steps, ["total-1", "sweep-1", "total-2", "sweep-2"]);
    let reasons = &ran.result().reasons;
    assert!(
        reasons.iter().any(|reason| reason.contains("0.0 % apart")),
        "{reasons:#?}"
    );
}

#[test]
fn the_other_end_may_be_swept_too() {
    let mut run = Run::new(Law::Linear, PotFault::HighEndResistance);
    run.options.place = bench(BenchPlan {
        both_ends: true,
        ..BenchPlan::default()
    });
    let ran = run.go();
    assert_eq!(ran.result().verdict, Verdict::Fail);
    says(
        &ran,
        "sweep",
        &["end resistance above its limit: the low end reads"],
    );
    says(&ran, "other-end", &["high end reads", "at most 5.000 kΩ"]);
}

#[test]
fn a_crack_is_open_end_to_end_and_placed_from_the_nominal_value() {
    let ran = Run::new(Law::Linear, PotFault::Cracked).go();
    assert_eq!(ran.step("total").proof, Proof::Operator);
    says(&ran, "total", &["open from outer lug to outer lug"]);
    says(&ran, "sweep", &["break at 5", " to 100 % from the low end"]);
    let breaks = ran
        .notices
        .iter()
        .filter(|notice| {
            matches!(notice, Notice::Disturbance(seen) if seen.kind == DisturbanceKind::Break)
        })
        .count();
    assert!(breaks >= 2, "{breaks}");
    // With nothing marked there is no total to place it by.
    let mut run = Run::new(Law::Linear, PotFault::Cracked);
    run.options.nominal = None;
    let ran = run.go();
    assert_eq!(ran.result().verdict, Verdict::Fail);
    assert!(ran.result().reasons.last().unwrap().contains("--value"));
}

#[test]
fn cleaning_comes_before_replacing() {
    let ran = Run::new(Law::Linear, PotFault::DirtyZone).go();
    assert_eq!(ran.result().verdict, Verdict::Fail);
    says(&ran, "sweep", &["before replacing it: contact cleaner"]);
    says(
        &ran,
        "sweep",
        &["the same place turned both ways: the track"],
    );
}

#[test]
fn a_range_below_the_control_is_no_fault_of_it() {
    let mut run = Run::new(Law::Linear, PotFault::Good);
    run.meter.ranging = Ranging::Fixed(2);
    let ran = run.go();
    assert_ne!(ran.result().verdict, Verdict::Pass);
    assert!(
        ran.prompts()
            .iter()
            .any(|prompt| prompt.contains("the meter's range ends at 40.00 kΩ")),
        "{:#?}",
        ran.prompts()
    );
    // A coarse range shows the whole control and none of its noise.
    let mut run = Run::new(Law::Linear, PotFault::Good);
    run.meter.ranging = Ranging::Fixed(5);
    let ran = run.go();
    assert_eq!(ran.result().verdict, Verdict::Retest);
    says(&ran, "sweep", &["too coarse for 1 %"]);
}

#[test]
fn the_circuit_at_the_jack_is_worked_out() {
    for wiring in [Wiring::Standard, Wiring::Independent] {
        for law in [Law::Linear, AUDIO] {
            let ran = Run::new(law, PotFault::Good).at_jack(wiring).go();
            assert_eq!(ran.result().verdict, Verdict::Pass, "{:#?}", ran.result());
            says(&ran, "sweep", &["worked out from the sweep"]);
            let total = ran.step("sweep").ohms.unwrap();
            assert!((total.0 - 250e3).abs() < 2.5e3, "{total}");
            assert!(
                ran.result()
                    .not_covered
                    .as_ref()
                    .unwrap()
                    .contains("tone control")
            );
        }
    }
}

#[test]
fn what_is_known_of_the_instrument_is_used() {
    let mut run = Run::new(Law::Linear, PotFault::Good).at_jack(Wiring::Standard);
    run.options.place = Place::Jack {
        wiring: Wiring::Standard,
        total: Some(Ohms(250e3)),
        pickup: Some(Ohms(6e3)),
    };
    let ran = run.go();
    assert_eq!(ran.result().verdict, Verdict::Pass, "{:#?}", ran.result());
    says(&ran, "sweep", &["pickup 6.000 kΩ as given"]);
}

#[test]
fn a_marked_value_is_said_not_to_be_held_at_the_jack() {
    let mut run = Run::new(Law::Linear, PotFault::Good).at_jack(Wiring::Standard);
    run.options.nominal = Some(Control::usual(Ohms(500e3)));
    let ran = run.go();
    let said = |words: &str| ran.result().reasons.iter().any(|it| it.contains(words));
    assert!(said("not held against 500.0 kΩ"), "{:#?}", ran.result());
}

#[test]
fn two_gangs_are_compared_at_half_the_turn() {
    let mut run = Run::new(AUDIO, PotFault::Good);
    run.options.place = bench(BenchPlan {
        gangs: Gangs::Two,
        law_marks: true,
        ..BenchPlan::default()
    });
    let ran = run.go();
    let said = |words: &str| ran.result().reasons.iter().any(|it| it.contains(words));
    assert!(
        said("at half the turn the gangs stand at 15") && said("0.0 % of the total apart"),
        "{:#?}",
        ran.result()
    );
}

#[test]
fn a_pass_says_that_the_low_end_of_an_audio_track_is_not_judged_for_noise() {
    let ran = Run::new(AUDIO, PotFault::Good).go();
    assert_eq!(ran.result().verdict, Verdict::Pass, "{:#?}", ran.result());
    says(
        &ran,
        "sweep",
        &["first 5 %", "not judged for noise", "a third of the turn"],
    );
}
