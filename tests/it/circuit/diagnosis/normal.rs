//! Tails and densities against statrs, another implementation of them.

use statrs::distribution::{ChiSquared, Continuous as _, ContinuousCDF as _, Normal};
use statrs::function::erf::erfc;
use steadyohm::circuit::diagnosis::Seen;
use steadyohm::circuit::diagnosis::normal::{
    chi_squared_above, complement, log_above, log_between, log_density, log_sum,
};

use super::twopickups::{BOTH, MOST, NECK, case_of, coarse, priors, table};

#[track_caller]
fn close(value: f64, reference: f64, relative: f64) {
    let most = relative * reference.abs().max(1e-300);
    assert!(
        (value - reference).abs() <= most,
        "{value:e} is not {reference:e} within {most:e}"
    );
}

#[test]
fn the_normal_tail() {
    let standard = Normal::new(0.0, 1.0).unwrap();
    for step in -320..=320 {
        let x = f64::from(step) / 16.0;
        // The reference keeps some nine digits.
        close(complement(x), erfc(x), 1e-9);
        if x < 30.0 {
            // Near certainty the reference too is taken from the small side.
            let reference = if x < 0.0 {
                (-standard.sf(-x)).ln_1p()
            } else {
                standard.sf(x).ln()
            };
            close(log_above(x), reference, 1e-9);
        }
    }
    // Where the chance itself is no longer a number of the machine, its logarithm is: the
    // asymptotic series, DLMF 7.12.1 (from memory), to its second term.
    let x: f64 = 60.0;
    let series =
        -x * x / 2.0 - (x * std::f64::consts::TAU.sqrt()).ln() + (-1.0 / (x * x)).ln_1p();
    close(log_above(x), series, 1e-9);
}

/// The same function of the C library (glibc 2.36), printed to the last digit.
#[test]
fn the_chance_between_two() {
    // statrs' distribution function where it keeps its digits, and the ratio of two tails
    // beyond: between 10 and 11 lies all that is above 10, but for e^-10.5 of it.
    let normal = Normal::new(0.0, 1.0).unwrap();
    for (low, high) in [
        (-2.0, 2.0),
        (-1.0, 3.0),
        (0.5, 1.5),
        (-4.0, -1.0),
        (0.0, 0.1),
    ] {
        close(
            log_between(low, high).exp(),
            normal.cdf(high) - normal.cdf(low),
            1e-9,
        );
    }
    close(log_between(10.0, 11.0), log_above(10.0) - 2.5e-5, 1e-6);
    close(log_between(-11.0, -10.0), log_between(10.0, 11.0), 1e-12);
}

#[test]
fn the_complement_of_the_error_function() {
    let table = [
        (-3.25, 1.999_995_697_220_536_4),
        (-0.8, 1.742_100_964_707_660_6),
        (0.1, 0.887_537_083_981_715_2),
        (0.6187, 0.381_588_090_248_409_9),
        (1.5, 0.033_894_853_524_689_274),
        (2.49, 0.000_429_287_867_733_913),
        (2.51, 0.000_385_705_481_724_279_8),
        (4.0, 1.541_725_790_028_002e-08),
        (9.0, 4.137_031_746_513_81e-37),
        (20.0, 5.395_865_611_607_900_5e-176),
    ];
    for (x, reference) in table {
        close(complement(x), reference, 1e-13);
    }
}

#[test]
fn the_chi_squared_tail() {
    for freedom in 1..=24_u32 {
        let reference = ChiSquared::new(f64::from(freedom)).unwrap();
        for step in 1..=80 {
            let value = f64::from(step) * 0.9;
            close(chi_squared_above(value, freedom), reference.sf(value), 1e-7);
        }
    }
    // The usual table of critical values (from memory): 5 % of one degree of freedom.
    close(chi_squared_above(3.841_459, 1), 0.05, 1e-5);
}

#[test]
fn a_sum_of_logarithms() {
    close(log_sum([0.25_f64.ln(), 0.5_f64.ln()]), 0.75_f64.ln(), 1e-14);
    assert!(log_sum([f64::NEG_INFINITY, f64::NEG_INFINITY]).is_infinite());
    close(
        log_sum([-2000.0, -2000.0]),
        -2000.0 + std::f64::consts::LN_2,
        1e-14,
    );
}

/// One reading of one row: a normal density and a stray's, mixed; and a correlated pair, by
/// the density of the second given the first.
#[test]
fn densities_of_one_and_of_two_readings() {
    let table = table();
    let meter = coarse();
    let stray = priors().judging.stray;
    let flat = |ohms: f64| 1.0 / ((ohms + 1.0) * 2.0 * 1e8_f64.ln());
    let steady = (1.0 - priors().judging.unsteady_sound).ln();
    let slopes = |at: usize| {
        let gradient = &table.rows[0][at].gradient;
        let weighed = gradient.iter().zip(MOST);
        weighed
            .map(|(slope, most)| slope * most / 3.0_f64.sqrt())
            .collect::<Vec<f64>>()
    };
    let noise = |ohms: f64| {
        // Limits over the square root of three; one ohm a digit; 0.2 ohm of contact.
        ((0.03 * ohms).powi(2) + 9.0) / 3.0 + 1.0 / 12.0 + 0.04
    };
    let shared = |left: &[f64], right: &[f64]| -> f64 {
        left.iter()
            .zip(right)
            .map(|(left, right)| left * right)
            .sum()
    };
    let (neck, both) = (slopes(NECK), slopes(BOTH));
    for (first, second) in [(5700.0, 3300.0), (5400.0, 3400.0), (6000.0, 3100.0)] {
        let own = shared(&neck, &neck) + noise(first);
        let density = Normal::new(table.rows[0][NECK].ohms, own.sqrt()).unwrap();
        close(
            log_density(first, table.rows[0][NECK].ohms, own),
            density.ln_pdf(first),
            1e-12,
        );
        let case = case_of(&table, meter, &[(NECK, Seen::Ohms(first))]);
        let one = (1.0 - stray) * density.pdf(first) + stray * flat(first);
        close(case.likelihood(0).log, one.ln() + steady, 1e-9);

        let cross = shared(&neck, &both);
        let mean = table.rows[0][BOTH].ohms + cross / own * (first - table.rows[0][NECK].ohms);
        let alone = shared(&both, &both) + noise(second);
        let given = Normal::new(mean, (alone - cross * cross / own).sqrt()).unwrap();
        let single = Normal::new(table.rows[0][BOTH].ohms, alone.sqrt()).unwrap();
        let pair = (1.0 - stray).powi(2) * density.pdf(first) * given.pdf(second)
            + (1.0 - stray) * stray * density.pdf(first) * flat(second)
            + stray * (1.0 - stray) * flat(first) * single.pdf(second)
            + stray * stray * flat(first) * flat(second);
        let readings = [(NECK, Seen::Ohms(first)), (BOTH, Seen::Ohms(second))];
        let case = case_of(&table, meter, &readings);
        close(case.likelihood(0).log, pair.ln() + 2.0 * steady, 1e-9);
    }
}
