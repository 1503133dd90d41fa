//! Controls against the standards' tables, worked values and a circuit simulator.
//!
//! Values marked "worked" were computed from the closed form named beside them, to the digits
//! shown.

mod jack; // both wirings of a volume control: worked values, a circuit simulator

use proptest::prelude::*;
use steadyohm::circuit::control::{
    BenchTrack, Control, ControlError, Law, LawReading, Lug, Series, Tolerance, Tone, Wiring,
    candidates, contact_variation_percent, end_limit, gang_mismatch, independent_linearity,
    is_one_two_five, letter_readings, letter_sentence, loaded_ratio, noise_resistance,
    parallel, residual_limit, terminal_linearity, variation_limit, zero_based_linearity,
};
use steadyohm::reading::Ohms;
use steadyohm::signal::{Branch, Track as _};

use super::close;

#[test]
fn the_laws_read_their_worked_values() {
    // Worked: (bˣ - 1)/(b - 1), b = (1/m - 1)².
    for (mid, base) in [
        (0.1, 81.0),
        (0.15, 32.1111),
        (0.2, 16.0),
        (0.25, 9.0),
        (0.3, 5.4444),
    ] {
        close(Law::base(mid), base, 1e-4);
        close(Law::Exponential { mid }.fraction(0.5), mid, 1e-9);
    }
    let percent = |law: Law, turn: f64| 100.0 * law.fraction(turn);
    close(percent(Law::Exponential { mid: 0.10 }, 0.7), 25.843, 1e-3);
    close(percent(Law::Exponential { mid: 0.15 }, 0.3), 5.887, 1e-3);
    close(percent(Law::Exponential { mid: 0.20 }, 0.8), 54.597, 1e-3);
    close(percent(Law::Exponential { mid: 0.15 }, 0.5), 15.0, 1e-3);
    close(percent(Law::Reverse { mid: 0.15 }, 0.2), 51.643, 1e-3);
    close(percent(Law::Reverse { mid: 0.10 }, 0.1), 36.005, 1e-3);
    close(percent(Law::TwoSlope { mid: 0.15 }, 0.7), 49.0, 1e-3);
    close(percent(Law::TwoSlope { mid: 0.10 }, 0.6), 28.0, 1e-3);
    close(Law::Exponential { mid: 0.10 }.slope(1.0), 4.4494, 1e-4);
    close(Law::Exponential { mid: 0.20 }.slope(0.0), 0.184_84, 1e-5);
    // The turn at which a volume control with a 15 % law passes its highest reading.
    let jack = jack::jack(Wiring::Standard, 250e3, 6e3);
    close(
        Law::Exponential { mid: 0.15 }.turn(jack.peak()),
        0.8155,
        1e-4,
    );
    close(
        Law::Exponential { mid: 0.10 }.turn(jack.peak()),
        0.8503,
        1e-4,
    );
}

#[test]
fn tolerances_and_values_are_those_of_the_standards() {
    // IEC 60062 letters, from memory, universally known.
    for (letter, percent) in [
        ('F', 1.0),
        ('G', 2.0),
        ('J', 5.0),
        ('K', 10.0),
        ('M', 20.0),
        ('N', 30.0),
    ] {
        let tolerance = Tolerance::from_letter(letter).unwrap();
        close(tolerance.percent(), percent, 1e-9);
        assert_eq!(tolerance.letter(), Some(letter));
        assert_eq!(
            Tolerance::from_letter(letter.to_ascii_lowercase()),
            Some(tolerance)
        );
    }
    assert_eq!(Tolerance::from_letter('X'), None);
    // IEC 60062 notation.
    for (text, ohms, percent) in [
        ("500k", 500e3, 20.0),
        ("4k7", 4.7e3, 20.0),
        ("470R", 470.0, 20.0),
        ("2M2J", 2.2e6, 5.0),
        ("250kK", 250e3, 10.0),
        ("1MM", 1e6, 20.0),
        ("25000", 25e3, 20.0),
        ("0.5M", 500e3, 20.0),
        ("300kN", 300e3, 30.0),
    ] {
        let control: Control = text.parse().unwrap();
        close(control.nominal.0, ohms, 1e-6 * ohms);
        close(control.tolerance.percent(), percent, 1e-9);
    }
    for text in ["", "k", "5x", "k5", "1.5k2", "500kX", "5kkk", "-5k"] {
        assert!(text.parse::<Control>().is_err(), "{text}");
    }
    assert_eq!(
        "1R".parse::<Control>(),
        Err(ControlError::Outside { ohms: 1.0 })
    );
    // IEC 60063, from memory: 250k, 300k and 500k are in neither E6 nor E12.
    for ohms in [250e3, 300e3, 500e3] {
        assert!(!Series::E6.contains(Ohms(ohms)) && !Series::E12.contains(Ohms(ohms)));
    }
    assert!(Series::E3.contains(Ohms(1e6)) && Series::E3.contains(Ohms(470.0)));
    assert!(Series::E12.contains(Ohms(330e3)) && Series::E24.contains(Ohms(300e3)));
    assert!(is_one_two_five(Ohms(500e3)) && !is_one_two_five(Ohms(250e3)));
    assert!(!Series::E24.contains(Ohms(0.0)) && !Series::E24.contains(Ohms(f64::NAN)));
    // Each series holds the one before it, but for E24 rounding none of E12 away.
    for pair in Series::ALL.windows(2) {
        for member in pair[0].members() {
            assert!(
                pair[1].members().contains(member),
                "{member} of {:?}",
                pair[0]
            );
        }
    }
}

#[test]
fn bands_overlap_and_nothing_is_guessed() {
    // Worked: nominal less and plus its tolerance.
    for (nominal, from, to) in [
        (25e3, 20e3, 30e3),
        (250e3, 200e3, 300e3),
        (300e3, 240e3, 360e3),
        (500e3, 400e3, 600e3),
        (1e6, 800e3, 1.2e6),
    ] {
        let band = Control::usual(Ohms(nominal)).band();
        close(band.from.0, from, 1e-3);
        close(band.to.0, to, 1e-3);
        assert!(band.holds(Ohms(nominal)) && !band.holds(Ohms(1.21 * nominal)));
    }
    let both = [Ohms(250e3), Ohms(300e3)];
    assert_eq!(candidates(Ohms(240.1e3), Tolerance::USUAL), both);
    assert_eq!(candidates(Ohms(299.9e3), Tolerance::USUAL), both);
    assert_eq!(candidates(Ohms(239e3), Tolerance::USUAL), [Ohms(250e3)]);
    assert_eq!(candidates(Ohms(301e3), Tolerance::USUAL), [Ohms(300e3)]);
    assert_eq!(candidates(Ohms(120e3), Tolerance::USUAL), []);
    close(
        Control::usual(Ohms(500e3)).deviation(Ohms(450e3)),
        -0.1,
        1e-9,
    );
    close(gang_mismatch(Ohms(480e3), Ohms(520e3)), 0.08, 1e-9);
}

#[test]
fn borrowed_limits_are_those_of_their_documents() {
    // MIL-PRF-39035E 3.9, characteristic C: 3 % or 20 ohm, whichever is greater.
    close(variation_limit(Ohms(250e3)).0, 7500.0, 1e-9);
    close(variation_limit(Ohms(500.0)).0, 20.0, 1e-9);
    // MIL-PRF-22097J 3.7.2: 2 % or 20 ohm, whichever is greater.
    close(end_limit(Ohms(250e3)).0, 5000.0, 1e-9);
    close(end_limit(Ohms(500.0)).0, 20.0, 1e-9);
    // A data sheet of small carbon controls.
    for (total, limit) in [
        (5e3, 20.0),
        (50e3, 30.0),
        (200e3, 50.0),
        (250e3, 250.0),
        (500e3, 500.0),
    ] {
        close(residual_limit(Ohms(total)).0, limit, 1e-9);
    }
}

#[test]
fn a_law_letter_is_never_taken_at_its_word() {
    let laws = |letter| -> Vec<LawReading> {
        letter_readings(letter)
            .iter()
            .map(|reading| reading.law)
            .collect()
    };
    for letter in ['A', 'B', 'C', 'a', 'b'] {
        assert!(
            laws(letter).len() >= 2,
            "{letter} has more than one meaning"
        );
    }
    assert!(laws('A').contains(&LawReading::Audio) && laws('A').contains(&LawReading::Linear));
    assert_eq!(letter_sentence('Z'), None);
    let sentence = letter_sentence('A').unwrap();
    assert!(
        sentence.contains("only the reading at half the turn tells"),
        "{sentence}"
    );
    // The reading at half the turn decides.
    for (at_half, law) in [
        (0.5, LawReading::Linear),
        (0.42, LawReading::Linear),
        (0.1, LawReading::Audio),
        (0.2, LawReading::Audio),
        (0.85, LawReading::Reverse),
        (0.36, LawReading::Unusual),
        (0.99, LawReading::Unusual),
    ] {
        assert_eq!(LawReading::of(at_half), law, "{at_half}");
    }
}

#[test]
fn a_tone_control_shows_only_while_it_charges() {
    // Worked: C (R_t + R_n), R_n the pickup beside the track.
    let node = parallel(Ohms(8e3), Ohms(500e3));
    let tone = Tone {
        control: Ohms(500e3),
        farads: 22e-9,
    };
    close(1e3 * tone.time_constant(node).0, 11.173, 1e-3);
    close(100.0 * tone.initial_error(node), -1.550, 1e-3);
    let single = Tone {
        control: Ohms(250e3),
        farads: 22e-9,
    };
    close(
        100.0 * single.initial_error(parallel(Ohms(6e3), Ohms(250e3))),
        -2.290,
        1e-3,
    );
    // By itself, 47 nF and 500k: 6.908 time constants.
    let bare = Tone {
        control: Ohms(500e3),
        farads: 47e-9,
    };
    close(1e3 * bare.settling(Ohms(0.0)).0, 162.3, 0.1);
}

#[test]
fn figures_of_merit_are_those_of_the_handbooks() {
    // The Potentiometer Handbook's definitions, from memory; worked numbers.
    close(contact_variation_percent(0.10, 1e-3, 10e3), 1.0, 1e-9);
    close(noise_resistance(0.05, 1e-3), 50.0, 1e-9);
    close(loaded_ratio(0.5, 1.0), 0.4, 1e-6);
    close(loaded_ratio(0.5, 0.1), 0.487_805, 1e-6);
    close(loaded_ratio(1.0 / 3.0, 0.1), 0.326_087, 1e-6);
    // The largest loading error with a load twenty times the track: 0.7326 %, and a published
    // bound of 0.75 %.
    let worst = (0..=1000_u32)
        .map(|step| f64::from(step) / 1000.0)
        .map(|at| at - loaded_ratio(at, 0.05))
        .fold(0.0, f64::max);
    close(100.0 * worst, 0.7326, 1e-4);
    let bowed = [
        (0.0, 0.0),
        (0.25, 0.26),
        (0.5, 0.52),
        (0.75, 0.76),
        (1.0, 1.0),
    ];
    close(100.0 * terminal_linearity(&bowed).unwrap(), 2.0, 1e-3);
    close(100.0 * independent_linearity(&bowed).unwrap(), 1.0, 1e-3);
    let set = [
        (0.0, 0.01),
        (0.25, 0.26),
        (0.5, 0.50),
        (0.75, 0.74),
        (1.0, 0.98),
    ];
    close(100.0 * terminal_linearity(&set).unwrap(), 0.75, 1e-3);
    close(100.0 * zero_based_linearity(&set).unwrap(), 0.60, 1e-3);
    close(100.0 * independent_linearity(&set).unwrap(), 0.375, 1e-3);
    assert_eq!(terminal_linearity(&[(0.0, 0.0)]), None);
}

#[test]
fn the_bench_reads_from_either_lug() {
    let low = BenchTrack {
        end: Ohms(50.0),
        ..BenchTrack::new(Ohms(250_050.0))
    };
    close(low.reading(0.5).0, 125_050.0, 1e-6);
    let high = BenchTrack {
        lug: Lug::High,
        ..low
    };
    close(high.reading(0.25).0, 187_550.0, 1e-6);
    close(high.position(Ohms(187_550.0), Branch::Falling), 0.25, 1e-9);
}

proptest! {
    #[test]
    fn a_law_turned_back_is_the_turn(mid in 0.05_f64..0.95, turn in 0.0_f64..=1.0) {
        for law in [Law::Linear, Law::Exponential { mid }, Law::Reverse { mid }, Law::TwoSlope { mid }] {
            let fraction = law.fraction(turn);
            prop_assert!((0.0..=1.0).contains(&fraction));
            prop_assert!((law.turn(fraction) - turn).abs() < 1e-9, "{law:?}");
        }
    }

    #[test]
    fn no_text_is_too_odd_for_a_value(text in ".{0,12}") {
        if let Ok(control) = text.parse::<Control>() {
            prop_assert!((10.0..=100e6).contains(&control.nominal.0));
        }
    }

    #[test]
    fn a_better_line_is_never_worse(parts in prop::collection::vec(0.0_f64..1.0, 3..9)) {
        let points: Vec<(f64, f64)> = (0_u8..).map(f64::from).zip(parts).collect();
        let independent = independent_linearity(&points).unwrap();
        prop_assert!(independent <= zero_based_linearity(&points).unwrap() + 1e-9);
        prop_assert!(independent <= terminal_linearity(&points).unwrap() + 1e-9);
    }
}
