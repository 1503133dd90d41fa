//! What is read at rest, before anything is bent, is not thrown away either.

use steadyohm::check::lead::{LeadOptions, Method};
use steadyohm::check::notice::{Finding, Phase, Trouble, Verdict};
use steadyohm::reading::{Annunciator, Measured};

use super::scene::{Next, Scene, brisk, facts, ohms, over, play, sound};
use super::{says, troubles};

fn at_rest(scene: &Scene, step: &str) -> bool {
    scene.step == step && scene.phase == Phase::Still
}

/// Conductors that touch again and again before they are bent are not apart.
#[test]
fn a_short_that_comes_and_goes_at_rest_is_not_passed() {
    let ran = play(brisk(), facts(), |scene| {
        if at_rest(scene, "isolation") && scene.in_phase % 2 == 1 {
            ohms(5.0)
        } else {
            sound(scene)
        }
    });
    assert_eq!(ran.step("isolation").verdict, Verdict::Retest);
    assert!(says(&ran, "isolation", "never came to rest"));
    assert!(says(&ran, "isolation", "fell to 5.000 Ω at rest"));
}

#[test]
fn one_touch_at_rest_is_not_passed() {
    let mut touches = 0;
    let ran = play(brisk(), facts(), |scene| {
        if at_rest(scene, "isolation") && scene.in_phase == 2 && touches == 0 {
            touches += 1;
            return ohms(5.0);
        }
        sound(scene)
    });
    assert_eq!(ran.step("isolation").verdict, Verdict::Retest);
    assert!(says(&ran, "isolation", "fell to 5.000 Ω at rest"));
    assert_eq!(ran.step("tip").verdict, Verdict::Pass);
}

/// One wild reading must not lift the threshold over a poor joint.
#[test]
fn one_raised_reading_at_rest_does_not_blind_the_step() {
    let mut raised = 0;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Still,
            in_phase: 4,
            ..
        } if raised == 0 => {
            raised += 1;
            ohms(5.1)
        }
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 1..,
            since_tick: 3,
            ..
        } => ohms(9.0),
        other => sound(other),
    });
    assert_eq!(raised, 1);
    assert_eq!(ran.step("tip").verdict, Verdict::Fail);
    assert_eq!(ran.step("tip").finding, Some(Finding::OpensWhenBent));
}

#[test]
fn a_closed_conductor_that_will_not_lie_still_is_not_passed() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Still,
            ..
        } if scene.in_phase % 5 == 4 => ohms(5.1),
        other => sound(other),
    });
    assert_eq!(ran.step("tip").verdict, Verdict::Retest);
    assert!(says(&ran, "tip", "never came to rest"));
}

#[test]
fn contact_lost_at_rest_is_told() {
    let mut lost = 0;
    let ran = play(brisk(), facts(), |scene| {
        if at_rest(scene, "tip") && scene.in_phase == 3 && lost < 2 {
            lost += 1;
            return over();
        }
        sound(scene)
    });
    assert_eq!(ran.step("tip").verdict, Verdict::Pass);
    assert!(says(&ran, "tip", "contact was lost twice at rest"));
}

/// A mark that blinks in every other reading: no bend is ever watched, and the step ends.
#[test]
fn a_blinking_mark_comes_to_an_end() {
    let mut readings = 0;
    let ran = play(brisk(), facts(), |scene| {
        readings += 1;
        match sound(scene) {
            Next::Reads(reading) if scene.phase == Phase::Flexing && readings % 2 == 0 => {
                Next::Reads(Measured {
                    annunciators: reading.annunciators.with(Annunciator::LowBattery),
                    ..reading
                })
            }
            next => next,
        }
    });
    assert_eq!(ran.result().verdict, Verdict::Retest);
    assert!(says(&ran, "tip", "only 0 of"));
    assert!(troubles(&ran, Trouble::LowBattery) > 0);
}

/// Below zero is a voltage and no contact.
#[test]
fn numbers_below_zero_are_no_contact() {
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 1..,
            since_tick: 2..=4,
            ..
        } => ohms(-120.0),
        other => sound(other),
    });
    assert_eq!(ran.result().verdict, Verdict::Retest);
    assert!(troubles(&ran, Trouble::WrongFunction) > 0);
    let by_loop = LeadOptions {
        method: Method::Loop,
        ..brisk()
    };
    let ran = play(by_loop, facts(), |_| ohms(-0.3));
    assert!(
        troubles(&ran, Trouble::WrongFunction) == 0,
        "a zero not quite set"
    );
}

/// One or two losses that outlast a bend may be the hand: they are told as what they are.
#[test]
fn contact_lost_for_long_is_not_called_a_break() {
    let mut lost = false;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 3..,
            goes: 1,
            ..
        } => {
            lost = true;
            over()
        }
        Scene {
            step: "tip",
            phase: Phase::Waiting,
            in_phase: 0..=5,
            ..
        } if lost => over(),
        other => sound(other),
    });
    assert_eq!(ran.step("tip").verdict, Verdict::Retest);
    assert_eq!(ran.step("tip").finding, Some(Finding::ContactLost));
    assert!(says(&ran, "tip", "which readings cannot tell apart"));
}

/// What else was suspect stands beside what failed.
#[test]
fn a_retest_is_not_hidden_by_a_fail() {
    let mut broke = false;
    let ran = play(brisk(), facts(), |scene| match scene {
        Scene {
            step: "tip",
            phase: Phase::Flexing,
            flex: 3,
            since_tick: 3,
            ..
        } if !broke => {
            broke = true;
            over()
        }
        Scene { step: "sleeve", .. } => over(),
        other => sound(other),
    });
    let result = ran.result();
    assert_eq!(result.verdict, Verdict::Fail);
    assert!(
        result.reasons[0].starts_with("sleeve: open"),
        "{:?}",
        result.reasons
    );
    assert!(
        result
            .reasons
            .iter()
            .any(|reason| reason.starts_with("tip: opened once")),
        "{:?}",
        result.reasons
    );
    assert!(
        result
            .reasons
            .iter()
            .any(|reason| reason.contains("nothing was tested")),
        "{:?}",
        result.reasons
    );
}
