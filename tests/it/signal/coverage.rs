//! How much bending is enough, against the exact binomial and the rule of three.

use statrs::distribution::{Beta, Binomial, ContinuousCDF as _, Discrete as _};
use steadyohm::reading::Seconds;
use steadyohm::signal::{Goal, flexes_needed, rate_bound, shown_chance};

use super::close;

#[test]
fn no_fewer_bends_are_enough_and_no_more_are_asked() {
    for p in [
        0.001, 0.01, 0.05, 0.15, 0.2937, 0.4405, 0.5, 0.5905, 0.9, 0.999,
    ] {
        for confidence in [0.5, 0.9, 0.95, 0.99, 0.999] {
            let needed = flexes_needed(p, confidence).unwrap();
            // Reference: the exact binomial of statrs, no showing in n bends.
            let missed = |n: u32| Binomial::new(p, u64::from(n)).unwrap().pmf(0);
            assert!(
                missed(needed) <= (1.0 - confidence) * (1.0 + 1e-9),
                "{p} {confidence}"
            );
            assert!(
                missed(needed - 1) > (1.0 - confidence) * (1.0 - 1e-9),
                "{p} {confidence}"
            );
            close(shown_chance(p, needed), 1.0 - missed(needed), 1e-12);
        }
    }
}

#[test]
fn the_usual_numbers_of_bends() {
    // ceil(ln(1 - A) / ln(1 - p)): the zero-failure sample size found in every handbook.
    for (p, at_95, at_99) in [
        (0.5, 5, 7),
        (0.3, 9, 13),
        (0.2, 14, 21),
        (0.1, 29, 44),
        (0.05, 59, 90),
        (0.01, 299, 459),
    ] {
        assert_eq!(flexes_needed(p, 0.95), Some(at_95), "{p}");
        assert_eq!(flexes_needed(p, 0.99), Some(at_99), "{p}");
    }
    // Lot tolerance 10 %, none allowed: 22 and 29 (binomial sampling plans).
    assert_eq!(flexes_needed(0.1, 0.90), Some(22));
    // Whole quotients stay whole: 1 - 0.75 = 0.5², 1 - 0.271 = 0.9³.
    assert_eq!(flexes_needed(0.5, 0.75), Some(2));
    assert_eq!(flexes_needed(0.1, 0.271), Some(3));
}

#[test]
fn where_nothing_shows_no_number_helps() {
    assert_eq!(flexes_needed(0.0, 0.95), None);
    assert_eq!(flexes_needed(-0.1, 0.95), None);
    assert_eq!(flexes_needed(f64::NAN, 0.95), None);
    assert_eq!(flexes_needed(0.5, 1.0), None);
    assert_eq!(flexes_needed(1e-15, 0.95), None);
    assert_eq!(flexes_needed(1.0, 0.95), Some(1));
    assert_eq!(flexes_needed(0.5, 0.0), Some(1));
    assert!(shown_chance(0.0, 1000) == 0.0);
    assert!(shown_chance(1.0, 0) == 0.0);
    close(shown_chance(1.0, 1), 1.0, 0.0);
    // Too small for 1 - (1 - p)^n in doubles: p n, to first order.
    close(shown_chance(1e-18, 1000), 1e-15, 1e-21);
    close(rate_bound(0.0, 60, 0.95), 1.0, 0.0);
    close(rate_bound(0.5, 0, 0.95), 1.0, 0.0);
    close(rate_bound(0.1, 5, 0.95), 1.0, 0.0);
}

#[test]
fn the_bound_is_the_exact_one_sided_one() {
    // 0 in 30, one-sided 95 %: 0.095034, by the exact binomial.
    close(rate_bound(1.0, 30, 0.95), 0.095_034, 1e-6);
    for n in [1_u32, 10, 20, 30, 60, 100, 1500] {
        for confidence in [0.9, 0.95, 0.99] {
            // Reference: Clopper and Pearson's upper bound for none in n is a quantile of
            // Beta(1, n), here by the solver of statrs.
            let beta = Beta::new(1.0, f64::from(n)).unwrap();
            close(
                rate_bound(1.0, n, confidence),
                beta.inverse_cdf(confidence),
                1e-6,
            );
        }
    }
    // 60 clean bends, each showing with 0.44049: 0.04870 / 0.44049.
    close(rate_bound(0.440_49, 60, 0.95), 0.1106, 1e-4);
}

#[test]
fn the_rule_of_three() {
    // Hanley and Lippman-Hand 1983: none in n bounds the rate by 3/n; 1/100 for 300, 1/500
    // for 1500. It errs to the safe side, by less than 5 % from n = 30 on.
    for n in [30_u32, 60, 100, 300, 1500] {
        let rule = 3.0 / f64::from(n);
        let exact = rate_bound(1.0, n, 0.95);
        assert!(
            exact < rule && exact > 0.95 * rule,
            "{n}: {exact} beside {rule}"
        );
    }
    // The numerators of the same rule for other confidences: 3.51, 4.61 and 5.3.
    for (confidence, numerator) in [(0.97, 3.51), (0.99, 4.61), (0.995, 5.3)] {
        close(1500.0 * rate_bound(1.0, 1500, confidence), numerator, 0.02);
    }
}

#[test]
fn the_goal_asks_for_ten_bends_at_least() {
    let goal = Goal::default();
    assert_eq!(goal.momentary, Seconds(0.1));
    assert_eq!(goal.flexes(1.0), Some(10));
    assert_eq!(goal.flexes(0.3), Some(10));
    assert_eq!(goal.flexes(0.1), Some(29));
    assert_eq!(goal.flexes(0.0), None);
}
