//! What the jack shows of a cracked track, and of a tone control's capacitor.

use steadyohm::bench::PotFault;
use steadyohm::check::notice::{Notice, Verdict};
use steadyohm::check::pot::Place;
use steadyohm::circuit::control::{CrackedJack, Law, Tone, Wiring, parallel};
use steadyohm::reading::{Ohms, Seconds};
use steadyohm::signal::sweep::{Analysis, Zone};
use steadyohm::signal::{Branch, Track as _};

use super::run::{Ran, Run};

fn cracked(at: f64, wiring: Wiring) -> Run {
    let mut run = Run::new(Law::Linear, PotFault::Cracked).at_jack(wiring);
    run.pot.zone = (at, at + 0.05);
    run
}

fn with_total(mut run: Run, wiring: Wiring) -> Run {
    run.options.place = Place::Jack {
        wiring,
        total: Some(Ohms(250e3)),
        pickup: None,
    };
    run
}

/// The verdict with its worst place.
fn looked(run: &Run) -> (Ran, Zone) {
    let (ran, session) = run.until(|_| false);
    let check = session.check().unwrap();
    let place = |analysis: &Analysis| analysis.findings.first().map(|finding| finding.zone);
    let zone = check.view().track.unwrap().analysis.and_then(place);
    (ran, zone.unwrap_or(Zone { from: 0.0, to: 1.0 }))
}

fn says(ran: &Ran, words: &str) -> bool {
    let mut reasons = ran.result().reasons.iter();
    reasons.any(|reason| reason.contains(words))
}

/// Worked by hand for 250k and 6k, cracked in the middle: 62.5k and 68.5k at a quarter and three
/// quarters, a leap from 125k to 131k between, 6k full up.
#[test]
fn two_lines_tell_total_and_place() {
    let crack = CrackedJack::of(Ohms(125e3), Ohms(131e3), Ohms(6e3)).unwrap();
    assert!((crack.total.0 - 250e3).abs() < 1e-6, "{crack:?}");
    assert!((crack.at - 0.5).abs() < 1e-12);
    for (position, ohms) in [(0.0, 0.0), (0.25, 62.5e3), (0.75, 68.5e3), (1.0, 6e3)] {
        assert!(
            (crack.reading(position).0 - ohms).abs() < 1e-6,
            "{position}"
        );
    }
    assert!((crack.highest().0 - 131e3).abs() < 1e-6);
    assert!((crack.position(Ohms(62.5e3), Branch::Rising) - 0.25).abs() < 1e-12);
    assert!((crack.position(Ohms(68.5e3), Branch::Falling) - 0.75).abs() < 1e-12);
    // The same control, whole: 64k at most.
    assert!((crack.whole().highest().0 - 64e3).abs() < 1e-6);
    assert_eq!(CrackedJack::of(Ohms(0.0), Ohms(131e3), Ohms(6e3)), None);
    assert_eq!(CrackedJack::of(Ohms(125e3), Ohms(5e3), Ohms(6e3)), None);
}

#[test]
fn a_crack_seen_in_standard_wiring_is_placed() {
    for at in [0.2, 0.35, 0.65, 0.8] {
        for total in [false, true] {
            let mut run = cracked(at, Wiring::Standard);
            if total {
                run = with_total(run, Wiring::Standard);
            }
            let (ran, zone) = looked(&run);
            assert_eq!(ran.result().verdict, Verdict::Fail, "{:#?}", ran.result());
            assert!(says(&ran, "the track is cracked at"), "{:#?}", ran.result());
            assert!(
                (zone.middle() - run.pot.electrical(at)).abs() < 0.03,
                "{at} {zone:?} {:#?}",
                ran.result()
            );
            assert!(!says(&ran, "contact cleaner"), "no cleaner mends a crack");
        }
    }
}

/// Both sides read alike: all that tells is the corner, or the total.
#[test]
fn a_crack_in_the_middle_is_no_peak() {
    let mut run = cracked(0.512, Wiring::Standard);
    for seed in 0..4 {
        run.seed = seed;
        assert_ne!(run.go().result().verdict, Verdict::Pass);
    }
    run.pot.turning.pauses = 0.0;
    let (ran, _) = looked(&run);
    assert_eq!(ran.result().verdict, Verdict::Retest, "{:#?}", ran.result());
    assert!(says(&ran, "is a corner"), "{:#?}", ran.result());
    let (ran, zone) = looked(&with_total(run, Wiring::Standard));
    assert_eq!(ran.result().verdict, Verdict::Fail, "{:#?}", ran.result());
    assert!((zone.middle() - 0.512).abs() < 0.03, "{zone:?}");
}

/// In independent wiring the total is read at zero, which a cracked track does not reach.
#[test]
fn a_crack_seen_in_independent_wiring_is_placed_only_with_the_total() {
    for at in [0.3, 0.55] {
        let run = cracked(at, Wiring::Independent);
        let place = run.pot.electrical(at);
        let (ran, zone) = looked(&run);
        assert_eq!(ran.result().verdict, Verdict::Fail, "{:#?}", ran.result());
        assert!(
            says(&ran, "these readings cannot tell"),
            "{:#?}",
            ran.result()
        );
        assert!(says(&ran, "--total places it"));
        assert!(zone.from <= place && place <= zone.to, "{at} {zone:?}");
        // To within what the hand passes between two readings.
        let told = [0.0, 1.0, 2.0, 3.0]
            .map(|more| format!("{:.0} % of a 250.0 kΩ one", 100.0 * place + more));
        assert!(
            told.iter().any(|told| says(&ran, told)),
            "{told:?} {:#?}",
            ran.result()
        );
        let (ran, zone) = looked(&with_total(run, Wiring::Independent));
        assert_eq!(ran.result().verdict, Verdict::Fail, "{:#?}", ran.result());
        assert!((zone.to - place).abs() < 0.04, "{at} {zone:?}");
    }
}

/// A sound control's peak is round, whatever its law and the hand.
#[test]
fn no_sound_control_has_a_corner() {
    for law in [
        Law::Linear,
        Law::Exponential { mid: 0.1 },
        Law::Reverse { mid: 0.15 },
        Law::TwoSlope { mid: 0.2 },
    ] {
        for rate in [3.0, 20.0] {
            for seed in 0..3 {
                let mut run = Run::new(law, PotFault::Good).at_jack(Wiring::Standard);
                (run.seed, run.meter.rate) = (seed, rate);
                let ran = run.go();
                assert!(
                    !says(&ran, "is a corner"),
                    "{law:?} {rate} {:#?}",
                    ran.result()
                );
            }
        }
    }
}

#[test]
fn the_tone_capacitor_is_waited_out() {
    // The slowest that is sold: 47 nF behind 500k, at the node a volume control is highest at.
    let tone = Tone {
        control: Ohms(500e3),
        farads: 47e-9,
    };
    let node = Ohms(127e3);
    assert!(tone.settling(node) < Tone::WAIT, "{}", tone.settling(node));
    assert!(tone.initial_error(parallel(Ohms(8e3), Ohms(500e3))) < -0.01);
    // Nothing read before is counted: the sweep's first reading comes later than contact by that.
    let mut run = Run::new(Law::Linear, PotFault::Good).at_jack(Wiring::Standard);
    run.meter.rate = 50.0;
    run.pot.turning.pass = Seconds(6.0);
    let (ran, session) = run.until(|session| {
        let view = session.check().and_then(|check| check.view().track);
        view.is_some_and(|track| track.position.is_some() || track.analysis.is_some())
    });
    assert!(session.check().is_some());
    assert!(
        ran.prompts()
            .iter()
            .any(|prompt| prompt.contains("capacitor charges")),
        "{:#?}",
        ran.prompts()
    );
    let place = Place::Jack {
        wiring: Wiring::Standard,
        total: Some(Ohms(250e3)),
        pickup: Some(Ohms(6e3)),
    };
    run.options.place = place;
    let (ran, _) = run.until(|session| {
        let view = session.check().and_then(|check| check.view().track);
        view.is_some_and(|track| track.position.is_some())
    });
    let contact = ran.notices.iter().find_map(|notice| match notice {
        Notice::Reading(reading) => reading.measured.ohms().map(|_| reading.at),
        _ => None,
    });
    let last = ran.notices.iter().rev().find_map(|notice| match notice {
        Notice::Reading(reading) => Some(reading.at),
        _ => None,
    });
    let waited = last.unwrap().since(contact.unwrap());
    assert!(waited >= Tone::WAIT && waited < Seconds(0.5), "{waited}");
}
