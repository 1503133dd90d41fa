//! Medians and summaries against published values and statrs.

use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF as _, Normal};
use statrs::statistics::{Data, OrderStatistics as _, Statistics as _};
use steadyohm::signal::{Baseline, MAD_TO_SIGMA, Summary, median, quantisation, scaled_mad};

use super::close;

#[test]
fn the_worked_examples_of_the_median_deviation() {
    // The usual textbook set, with the constant of Rousseeuw and Croux 1993.
    let textbook = [1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0];
    assert_eq!(median(&textbook), Some(2.0));
    close(scaled_mad(&textbook).unwrap(), 1.4826, 1e-4);
    // One wild reading in eight moves nothing.
    let wild = [0.25, 0.26, 0.25, 0.24, 0.25, 9999.0, 0.26, 0.25];
    assert_eq!(median(&wild), Some(0.25));
    close(scaled_mad(&wild).unwrap(), 0.007_413, 1e-6);
    // More than half alike: no deviation.
    assert_eq!(scaled_mad(&[5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 12.0]), Some(0.0));
}

#[test]
fn the_constant_is_that_of_the_normal_distribution() {
    let normal = Normal::new(0.0, 1.0).unwrap();
    close(MAD_TO_SIGMA, 1.0 / normal.inverse_cdf(0.75), 5e-5);
    // The same, from a table of the normal quantile.
    close(MAD_TO_SIGMA, 1.482_602_218_505_602, 5e-5);
}

#[test]
fn quantisation_is_the_floor_of_a_display_that_does_not_move() {
    // GUM, uniform distribution (from memory): 0.1 ohm gives 0.02887 ohm, and the difference
    // of two such readings 0.040825 ohm.
    close(quantisation(0.1), 0.028_87, 1e-5);
    close(quantisation(0.1).hypot(quantisation(0.1)), 0.040_825, 1e-6);
    let still = [5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 12.0];
    let floored = Baseline::of(&still, Some(0.1)).unwrap();
    close(floored.scale.0, 0.028_87, 1e-5);
    close(floored.median.0, 5.0, 0.0);
    assert_eq!((floored.count, floored.resolution), (7, Some(0.1)));
    let bare = Baseline::of(&still, None).unwrap();
    close(bare.scale.0, 0.0, 0.0);
    // A reading that moves by more than its last digit keeps its own width.
    let moving = [1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0];
    close(
        Baseline::of(&moving, Some(0.1)).unwrap().scale.0,
        1.4826,
        1e-4,
    );
}

#[test]
fn over_range_takes_its_place_above_every_number() {
    let over = f64::INFINITY;
    let some = Baseline::of(&[0.3, over, 0.3, 0.4, 0.3], Some(0.1)).unwrap();
    close(some.median.0, 0.3, 0.0);
    assert!(some.scale.0.is_finite());
    assert_eq!(median(&[0.3, over, over]), Some(over));
    assert_eq!(Baseline::of(&[0.3, over, over], Some(0.1)), None);
    assert_eq!(Baseline::of(&[0.3, over], Some(0.1)), None);
    assert_eq!(Baseline::of(&[], Some(0.1)), None);
    assert_eq!(median(&[f64::NAN, 1.0]), None);
}

/// The sets `NumAcc2` to `NumAcc4` of the NIST reference data: a base plus 0.2, then 500
/// pairs.
fn num_acc(base: f64) -> Summary {
    let pairs = (0..500).flat_map(|_pair| [base + 0.1, base + 0.3]);
    std::iter::once(base + 0.2).chain(pairs).collect()
}

#[test]
fn the_summary_meets_the_certified_values_of_nist() {
    let check = |summary: Summary, certified: [f64; 3], relative: [f64; 3]| {
        let [mean, deviation, lag] = certified;
        let found = [
            (summary.mean().unwrap(), mean),
            (summary.standard_deviation().unwrap(), deviation),
            (summary.lag_one().unwrap(), lag),
        ];
        for ((value, certified), relative) in found.into_iter().zip(relative) {
            close(value, certified, relative * certified.abs());
        }
    };
    // NumAcc1.
    let first = [10_000_001.0, 10_000_003.0, 10_000_002.0];
    check(
        first.into_iter().collect(),
        [10_000_002.0, 1.0, -0.5],
        [1e-12; 3],
    );
    // NumAcc2, NumAcc3, NumAcc4: the rounding of the data itself limits the deviation.
    check(num_acc(1.0), [1.2, 0.1, -0.999], [1e-12; 3]);
    check(
        num_acc(1e6),
        [1_000_000.2, 0.1, -0.999],
        [1e-12, 1e-8, 1e-8],
    );
    check(
        num_acc(1e7),
        [10_000_000.2, 0.1, -0.999],
        [1e-12, 1e-8, 1e-8],
    );
    // Mavro, in units of 0.0001 above 2.
    let mavro = [
        18, 17, 18, 19, 18, 17, 15, 14, 15, 15, 17, 18, 18, 19, 19, 21, 20, 16, 14, 13, 13, 15,
        15, 16, 15, 14, 13, 14, 15, 14, 15, 16, 15, 16, 19, 20, 20, 21, 22, 23, 24, 25, 27, 26,
        26, 26, 27, 26, 25, 24,
    ];
    let summary: Summary = mavro
        .into_iter()
        .map(|step: i32| f64::from(20_000 + step) / 10_000.0)
        .collect();
    assert_eq!(summary.count(), 50);
    assert_eq!((summary.min(), summary.max()), (Some(2.0013), Some(2.0027)));
    check(
        summary,
        [2.001_856, 0.000_429_123_454_003_053, 0.937_989_183_438_248],
        [1e-9; 3],
    );
}

#[test]
fn an_empty_or_single_summary_claims_nothing() {
    let mut summary = Summary::default();
    summary.record(f64::INFINITY);
    summary.record(f64::NAN);
    assert_eq!(
        (summary.count(), summary.mean(), summary.max()),
        (0, None, None)
    );
    summary.record(0.4);
    assert_eq!((summary.mean(), summary.min()), (Some(0.4), Some(0.4)));
    assert_eq!(
        (summary.standard_deviation(), summary.lag_one()),
        (None, None)
    );
}

proptest! {
    /// Reference: statrs.
    #[test]
    fn medians_are_those_of_statrs(values in prop::collection::vec(-1e6..1e6_f64, 1..60)) {
        let reference = Data::new(values.clone()).median();
        prop_assert!((median(&values).unwrap() - reference).abs() <= 1e-9);
    }

    /// Reference: statrs for mean and deviation, the definition in two passes for lag 1.
    #[test]
    fn summaries_are_those_of_two_passes(
        base in -1e4..1e4_f64,
        values in prop::collection::vec(-10.0..10.0_f64, 2..80),
    ) {
        let values: Vec<f64> = values.into_iter().map(|value| base + value).collect();
        let summary: Summary = values.iter().copied().collect();
        let mean = values.iter().mean();
        prop_assert!((summary.mean().unwrap() - mean).abs() <= 1e-9);
        let deviation = values.iter().std_dev();
        prop_assert!((summary.standard_deviation().unwrap() - deviation).abs() <= 1e-8);
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        prop_assume!(squares > 1e-3);
        let products: f64 = values.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum();
        prop_assert!((summary.lag_one().unwrap() - products / squares).abs() <= 1e-6);
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        prop_assert_eq!(summary.min(), Some(low));
    }
}
