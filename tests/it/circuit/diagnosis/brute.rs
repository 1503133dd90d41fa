//! The posterior against brute force: the circuit itself, not its slopes, over every value of
//! its parts, on a grid and by plain Monte Carlo.
#![expect(
    clippy::indexing_slicing,
    reason = "a row that is not there fails the test"
)]

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Continuous as _, ContinuousCDF as _, Normal};
use steadyohm::circuit::diagnosis::Seen;

use super::twopickups::{
    BOTH, BRIDGE, MOST, NECK, NECK_WIRES, WIRINGS, case_of, coarse, ohms, priors, table,
};

type Readings = [(usize, Seen)];

/// How a reading follows from a row, a measurement and the parts' errors.
type Circuit<'a> = &'a dyn Fn(usize, usize, [f64; 3]) -> f64;

/// The circuit itself.
fn exact(row: usize, measurement: usize, off: [f64; 3]) -> f64 {
    ohms(&WIRINGS[row], measurement, off)
}

/// The density of the readings for parts off by these ratios: each by itself, for the parts are
/// known here; every way of being stray is in the product.
fn density(circuit: Circuit<'_>, row: usize, off: [f64; 3], readings: &Readings) -> f64 {
    let stray = priors().judging.stray;
    let each = readings.iter().map(|(measurement, seen)| {
        let centre = circuit(row, *measurement, off);
        let (value, flat) = match seen {
            Seen::Ohms(ohms) => (*ohms, 1.0 / ((ohms + 1.0) * 2.0 * 1e8_f64.ln())),
            Seen::Over { beyond } => (beyond.unwrap(), 0.5),
        };
        let variance = ((0.03 * value).powi(2) + 9.0) / 3.0 + 1.0 / 12.0 + 0.04;
        let own = match seen {
            Seen::Ohms(_) if centre.is_infinite() => 0.0,
            Seen::Over { .. } if centre.is_infinite() => 1.0,
            Seen::Ohms(ohms) => Normal::new(centre, variance.sqrt()).unwrap().pdf(*ohms),
            Seen::Over { .. } => Normal::new(centre, variance.sqrt()).unwrap().sf(value),
        };
        (1.0 - stray) * own + stray * flat
    });
    each.product()
}

fn deviation(part: usize) -> f64 {
    MOST[part] / 3.0_f64.sqrt()
}

/// Over a grid of 6 deviations each way; the control's value hardly matters and has a coarser
/// one.
fn by_grid(circuit: Circuit<'_>, row: usize, readings: &Readings) -> f64 {
    let axis = |count: i32, part: usize| {
        let step = 6.0 / f64::from(count);
        let points = (-count..=count).map(move |index| {
            let z = step * f64::from(index);
            let weight = (-0.5 * z * z).exp() * step / std::f64::consts::TAU.sqrt();
            (z * deviation(part), weight)
        });
        points.collect::<Vec<(f64, f64)>>()
    };
    let (necks, bridges, volumes) = (axis(20, 0), axis(20, 1), axis(4, 2));
    let mut sum = 0.0;
    for (neck, neck_weight) in &necks {
        for (bridge, bridge_weight) in &bridges {
            for (volume, volume_weight) in &volumes {
                let weight = neck_weight * bridge_weight * volume_weight;
                sum += weight * density(circuit, row, [*neck, *bridge, *volume], readings);
            }
        }
    }
    sum
}

/// The mean over draws of the parts, and its standard error.
fn by_draws(row: usize, readings: &Readings, seed: u64) -> (f64, f64) {
    const DRAWS: u32 = 8000;
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let mut normal = || {
        let (first, second): (f64, f64) = (chance.random(), chance.random());
        let radius = (-2.0 * (1.0 - first).ln()).sqrt();
        radius * (std::f64::consts::TAU * second).cos()
    };
    let (mut sum, mut squares) = (0.0, 0.0);
    for _ in 0..DRAWS {
        let off = [0, 1, 2].map(|part| normal() * deviation(part));
        let one = density(&exact, row, off, readings);
        sum += one;
        squares += one * one;
    }
    let mean = sum / f64::from(DRAWS);
    let variance = (squares / f64::from(DRAWS) - mean * mean).max(0.0);
    (mean, (variance / f64::from(DRAWS)).sqrt())
}

fn prior(row: usize) -> f64 {
    if row == 0 {
        return 1.0;
    }
    let chance = priors().chance(WIRINGS[row].place, WIRINGS[row].ailment);
    chance / (1.0 - chance)
}

fn sets() -> Vec<Vec<(usize, Seen)>> {
    let over = |end: f64| Seen::Over { beyond: Some(end) };
    vec![
        vec![
            (NECK, Seen::Ohms(5650.0)),
            (BOTH, Seen::Ohms(3330.0)),
            (BRIDGE, Seen::Ohms(7900.0)),
        ],
        // A neck pickup on the high side: a poor joint, another pickup, or only tolerance?
        vec![(NECK, Seen::Ohms(6350.0)), (BOTH, Seen::Ohms(3550.0))],
        vec![
            (NECK, Seen::Ohms(6350.0)),
            (BOTH, Seen::Ohms(3550.0)),
            (NECK_WIRES, Seen::Ohms(5750.0)),
        ],
        vec![(NECK, Seen::Ohms(7500.0)), (BRIDGE, Seen::Ohms(8100.0))],
        // Strays: one reading that nothing explains beside two good ones.
        vec![
            (NECK, Seen::Ohms(5700.0)),
            (BOTH, Seen::Ohms(3370.0)),
            (BRIDGE, Seen::Ohms(40.0)),
        ],
        // Over a range that ends near the value: more than 5.8 and more than 6 kilohms.
        vec![(NECK, over(5800.0)), (BRIDGE, Seen::Ohms(7950.0))],
        vec![
            (NECK, over(6000.0)),
            (BOTH, Seen::Ohms(3500.0)),
            (NECK_WIRES, over(5600.0)),
        ],
        vec![
            (NECK, Seen::Ohms(490_000.0)),
            (BOTH, Seen::Ohms(7900.0)),
            (BRIDGE, Seen::Ohms(7900.0)),
        ],
    ]
}

/// The largest difference of a row's chance from brute force, over all rows.
#[track_caller]
fn compare(circuit: Circuit<'_>, readings: &Readings, most: f64) {
    let table = table();
    let rows = 0..WIRINGS.len();
    let weights: Vec<f64> = rows
        .map(|row| prior(row) * by_grid(circuit, row, readings))
        .collect();
    let all: f64 = weights.iter().sum();
    let found = case_of(&table, coarse(), readings).diagnosis();
    for (row, weight) in weights.iter().enumerate() {
        let (brute, ours) = (weight / all, found.probabilities[row]);
        assert!(
            (brute - ours).abs() < most,
            "{readings:?}: {}: {ours} against {brute}",
            WIRINGS[row].name
        );
    }
}

#[test]
fn the_posterior_is_that_of_a_grid_over_the_slopes() {
    let table = table();
    let straight = |row: usize, measurement: usize, off: [f64; 3]| {
        let forecast = &table.rows[row][measurement];
        let slopes = forecast.gradient.iter().zip(off);
        forecast.ohms + slopes.map(|(slope, off)| slope * off).sum::<f64>()
    };
    for readings in sets() {
        // Two over-range readings of one part are cut off as if they were normal.
        let tails = readings
            .iter()
            .filter(|(_, seen)| matches!(seen, Seen::Over { .. }));
        let most = if tails.count() > 1 { 0.01 } else { 2e-4 };
        compare(&straight, &readings, most);
    }
}

/// What slopes leave out: the parts' errors bend the readings a little.
#[test]
fn the_posterior_is_near_that_of_the_circuit_itself() {
    for readings in sets().into_iter().skip(1).step_by(2) {
        compare(&exact, &readings, 0.03);
    }
}

#[test]
fn the_likelihoods_lie_in_the_band_of_monte_carlo() {
    let table = table();
    let mut compared = 0;
    for (seed, readings) in (0..).zip(sets()) {
        let case = case_of(&table, coarse(), &readings);
        let steady = (1.0 - priors().judging.unsteady_sound)
            .powf(f64::from(u32::try_from(readings.len()).unwrap()));
        for (row, wiring) in WIRINGS.iter().enumerate() {
            let (mean, error) = by_draws(row, &readings, seed);
            if error > 0.1 * mean {
                // Too few draws come near these readings for the band to say anything.
                continue;
            }
            compared += 1;
            let ours = case.likelihood(row).log.exp() / steady;
            // Five standard errors, and three per cent for what bends.
            assert!(
                (ours - mean).abs() <= 5.0 * error + 0.03 * mean,
                "{readings:?}: {}: {ours:e} against {mean:e} within {error:e}",
                wiring.name
            );
        }
    }
    assert!(compared >= 24, "only {compared} were compared");
}
