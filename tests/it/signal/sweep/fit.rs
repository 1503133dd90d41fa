//! Isotonic regression against a reference library, and the properties any must have.

use proptest::prelude::*;
use steadyohm::signal::sweep::{isotonic, robust_fit};

use crate::signal::close;

#[track_caller]
fn same(found: &[f64], reference: &[f64], tolerance: f64) {
    assert_eq!(found.len(), reference.len());
    for (found, reference) in found.iter().zip(reference) {
        close(*found, *reference, tolerance);
    }
}

#[test]
fn the_worked_regressions() {
    let equal = |values: &[f64]| isotonic(values, &vec![1.0; values.len()]);
    same(
        &equal(&[1.0, 2.0, 3.0, 2.0, 5.0]),
        &[1.0, 2.0, 2.5, 2.5, 5.0],
        1e-12,
    );
    same(&equal(&[5.0, 4.0, 3.0]), &[4.0, 4.0, 4.0], 1e-12);
    same(
        &equal(&[1.0, 3.0, 2.0, 4.0, 3.0, 5.0]),
        &[1.0, 2.5, 2.5, 3.5, 3.5, 5.0],
        1e-12,
    );
    // Least squares smear a spike over what follows it.
    let spike = [0.0, 10.0, 20.0, 90.0, 40.0, 50.0];
    same(&equal(&spike), &[0.0, 10.0, 20.0, 60.0, 60.0, 60.0], 1e-12);
    // The robust fit does not.
    let robust = robust_fit(&spike, &[1.0; 6], 100.0);
    same(&robust.fitted, &[0.0, 10.0, 20.0, 30.0, 40.0, 50.0], 1e-12);
    assert_eq!(robust.kept, [true, true, true, false, true, true]);
}

#[test]
fn the_regression_agrees_with_a_reference_library() {
    let mut cases = 0;
    for line in include_str!("../golden/isotonic.csv").lines() {
        if line.starts_with('#') {
            continue;
        }
        let numbers: Vec<f64> = line
            .split(',')
            .skip(1)
            .map(|part| part.parse().unwrap())
            .collect();
        let column = |which: usize| -> Vec<f64> {
            numbers.chunks(3).map(|triple| triple[which]).collect()
        };
        let (values, weights, fitted) = (column(0), column(1), column(2));
        let largest = values
            .iter()
            .fold(1.0_f64, |most, value| most.max(value.abs()));
        same(&isotonic(&values, &weights), &fitted, 1e-12 * largest);
        cases += 1;
    }
    assert_eq!(cases, 24);
}

#[test]
fn a_zone_wider_than_it_is_high_shows_where_it_ends() {
    // Thirty readings 3 up on a ramp of 0.5 a reading, then back on the ramp: where contact
    // comes back the reading falls, and that no turning hand can do.
    let truth: Vec<f64> = (0..100_u8).map(|step| 0.5 * f64::from(step)).collect();
    let mut dirty = truth.clone();
    for value in &mut dirty[40..70] {
        *value += 3.0;
    }
    let fit = robust_fit(&dirty, &[0.2; 100], 60.0);
    assert!(dirty[69] - fit.fitted[69] > 2.4);
    same(&fit.fitted[70..], &truth[70..], 0.25);
    // A lone reading below everything pulls nothing down.
    let mut bridged = truth.clone();
    bridged[50] = 0.0;
    same(
        &robust_fit(&bridged, &[0.2; 100], 60.0).fitted,
        &truth,
        0.51,
    );
}

prop_compose! {
    fn weighted()(pairs in prop::collection::vec((-1e3_f64..1e3, 0.01_f64..100.0), 0..60))
        -> (Vec<f64>, Vec<f64>) {
        pairs.into_iter().unzip()
    }
}

proptest! {
    #[test]
    fn what_must_hold_of_any_isotonic_regression((values, weights) in weighted()) {
        let fitted = isotonic(&values, &weights);
        prop_assert_eq!(fitted.len(), values.len());
        prop_assert!(fitted.is_sorted());
        // Fitted again it stays.
        for (again, once) in isotonic(&fitted, &weights).iter().zip(&fitted) {
            prop_assert!((again - once).abs() < 1e-9);
        }
        // Each block of one level has the weighted mean of its values.
        let mut from = 0;
        while from < fitted.len() {
            let mut to = from;
            while to < fitted.len() && fitted[to].to_bits() == fitted[from].to_bits() {
                to += 1;
            }
            let weight: f64 = weights[from..to].iter().sum();
            let sum: f64 = values[from..to].iter().zip(&weights[from..to]).map(|(v, w)| v * w).sum();
            prop_assert!((sum / weight - fitted[from]).abs() < 1e-8);
            from = to;
        }
        // Shifted and stretched, it shifts and stretches; weights count by their ratio.
        let moved: Vec<f64> = values.iter().map(|value| 3.0 * value + 7.0).collect();
        let heavier: Vec<f64> = weights.iter().map(|weight| 5.0 * weight).collect();
        for (moved, fitted) in isotonic(&moved, &heavier).iter().zip(&fitted) {
            prop_assert!((moved - (3.0 * fitted + 7.0)).abs() < 1e-7);
        }
        // Turned round and over, it is the same seen in a mirror.
        let mirrored: Vec<f64> = values.iter().rev().map(|value| -value).collect();
        let turned: Vec<f64> = weights.iter().rev().copied().collect();
        for (mirrored, fitted) in isotonic(&mirrored, &turned).iter().rev().zip(&fitted) {
            prop_assert!((mirrored + fitted).abs() < 1e-8);
        }
    }

    #[test]
    fn the_robust_fit_rises_whatever_it_is_given(
        values in prop::collection::vec(prop::num::f64::ANY, 0..60),
        tolerance in 0.0_f64..10.0,
    ) {
        let fit = robust_fit(&values, &vec![tolerance; values.len()], 1e6);
        prop_assert_eq!((fit.fitted.len(), fit.kept.len()), (values.len(), values.len()));
        prop_assert!(fit.fitted.windows(2).all(|pair| pair[0] <= pair[1] + 1e-6 * pair[1].abs()));
    }
}
