//! Pass, fail and retest, and what is said for them.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use steadyohm::circuit::diagnosis::priors::BUILT_IN;
use steadyohm::circuit::diagnosis::standing::band;
use steadyohm::circuit::diagnosis::{Case, Meter, Priors, Seen, Verdict};

use super::twopickups::{
    BOTH, BRIDGE, MOST, NECK, WIRINGS, Wiring, case_of, observed, ohms, table, table_of,
};

const STATES: [usize; 3] = [NECK, BOTH, BRIDGE];
/// The volume control alone.
const DEAD: Seen = Seen::Ohms(497_000.0);

fn good() -> Vec<(usize, Seen)> {
    vec![
        (NECK, Seen::Ohms(5650.0)),
        (BOTH, Seen::Ohms(3330.0)),
        (BRIDGE, Seen::Ohms(7900.0)),
    ]
}

#[test]
fn a_pass_needs_every_state() {
    let table = table();
    let case = case_of(&table, Meter::default(), &good());
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(standing.verdict, Verdict::Pass);
    let case = case_of(&table, Meter::default(), &good()[..2]);
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(standing.verdict, Verdict::Retest);
    assert_eq!(
        standing.reasons,
        ["not read: at the jack, selector at bridge"]
    );
}

#[test]
fn one_odd_reading_is_a_retest_and_the_same_again_a_fail() {
    let table = table();
    let mut readings = good();
    readings[0] = (NECK, DEAD);
    readings.truncate(1);
    let mut case = case_of(&table, Meter::default(), &readings);
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(standing.verdict, Verdict::Retest);
    assert!(
        standing.reasons[0].contains("take it again"),
        "{:?}",
        standing.reasons
    );
    case.evidence.take(NECK, observed(DEAD).again(2));
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(
        standing.verdict,
        Verdict::Fail,
        "a fail need not wait for the other states"
    );
}

#[test]
fn two_readings_that_agree_on_a_fault_are_a_fail() {
    let table = table();
    let readings = [
        (NECK, Seen::Ohms(497_000.0)),
        (BOTH, Seen::Ohms(7890.0)),
        (BRIDGE, Seen::Ohms(7890.0)),
    ];
    let case = case_of(&table, Meter::default(), &readings);
    let found = case.diagnosis();
    let standing = found.standing(&case, &STATES);
    assert_eq!(standing.verdict, Verdict::Fail);
    assert_eq!(found.first().unwrap().leader(), 1);
    assert!(
        standing.reasons[0]
            .starts_with("at the jack, selector at neck: 497.0 kΩ read, outside 5."),
        "{:?}",
        standing.reasons
    );
    let reasons = found.reasons(&case);
    assert_eq!(reasons.len(), 3);
    assert_eq!(
        reasons
            .iter()
            .find(|reason| reason.measurement == NECK)
            .unwrap()
            .text,
        "at the jack, selector at neck: 497.0 kΩ read; 500.0 kΩ expected, 5.636 kΩ with nothing \
         wrong: speaks strongly for it"
    );
    let bridge = reasons
        .iter()
        .find(|reason| reason.measurement == BRIDGE)
        .unwrap();
    assert!(
        bridge.text.contains("7.874 kΩ expected either way"),
        "{}",
        bridge.text
    );
    assert_eq!(
        reasons.last().unwrap().measurement,
        BRIDGE,
        "the weightiest first"
    );
}

#[test]
fn a_reading_of_a_sound_one_can_speak_against_the_first() {
    // Neck says open; the middle, measured once, says both are there.
    let table = table();
    let readings = [
        (NECK, Seen::Ohms(497_000.0)),
        (BOTH, Seen::Ohms(3320.0)),
        (BRIDGE, Seen::Ohms(7890.0)),
    ];
    let mut case = case_of(&table, Meter::default(), &readings);
    case.evidence
        .take(NECK, observed(Seen::Ohms(497_000.0)).again(3));
    let found = case.diagnosis();
    assert_eq!(found.first().unwrap().leader(), 1);
    let reasons = found.reasons(&case);
    let both = reasons
        .iter()
        .find(|reason| reason.measurement == BOTH)
        .unwrap();
    assert!(both.against_sound < 0.0);
    assert!(both.text.ends_with("against it"), "{}", both.text);
}

#[test]
fn an_unknown_range_carries_neither() {
    let table = table();
    let mut readings = good();
    readings[0] = (NECK, Seen::Over { beyond: None });
    let case = case_of(&table, Meter::default(), &readings);
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(standing.verdict, Verdict::Retest);
    assert!(
        standing.reasons[0].contains("take it on a higher one"),
        "{:?}",
        standing.reasons
    );
}

#[test]
fn what_the_readings_cannot_show_is_named() {
    // With the neck position alone read, a bridge joint open would not have shown.
    let table = table();
    let case = case_of(&table, Meter::default(), &good()[..1]);
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(standing.unseen, [2]);
}

/// Each within its band by itself, but the middle and the neck together are those of another
/// neck pickup.
#[test]
fn within_every_band_and_yet_more_like_a_fault() {
    let near = Wiring {
        neck: 1.06,
        ..WIRINGS[4]
    };
    let table = table_of(&[WIRINGS[0], near]);
    let case = case_of(&table, Meter::default(), &good());
    assert_eq!(
        case.diagnosis().standing(&case, &STATES).verdict,
        Verdict::Pass
    );
    // Likely enough to be the wrong one, and read just where it would be.
    let text = BUILT_IN.replacen("wrong-value = 0.002", "wrong-value = 0.3", 1);
    let priors = Priors::from_text(&text, "changed").unwrap();
    let mut case = Case::new(&table, &priors, Meter::default());
    for at in STATES {
        let ohms = ohms(&near, at, [0.0; 3]).round();
        case.evidence.take(at, observed(Seen::Ohms(ohms)));
    }
    let standing = case.diagnosis().standing(&case, &STATES);
    assert_eq!(standing.verdict, Verdict::Retest, "{standing:?}");
    assert!(
        standing.reasons[0].starts_with("every reading is within its band, but"),
        "{:?}",
        standing.reasons
    );
}

/// The band is the worst case, so that nothing drawn within tolerance leaves it by more than
/// what bends; and a sound instrument is neither failed nor said to fit nothing.
#[test]
fn sound_instruments_pass() {
    let table = table();
    let mut chance = ChaCha8Rng::seed_from_u64(7);
    let (mut passed, mut misfits) = (0, 0);
    for _ in 0..400 {
        let off = MOST.map(|most| most * (2.0 * chance.random::<f64>() - 1.0));
        let readings = STATES.map(|at| {
            let exact = ohms(&WIRINGS[0], at, off);
            let error = 0.008 * (2.0 * chance.random::<f64>() - 1.0);
            (at, Seen::Ohms((exact * (1.0 + error)).round()))
        });
        let case = case_of(&table, Meter::default(), &readings);
        let found = case.diagnosis();
        let standing = found.standing(&case, &STATES);
        assert_ne!(standing.verdict, Verdict::Fail, "{readings:?} {standing:?}");
        passed += i32::from(standing.verdict == Verdict::Pass);
        misfits += i32::from(found.fit.nothing_fits());
    }
    assert!(passed >= 380, "{passed} of 400 passed");
    assert_eq!(misfits, 0);
    let case = case_of(&table, Meter::default(), &[]);
    let band = band(&case, NECK, 1.0).unwrap();
    // 5636 ohms, five per cent of the pickup, the control's share, and 0.8 % + 3.5 digits.
    assert!(band.least > 5200.0 && band.most < 6000.0, "{band:?}");
}
