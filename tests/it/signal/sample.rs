//! How many of a stock to test, and what a finished sample proves: against the distributions
//! of statrs, worked sampling plans, and by enumerating every sample there can be.

use proptest::prelude::*;
use statrs::distribution::{
    Beta, Binomial, ContinuousCDF as _, Discrete as _, DiscreteCDF as _, Hypergeometric,
};
use steadyohm::signal::{
    CountInterval, DRAWN_BLINDLY, Lot, Noun, Plan, Tested, flexes_needed, rate_bound,
    tests_needed, tests_needed_of_lot,
};

use super::close;

fn tested(tested: u32, failed: u32) -> Tested {
    Tested::new(tested, failed).unwrap()
}

#[test]
fn no_fewer_are_enough_and_no_more_are_asked() {
    for share in [0.005, 0.02, 0.1, 0.3, 0.9, 1.0] {
        for confidence in [0.5, 0.9, 0.95, 0.99] {
            for allowed in [0, 1, 2, 5] {
                let needed = tests_needed(share, confidence, allowed).unwrap();
                // Reference: the exact binomial of statrs.
                let missed = |n: u32| {
                    let count = Binomial::new(share, u64::from(n)).unwrap();
                    count.cdf(u64::from(allowed))
                };
                let of = format!("{share} {confidence} {allowed}: {needed}");
                assert!(missed(needed) <= (1.0 - confidence) * (1.0 + 1e-8), "{of}");
                assert!(needed > allowed, "{of}");
                assert!(
                    needed == allowed + 1
                        || missed(needed - 1) > (1.0 - confidence) * (1.0 - 1e-8),
                    "{of}"
                );
            }
            // With none allowed it is the same sum as for bends.
            assert_eq!(
                tests_needed(share, confidence, 0),
                flexes_needed(share, confidence)
            );
        }
    }
}

#[test]
fn the_usual_plans() {
    // Lot tolerance 10 %: ceil(ln(beta) / ln(0.9)) is 22 and 29; one allowed, 38 and 46
    // (computed from the exact binomial, as binomial sampling plans are).
    assert_eq!(tests_needed(0.1, 0.90, 0), Some(22));
    assert_eq!(tests_needed(0.1, 0.95, 0), Some(29));
    assert_eq!(tests_needed(0.1, 0.90, 1), Some(38));
    assert_eq!(tests_needed(0.1, 0.95, 1), Some(46));
    // Birolini, Reliability Engineering: lot tolerance 2 %, risk 10 %, one allowed: 195, by the
    // Poisson approximation, which errs to the safe side by one or so.
    let exact = tests_needed(0.02, 0.90, 1).unwrap();
    assert!((194..=195).contains(&exact), "{exact}");
    // Zero-failure sizes found in every handbook: ceil(ln 0.05 / ln(1 - p)).
    for (share, needed) in [(0.5, 5), (0.3, 9), (0.2, 14), (0.05, 59), (0.01, 299)] {
        assert_eq!(tests_needed(share, 0.95, 0), Some(needed), "{share}");
    }
}

/// A tenth of the lot bad, none allowed: size, bad, tests and chance of a miss at 90 % and at
/// 95 %, computed from the hypergeometric distribution.
#[test]
fn lots_of_known_size() {
    for (size, bad, at_90, miss_90, at_95, miss_95) in [
        (10, 1, 9, 0.1000, 10, 0.0),
        (20, 2, 14, 0.0789, 16, 0.0316),
        (30, 3, 16, 0.0897, 19, 0.0406),
        (50, 5, 18, 0.0950, 22, 0.0464),
        (100, 10, 20, 0.0951, 25, 0.0479),
        (200, 20, 21, 0.0965, 27, 0.0469),
        (500, 50, 22, 0.0934, 28, 0.0480),
    ] {
        let lot = Lot::with_share(size, 0.1).unwrap();
        assert_eq!(lot, Lot { size, bad });
        for (confidence, needed, miss) in [(0.90, at_90, miss_90), (0.95, at_95, miss_95)] {
            let told = tests_needed_of_lot(lot, confidence, 0);
            assert_eq!(told, Some(needed), "{lot:?} {confidence}");
            let plan = Plan {
                tested: needed,
                allowed: 0,
            };
            close(plan.accepts_lot(lot), miss, 5e-5);
        }
    }
    let plan = Plan {
        tested: 22,
        allowed: 0,
    };
    close(plan.accepts_lot(Lot { size: 50, bad: 5 }), 0.046_39, 1e-5);
}

#[test]
fn where_no_number_is_enough() {
    assert_eq!(tests_needed(0.0, 0.95, 0), None);
    assert_eq!(tests_needed(f64::NAN, 0.95, 0), None);
    assert_eq!(tests_needed(0.1, f64::NAN, 0), None);
    assert_eq!(tests_needed(0.1, 1.0, 0), None);
    assert_eq!(tests_needed(0.1, 0.95, u32::MAX), None);
    // All bad: the first one allowed too many shows it.
    assert_eq!(tests_needed(1.0, 0.95, 3), Some(4));
    // So many bad ones are allowed, or cannot be.
    let lot = Lot { size: 50, bad: 5 };
    assert_eq!(tests_needed_of_lot(lot, 0.95, 5), None);
    assert_eq!(tests_needed_of_lot(Lot { size: 4, ..lot }, 0.95, 0), None);
    // Certainty is to be had of a lot: all but four tested, five cannot hide.
    assert_eq!(tests_needed_of_lot(lot, 1.0, 0), Some(46));
    assert_eq!(tests_needed_of_lot(lot, 1.0, 4), Some(50));
    assert_eq!(Lot::with_share(0, 0.1), None);
    assert_eq!(Lot::with_share(50, 0.0), None);
    assert_eq!(Lot::with_share(25, 0.1), Some(Lot { size: 25, bad: 3 }));
    assert_eq!(Lot::with_share(3, 0.01), Some(Lot { size: 3, bad: 1 }));
    assert_eq!(Tested::new(3, 4), None);
}

#[test]
fn the_exact_intervals() {
    // Clopper and Pearson's two-sided 95 % intervals, to six digits, by bisection on the
    // binomial tail.
    for (failed, of, low, high) in [
        (0, 10, 0.0, 0.308_497),
        (0, 30, 0.0, 0.115_703),
        (1, 20, 0.001_265, 0.248_733),
        (3, 50, 0.012_549, 0.165_482),
        (5, 100, 0.016_432, 0.112_835),
        (10, 100, 0.049_005, 0.176_223),
        (2, 10, 0.025_211, 0.556_095),
        (20, 20, 0.831_567, 1.0),
    ] {
        let interval = tested(of, failed).interval(0.95);
        close(interval.low, low, 1e-6);
        close(interval.high, high, 1e-6);
    }
    // One-sided, 0 of 30: 0.095034; it is not the upper end of the two-sided one.
    close(tested(30, 0).upper(0.95), 0.095_034, 1e-6);
    // None failed: 1 - 0.05^(1/n), the exact form of the rule of three.
    for (n, bound) in [
        (10, 0.2589),
        (20, 0.1391),
        (30, 0.095_03),
        (60, 0.048_70),
        (100, 0.029_51),
    ] {
        close(tested(n, 0).upper(0.95), bound, 5e-5);
        close(tested(n, 0).upper(0.95), rate_bound(1.0, n, 0.95), 1e-12);
    }
}

#[test]
fn bounds_are_quantiles_of_the_beta_distribution() {
    for of in [1_u32, 3, 10, 47, 200] {
        for failed in [0, 1, 2, of / 2, of - 1, of] {
            let Some(sample) = Tested::new(of, failed) else {
                continue;
            };
            for confidence in [0.5, 0.9, 0.95, 0.99] {
                // Reference: Clopper and Pearson's bounds are quantiles of Beta(x + 1, n - x)
                // and Beta(x, n - x + 1); each must be where statrs puts that much of it.
                if failed < of {
                    let beta = Beta::new(f64::from(failed + 1), f64::from(of - failed));
                    close(
                        beta.unwrap().cdf(sample.upper(confidence)),
                        confidence,
                        1e-9,
                    );
                } else {
                    close(sample.upper(confidence), 1.0, 0.0);
                }
                if failed > 0 {
                    let beta = Beta::new(f64::from(failed), f64::from(of - failed + 1));
                    let below = beta.unwrap().cdf(sample.lower(confidence));
                    close(below, 1.0 - confidence, 1e-9);
                } else {
                    close(sample.lower(confidence), 0.0, 0.0);
                }
            }
        }
    }
    close(tested(0, 0).upper(0.95), 1.0, 0.0);
    close(tested(0, 0).lower(0.95), 0.0, 0.0);
    close(tested(20, 3).upper(1.0), 1.0, 0.0);
    close(tested(20, 3).upper(f64::NAN), 1.0, 0.0);
}

/// The sum of the chances of all samples whose interval holds the truth, for every truth: never
/// below the confidence (that is what "exact" promises), by the chances of statrs.
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    for of in [1_u32, 2, 5, 13, 30] {
        for confidence in [0.8, 0.95] {
            for step in 0..=50_u32 {
                let truth = f64::from(step) / 50.0;
                let chance = Binomial::new(truth, u64::from(of)).unwrap();
                let (mut both, mut upper) = (0.0, 0.0);
                for failed in 0..=of {
                    let sample = tested(of, failed);
                    let interval = sample.interval(confidence);
                    let p = chance.pmf(u64::from(failed));
                    both += p * f64::from(interval.low <= truth && truth <= interval.high);
                    upper += p * f64::from(truth <= sample.upper(confidence));
                }
                assert!(both >= confidence - 1e-9, "{of} {truth}: {both}");
                assert!(upper >= confidence - 1e-9, "{of} {truth}: {upper}");
            }
        }
    }
}

#[test]
fn lots_hold_as_many_as_they_say() {
    for (size, of) in [(1_u32, 1_u32), (10, 3), (10, 9), (24, 24), (50, 22)] {
        for confidence in [0.8, 0.95] {
            for bad in 0..=size {
                let chance =
                    Hypergeometric::new(u64::from(size), u64::from(bad), u64::from(of))
                        .unwrap();
                let (mut both, mut most, mut least) = (0.0, 0.0, 0.0);
                for failed in of.saturating_sub(size - bad)..=of.min(bad) {
                    let sample = tested(of, failed);
                    let p = chance.pmf(u64::from(failed));
                    let CountInterval { low, high } =
                        sample.interval_in_lot(size, confidence).unwrap();
                    both += p * f64::from(low <= bad && bad <= high);
                    most += p * f64::from(bad <= sample.most_in_lot(size, confidence).unwrap());
                    least +=
                        p * f64::from(bad >= sample.least_in_lot(size, confidence).unwrap());
                }
                for held in [both, most, least] {
                    assert!(held >= confidence - 1e-9, "{size} {of} {bad}: {held}");
                }
            }
        }
    }
}

/// A plan and what is proved when it is carried out are the same statement.
#[test]
fn a_plan_proves_what_it_was_made_for() {
    for (size, bad) in [(10, 1), (20, 2), (50, 5), (200, 20), (80, 3)] {
        for allowed in 0..bad.min(3) {
            let lot = Lot { size, bad };
            let needed = tests_needed_of_lot(lot, 0.95, allowed).unwrap();
            let most = |n| tested(n, allowed).most_in_lot(size, 0.95).unwrap();
            assert!(most(needed) < bad, "{lot:?} {allowed}");
            assert!(
                needed == allowed + 1 || most(needed - 1) >= bad,
                "{lot:?} {allowed}"
            );
        }
    }
    assert_eq!(tested(51, 0).most_in_lot(50, 0.95), None);
    assert_eq!(tested(50, 3).most_in_lot(50, 0.95), Some(3));
    assert_eq!(tested(50, 3).least_in_lot(50, 0.95), Some(3));
    assert_eq!(tested(0, 0).most_in_lot(50, 0.95), Some(50));
    // The largest counts do not make it slow, nor does a lot without end give another answer.
    let large = tested(29, 0).most_in_lot(u32::MAX, 0.95).unwrap();
    close(
        f64::from(large) / f64::from(u32::MAX),
        tested(29, 0).upper(0.95),
        1e-6,
    );
    close(tested(u32::MAX, u32::MAX / 2).upper(0.95), 0.5, 1e-4);
}

#[test]
fn in_plain_words() {
    let lead = Noun::LEAD;
    assert_eq!(
        tested(29, 0).sentence(lead, 0.95),
        "29 leads tested, none failed: with 95 % confidence fewer than 10 % of such leads are bad."
    );
    assert_eq!(
        tested(300, 0).sentence(lead, 0.95),
        "300 leads tested, none failed: with 95 % confidence fewer than 1.0 % of such leads are \
         bad."
    );
    assert_eq!(
        tested(50, 3).interval_sentence(lead, 0.95),
        "The 95 % interval (both ends at once, Clopper and Pearson) for the share of bad leads \
         is 1.2 % to 17 %."
    );
    assert_eq!(
        tested(20, 20).sentence(lead, 0.975),
        "20 leads tested, all failed: with 97.5 % confidence more than 83 % of such leads are bad."
    );
    assert_eq!(
        tested(1, 1).sentence(lead, 0.95),
        "1 lead tested, 1 failed: with 95 % confidence more than 4 % of such leads are bad."
    );
    assert_eq!(
        tested(0, 0).sentence(lead, 0.95),
        "No lead tested: nothing is shown."
    );
    assert_eq!(
        tested(22, 0).sentence_in_lot(lead, 50, 0.95).unwrap(),
        "22 of the 50 leads tested, none failed: with 95 % confidence at most 4 of the 50 are bad."
    );
    assert_eq!(
        tested(10, 2).sentence_in_lot(lead, 10, 0.95).unwrap(),
        "All 10 leads tested, 2 failed."
    );
    assert_eq!(tested(11, 2).sentence_in_lot(lead, 10, 0.95), None);
    assert!(DRAWN_BLINDLY.contains("blindly"));
}

#[test]
fn a_plan_in_plain_words() {
    let lead = Noun::LEAD;
    let plan = Plan {
        tested: 29,
        allowed: 0,
    };
    assert_eq!(
        plan.sentence(lead, 0.1, 0.95),
        "Test 29 leads: if none fails, then with 95 % confidence fewer than 10 % of such leads \
         are bad."
    );
    let lot = Lot { size: 10, bad: 1 };
    let all = Plan {
        tested: 10,
        allowed: 0,
    };
    assert_eq!(
        all.sentence_of_lot(lead, lot, 0.95),
        "Test all 10 leads, no fewer will do: if none fails, then none of the 10 is bad."
    );
    let lot = Lot { size: 50, bad: 2 };
    assert_eq!(
        Plan {
            tested: 39,
            allowed: 0
        }
        .sentence_of_lot(lead, lot, 0.95),
        "Test 39 of the 50 leads: if none fails, then with 95 % confidence at most 1 of the 50 \
         is bad."
    );
}

proptest! {
    /// More confidence, a smaller share and more allowed failures each need more tests.
    #[test]
    fn tests_grow(
        share in 0.001..1.0_f64,
        less in 0.1..1.0_f64,
        confidence in 0.01..0.999_f64,
        more in 0.0..1.0_f64,
        allowed in 0..20_u32,
    ) {
        let needed = tests_needed(share, confidence, allowed).unwrap();
        prop_assert!(tests_needed(share * less, confidence, allowed).unwrap() >= needed);
        let surer = confidence + (1.0 - confidence) * more * 0.99;
        prop_assert!(tests_needed(share, surer, allowed).unwrap() >= needed);
        prop_assert!(tests_needed(share, confidence, allowed + 1).unwrap() > needed);
    }

    /// The same of a lot; and with none allowed a lot never needs more than a supply without
    /// end.
    #[test]
    fn tests_of_a_lot_grow(
        size in 2..2000_u32,
        share in 0.01..1.0_f64,
        confidence in 0.01..0.999_f64,
        allowed in 0..5_u32,
    ) {
        let lot = Lot::with_share(size, share).unwrap();
        let needed = tests_needed_of_lot(lot, confidence, allowed);
        prop_assert_eq!(needed.is_none(), allowed >= lot.bad);
        if let Some(needed) = needed {
            let true_share = f64::from(lot.bad) / f64::from(size);
            prop_assert!(
                allowed > 0 || needed <= tests_needed(true_share, confidence, 0).unwrap()
            );
            if let Some(more) = tests_needed_of_lot(lot, confidence, allowed + 1) {
                prop_assert!(more > needed);
            }
            let surer = tests_needed_of_lot(lot, f64::midpoint(1.0, confidence), allowed).unwrap();
            prop_assert!(surer >= needed);
        }
    }

    /// More tests with as many failures prove more, more failures prove less, more confidence
    /// asks for wider bounds; and the two-sided interval holds the one-sided bounds.
    #[test]
    fn bounds_move_as_they_must(
        of in 1..3000_u32,
        part in 0.0..1.0_f64,
        confidence in 0.01..0.999_f64,
    ) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a part of a count is a count"
        )]
        let failed = (f64::from(of) * part) as u32;
        let sample = tested(of, failed);
        let (low, high) = (sample.lower(confidence), sample.upper(confidence));
        prop_assert!((0.0..=1.0).contains(&low) && (0.0..=1.0).contains(&high));
        prop_assert!(tested(of + 1, failed).upper(confidence) <= high);
        prop_assert!(tested(of + 1, failed + 1).upper(confidence) >= high);
        prop_assert!(tested(of + 1, failed + 1).lower(confidence) >= low);
        prop_assert!(sample.upper(f64::midpoint(1.0, confidence)) >= high);
        let both = sample.interval(confidence);
        prop_assert!(both.low <= low && both.high >= high);
        let share = f64::from(failed) / f64::from(of);
        prop_assert!(both.low <= share && share <= both.high);
        // With none failing a lot gives a bound at least as tight as a supply without end.
        let size = of + 500;
        let most = tested(of, 0).most_in_lot(size, confidence).unwrap();
        let bound = tested(of, 0).upper(confidence) * f64::from(size);
        prop_assert!(f64::from(most) <= bound + 1e-6);
    }
}
