//! What a measurement tells, by hand and by brute force, and which is taken next.

use statrs::distribution::{Continuous as _, Normal};
use steadyohm::circuit::diagnosis::priors::BUILT_IN;
use steadyohm::circuit::diagnosis::{Case, Meter, Next, Priors, Seen};
use steadyohm::circuit::{Ailment, Forecasts, Place};

use super::twopickups::{
    BOTH, BRIDGE, MOST, NECK, NECK_WIRES, WIRINGS, Wiring, case_of, priors, table, table_of,
};

fn changed(changes: &[(&str, &str)]) -> Priors {
    let mut text = BUILT_IN.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    Priors::from_text(&text, "changed").unwrap()
}

/// Sound, or the neck's joint open, at odds of three to one; nothing is stray.
fn clean() -> Priors {
    changed(&[
        ("open = 0.010", "open = 0.25"),
        ("stray = 0.01", "stray = 1e-12"),
        ("unsteady-sound = 0.02", "unsteady-sound = 1e-12"),
    ])
}

fn gain_of(case: &Case<'_>, measurement: usize) -> f64 {
    let probes = case.diagnosis().probes(case, false);
    let found = probes.iter().find(|probe| probe.measurement == measurement);
    found.unwrap().gain
}

#[test]
fn two_explanations_by_hand() {
    // The odds of an open joint are 0.25/0.75 = 1/3 to one: 3/4 sound, 1/4 open. At neck, sound
    // reads 5.6 kilohms and the open joint half a megohm, so that the reading settles it, and
    // what it tells is all there is to know:
    //   -(3/4 ln 3/4 + 1/4 ln 1/4) = 0.2158 + 0.3466 = 0.5623 nats.
    // At bridge both read the same: 0.
    let table = table_of(&WIRINGS[..2]);
    let priors = clean();
    let case = Case::new(&table, &priors, Meter::default());
    assert!(
        (gain_of(&case, NECK) - 0.562_335).abs() < 1e-5,
        "{}",
        gain_of(&case, NECK)
    );
    assert!(gain_of(&case, BRIDGE).abs() < 1e-9);
    // At even odds: ln 2 = 0.693 nats, one bit.
    let priors = changed(&[
        ("open = 0.010", "open = 0.5"),
        ("stray = 0.01", "stray = 1e-12"),
        ("unsteady-sound = 0.02", "unsteady-sound = 1e-12"),
    ]);
    let case = Case::new(&table, &priors, Meter::default());
    assert!((gain_of(&case, NECK) - std::f64::consts::LN_2).abs() < 1e-5);
}

/// Two overlapping normals, their mutual information by a fine sum over readings.
#[test]
fn an_overlap_by_brute_force() {
    let wrong = Wiring {
        neck: 1.08,
        ..WIRINGS[4]
    };
    let table = table_of(&[WIRINGS[0], wrong]);
    let priors = changed(&[
        // The first such line that a wrong pickup meets.
        ("wrong-value = 0.002", "wrong-value = 0.3"),
        ("stray = 0.01", "stray = 1e-12"),
        ("unsteady-sound = 0.02", "unsteady-sound = 1e-12"),
    ]);
    assert!((priors.chance(Place::Pickup, Ailment::WrongValue) - 0.3).abs() < 1e-12);
    let case = Case::new(&table, &priors, Meter::default());
    let curve = |row: usize| {
        let forecast = &table.rows[row][NECK];
        let slopes = forecast.gradient.iter().zip(MOST);
        let parts: f64 = slopes
            .map(|(slope, most)| (slope * most).powi(2) / 3.0)
            .sum();
        let variance = parts + case.meter.variance(forecast.ohms, 0.0);
        Normal::new(forecast.ohms, variance.sqrt()).unwrap()
    };
    let (sound, wrong) = (curve(0), curve(1));
    let (mut told, step) = (0.0, 0.25);
    for index in 12_000..36_000 {
        let ohms = step * f64::from(index);
        let (left, right) = (0.7 * sound.pdf(ohms), 0.3 * wrong.pdf(ohms));
        let all = left + right;
        if left > 1e-300 && right > 1e-300 {
            told += step * (left * (left / 0.7 / all).ln() + right * (right / 0.3 / all).ln());
        }
    }
    let found = gain_of(&case, NECK);
    assert!(
        told > 0.05 && told < 0.6,
        "an overlap worth testing: {told}"
    );
    assert!((found - told).abs() < 1e-3 * told, "{found} against {told}");
}

#[test]
fn what_is_known_is_told_once() {
    // The middle follows from neck and bridge: with both read there is little left in it.
    let table = table();
    let fresh = gain_of(&case_of(&table, Meter::default(), &[]), BOTH);
    let readings = [(NECK, Seen::Ohms(5600.0)), (BRIDGE, Seen::Ohms(7900.0))];
    let case = case_of(&table, Meter::default(), &readings);
    let after = gain_of(&case, BOTH);
    assert!(
        fresh > 0.05 && after < 0.1 * fresh,
        "{fresh} and then {after}"
    );
}

/// Neck reads high: another pickup, or its joint? Its own wires tell, and are asked for only
/// because the jack can tell no more.
#[test]
fn inside_when_the_jack_has_told_all() {
    let readings = [
        (NECK, Seen::Ohms(6450.0)),
        (BOTH, Seen::Ohms(3600.0)),
        (BRIDGE, Seen::Ohms(7900.0)),
    ];
    let poor = Wiring {
        series: [750.0, 0.0],
        ..WIRINGS[3]
    };
    let rows = [WIRINGS[0], WIRINGS[1], poor, WIRINGS[4]];
    let narrow = table_of(&rows);
    let case = case_of(&narrow, Meter::default(), &readings);
    let found = case.diagnosis();
    let Next::Take(probe) = found.next(&case, false) else {
        panic!("{found:?}");
    };
    assert_eq!(probe.measurement, NECK_WIRES);
    let cost = priors().efforts;
    assert!((probe.effort - cost.opening - cost.inside - cost.unsoldered).abs() < 1e-12);
}

#[test]
fn the_outside_comes_first_and_looking_stops() {
    let table = table();
    let mut case = case_of(&table, Meter::default(), &[]);
    let Next::Take(first) = case.diagnosis().next(&case, false) else {
        panic!("nothing read, nothing certain");
    };
    assert_ne!(first.measurement, NECK_WIRES);
    assert!((first.effort - priors().efforts.outside).abs() < 1e-12);
    for (measurement, seen) in [
        (NECK, Seen::Ohms(5600.0)),
        (BOTH, Seen::Ohms(3300.0)),
        (BRIDGE, Seen::Ohms(7900.0)),
    ] {
        case.evidence
            .take(measurement, super::twopickups::observed(seen));
    }
    assert_eq!(case.diagnosis().next(&case, false), Next::Sure { row: 0 });
}

#[test]
fn what_cannot_be_told_apart_is_not_looked_for() {
    // The same open joint twice under two names: no measurement parts them.
    let twin = Wiring {
        name: "the neck pickup's other wire is off",
        ..WIRINGS[1]
    };
    let table = table_of(&[WIRINGS[0], WIRINGS[1], twin]);
    let readings = [
        (NECK, Seen::Ohms(498_000.0)),
        (BOTH, Seen::Ohms(7880.0)),
        (BRIDGE, Seen::Ohms(7880.0)),
    ];
    let case = case_of(&table, Meter::default(), &readings);
    let found = case.diagnosis();
    assert_eq!(found.first().unwrap().rows, [1, 2]);
    assert_eq!(found.next(&case, true), Next::NothingWorth);
}

/// Where each measurement stands in the order of worth.
fn places(table: &Forecasts, priors: &Priors) -> Vec<usize> {
    let case = Case::new(table, priors, Meter::default());
    let probes = case.diagnosis().probes(&case, true);
    probes.iter().map(|probe| probe.measurement).collect()
}

#[test]
fn more_effort_never_brings_a_measurement_forward() {
    let table = table();
    let place = |unsoldered: &str| {
        let line = format!("unsoldered = {unsoldered}");
        let priors = changed(&[("unsoldered = 30.0", &line)]);
        let order = places(&table, &priors);
        order.iter().position(|at| *at == NECK_WIRES).unwrap()
    };
    let order = ["0.0001", "0.01", "1.0", "30.0", "1000.0"].map(place);
    assert!(order.is_sorted(), "{order:?}");
    // Opening is paid once.
    let case = Case::new(&table, priors(), Meter::default());
    let found = case.diagnosis();
    let effort = |opened| {
        let probes = found.probes(&case, opened);
        let wires = probes.iter().find(|probe| probe.measurement == NECK_WIRES);
        wires.unwrap().effort
    };
    let opening = effort(false) - effort(true);
    assert!((opening - priors().efforts.opening).abs() < 1e-12);
}
