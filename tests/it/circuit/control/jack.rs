//! A volume control at the jack against worked values and a circuit simulator.

use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Command, Stdio};

use proptest::prelude::*;
use steadyohm::circuit::control::{Jack, Wiring, fit, fit_with_total, pickup_with_total};
use steadyohm::reading::Ohms;
use steadyohm::signal::{Branch, Track as _};

use crate::circuit::close;

pub(super) const fn jack(wiring: Wiring, total: f64, pickup: f64) -> Jack {
    Jack {
        wiring,
        total: Ohms(total),
        pickup: Ohms(pickup),
    }
}

#[test]
fn the_standard_wiring_reads_its_worked_values() {
    // Worked: aR (S - aR) / S, S = R + Rp; the peak at S / 2R reads S / 4.
    for (total, pickup, readings, peak, highest) in [
        (
            250e3,
            6e3,
            [0.0, 47241.2, 63964.8, 50170.9, 5859.4],
            0.5120,
            64000.0,
        ),
        (
            500e3,
            8e3,
            [0.0, 94242.1, 126_968.5, 98179.1, 7874.0],
            0.5080,
            127_000.0,
        ),
        (
            250e3,
            7.5e3,
            [0.0, 47330.1, 64320.4, 50970.9, 7281.6],
            0.5150,
            64375.0,
        ),
    ] {
        let jack = jack(Wiring::Standard, total, pickup);
        for (position, reading) in [0.0, 0.25, 0.5, 0.75, 1.0].into_iter().zip(readings) {
            close(jack.reading(position).0, reading, 0.1);
        }
        close(jack.peak(), peak, 1e-4);
        close(jack.highest().0, highest, 0.5);
    }
    let near = jack(Wiring::Standard, 250e3, 6e3);
    // The last one per cent of the travel changes the reading by two fifths.
    close(near.reading(0.99).0, 8217.8, 0.1);
    for (position, reading) in [
        (0.01, 2475.6),
        (0.05, 11890.0),
        (0.1, 22559.0),
        (0.95, 17163.0),
    ] {
        close(near.reading(position).0, reading, 0.5);
    }
    // Missing the peak by one per cent of the track, 500k and 8k.
    let missed = jack(Wiring::Standard, 500e3, 8e3);
    close(missed.shortfall(0.01).0, 49.21, 0.05);
    let off = missed.highest().0 - missed.reading(missed.peak() + 0.01).0;
    close(off, 49.21, 0.05);
}

#[test]
fn the_independent_wiring_reads_its_worked_values() {
    // Worked: (1 - a) R + (aR || Rp).
    for (total, pickup, readings) in [
        (
            250e3,
            6e3,
            [250_000.0, 192_974.5, 130_725.2, 68314.0, 5859.4],
        ),
        (
            500e3,
            8e3,
            [500_000.0, 382_518.8, 257_751.9, 132_832.9, 7874.0],
        ),
        (
            250e3,
            7.5e3,
            [250_000.0, 194_196.4, 132_075.5, 69711.5, 7281.6],
        ),
    ] {
        let jack = jack(Wiring::Independent, total, pickup);
        for (position, reading) in [0.0, 0.25, 0.5, 0.75, 1.0].into_iter().zip(readings) {
            close(jack.reading(position).0, reading, 0.1);
        }
        assert_eq!(jack.open_reading(), Some(Ohms(total)));
    }
    // The wiper's contact is in series with the pickup: worked (aR / (aR + Rp))².
    let jack = jack(Wiring::Independent, 250e3, 6e3);
    for (position, gain) in [
        (0.1, 0.650),
        (0.25, 0.832),
        (0.5, 0.9105),
        (0.75, 0.939),
        (1.0, 0.954),
    ] {
        close(jack.contact_gain(position), gain, 6e-4);
    }
    close(jack.contact_gain(0.5), 0.9105, 1e-4);
}

#[test]
fn control_and_pickup_come_out_of_what_the_jack_showed() {
    // A published worked pair: 4 x 135k = 540k and 8.85k full up give 9k and 531k.
    let published = fit(Wiring::Standard, Ohms(135e3), Ohms(8.85e3)).unwrap();
    close(published.pickup.0, 9000.0, 1.0);
    close(published.total.0, 531_000.0, 1.0);
    // Worked back from 250k and 6k.
    let worked = fit(Wiring::Standard, Ohms(64000.0), Ohms(5859.375)).unwrap();
    close(worked.pickup.0, 6000.0, 0.1);
    close(worked.total.0, 250_000.0, 0.1);
    let pickup = pickup_with_total(Ohms(250e3), Ohms(5859.375)).unwrap();
    close(pickup.0, 6000.0, 0.1);
    // A control a fifth off moves the pickup by less than one per cent: worked.
    close(
        pickup_with_total(Ohms(200e3), Ohms(5859.375)).unwrap().0,
        6036.2,
        0.1,
    );
    close(
        pickup_with_total(Ohms(300e3), Ohms(5859.375)).unwrap().0,
        5976.1,
        0.1,
    );
    let independent = fit(Wiring::Independent, Ohms(250e3), Ohms(5859.375)).unwrap();
    close(independent.pickup.0, 6000.0, 0.1);
    // What no circuit reads is refused, in words.
    for (peak, full) in [
        (5e3, 5.8e3),
        (64e3, 0.0),
        (f64::INFINITY, 6e3),
        (f64::NAN, 6e3),
    ] {
        assert!(fit(Wiring::Standard, Ohms(peak), Ohms(full)).is_err());
    }
    assert_eq!(
        fit_with_total(Wiring::Standard, Ohms(5e3), Ohms(6e3))
            .unwrap_err()
            .to_string(),
        "full up reads 6.000 kΩ, more than the 5.000 kΩ control could: check the nominal value"
    );
}

/// One line of the golden file: wiring, control, position, contact, reading.
fn golden() -> Vec<(Jack, [f64; 3])> {
    include_str!("../golden/jack.csv")
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| {
            let (word, numbers) = line.split_once(',').unwrap();
            let numbers: Vec<f64> = numbers
                .split(',')
                .map(|part| part.parse().unwrap())
                .collect();
            let wiring = if word == "standard" {
                Wiring::Standard
            } else {
                Wiring::Independent
            };
            let [total, pickup, rest @ ..]: [f64; 5] = numbers.try_into().unwrap();
            (jack(wiring, total, pickup), rest)
        })
        .collect()
}

#[test]
fn the_closed_forms_agree_with_a_circuit_simulator() {
    let lines = golden();
    assert_eq!(lines.len(), 208);
    for (jack, [position, contact, ohms]) in lines {
        // The simulator's resistors end at a milliohm, its small ones are off by that much.
        let slack = 0.01 + 1e-8 * ohms;
        close(jack.reading_through(position, Ohms(contact)).0, ohms, slack);
        // The gain is the share of a contact resistance that is small beside all else.
        let more = jack.reading_through(position, Ohms(1.0)).0 - jack.reading(position).0;
        close(jack.contact_gain(position), more, 1e-3);
    }
}

/// The simulator on this machine, where there is one, says the same today.
#[test]
fn the_circuit_simulator_of_this_machine_agrees() {
    let mut deck = String::from("control\n");
    let cases = [
        (Wiring::Standard, 0.3),
        (Wiring::Standard, 0.8),
        (Wiring::Independent, 0.3),
    ];
    let mut prints = String::new();
    for (number, (wiring, position)) in cases.into_iter().enumerate() {
        let (jack, hot) = match wiring {
            Wiring::Standard => ("w", "t"),
            Wiring::Independent => ("t", "w"),
        };
        writeln!(
            deck,
            "Ra{number} t{number} w{number} {}",
            250e3 * (1.0 - position)
        )
        .unwrap();
        writeln!(deck, "Rb{number} w{number} 0 {}", 250e3 * position).unwrap();
        writeln!(deck, "Rp{number} {hot}{number} 0 6000").unwrap();
        writeln!(deck, "I{number} 0 {jack}{number} 1u").unwrap();
        writeln!(prints, "print v({jack}{number})/1e-6").unwrap();
    }
    write!(deck, ".control\nset numdgt=12\nop\n{prints}.endc\n.end\n").unwrap();
    let Ok(mut simulator) = Command::new("ngspice")
        .arg("-b")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
    else {
        // Not installed: the golden values above stand in.
        return;
    };
    simulator
        .stdin
        .take()
        .unwrap()
        .write_all(deck.as_bytes())
        .unwrap();
    let output = String::from_utf8(simulator.wait_with_output().unwrap().stdout).unwrap();
    let found: Vec<f64> = output
        .lines()
        .filter(|line| line.starts_with("v("))
        .filter_map(|line| line.split(" = ").nth(1)?.trim().parse().ok())
        .collect();
    assert_eq!(found.len(), cases.len(), "{output}");
    for ((wiring, position), ohms) in cases.into_iter().zip(found) {
        close(
            jack(wiring, 250e3, 6e3).reading(position).0,
            ohms,
            1e-6 * ohms,
        );
    }
}

proptest! {
    #[test]
    fn a_reading_turned_back_is_the_position(
        total in 10e3_f64..2e6,
        part in 0.001_f64..0.9,
        position in 0.0_f64..=1.0,
        independent: bool,
    ) {
        let wiring = if independent { Wiring::Independent } else { Wiring::Standard };
        let jack = jack(wiring, total, part * total);
        let branch = if position <= jack.peak() { Branch::Rising } else { Branch::Falling };
        let found = jack.position(jack.reading(position), branch);
        // At the peak the position hardly moves the reading: half the digits are lost.
        prop_assert!((found - position).abs() < 1e-6, "{found} is not {position}");
    }

    #[test]
    fn the_fit_finds_the_circuit_again(total in 10e3_f64..2e6, part in 0.001_f64..0.45) {
        let jack = jack(Wiring::Standard, total, part * total);
        let found = fit(Wiring::Standard, jack.highest(), jack.full()).unwrap();
        prop_assert!((found.total.0 / total - 1.0).abs() < 1e-6);
        prop_assert!((found.pickup.0 / (part * total) - 1.0).abs() < 1e-6);
    }
}
