//! Aperture and fraction from counts, against statrs, a brute-force meter, and worked values.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Binomial, Discrete as _, DiscreteCDF as _};
use steadyohm::reading::Seconds;
use steadyohm::signal::BlindSpot;
use steadyohm::signal::trial::binomial;
use steadyohm::signal::trial::phases::{are_spread, kuiper};
use steadyohm::signal::trial::{Batch, Estimate, Fit, NoFit, fit};

use super::close;

fn batch(milliseconds: f64, seen: u32, made: u32) -> Batch {
    Batch {
        length: Seconds(milliseconds / 1e3),
        made,
        seen,
    }
}

/// statrs is the reference.
#[test]
fn the_binomial_is_the_binomial() {
    for (made, chance) in [(1, 0.5), (10, 0.3), (40, 0.05), (40, 0.97), (200, 0.41)] {
        let reference = Binomial::new(chance, made).unwrap();
        let made = u32::try_from(made).unwrap();
        for seen in 0..=made {
            let k = u64::from(seen);
            close(
                binomial::exactly(seen, made, chance),
                reference.pmf(k),
                1e-11,
            );
            close(
                binomial::at_most(seen, made, chance),
                reference.cdf(k),
                1e-10,
            );
            let above = if k == 0 { 1.0 } else { reference.sf(k - 1) };
            close(binomial::at_least(seen, made, chance), above, 1e-10);
            // Without the coefficient, differences of the logarithm are the same.
            let other = Binomial::new(0.6, u64::from(made)).unwrap();
            let own = binomial::log_likelihood(seen, made, chance)
                - binomial::log_likelihood(seen, made, 0.6);
            close(own, reference.ln_pmf(k) - other.ln_pmf(k), 1e-8);
        }
    }
    assert!(binomial::log_likelihood(0, 40, 0.0) == 0.0);
    assert!(binomial::log_likelihood(40, 40, 1.0) == 0.0);
    assert!(binomial::log_likelihood(1, 40, 0.0) == f64::NEG_INFINITY);
}

/// One length alone settles the chance of that length: its interval is the likelihood interval
/// of a binomial share, here 12 of 40: the roots of 2 (l(0.3) - l(p)) = 3.8415, found by
/// bisection on statrs' logarithms.
#[test]
fn one_length_gives_the_interval_of_its_share() {
    let interval = Seconds(0.3);
    let fit = fit(&[batch(30.0, 12, 40)], interval).unwrap();
    let level = |p: f64| {
        let at = |p| Binomial::new(p, 40).unwrap().ln_pmf(12);
        2.0 * (at(0.3) - at(p)) - 3.841_458_820_694_124
    };
    let root = |mut inside: f64, mut outside: f64| {
        for _ in 0..60 {
            let middle = f64::midpoint(inside, outside);
            if level(middle) < 0.0 {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        inside
    };
    let reach = |p: f64| p * interval.0 - 0.03;
    close(fit.reach.best, reach(0.3), 1e-6);
    close(fit.reach.low, reach(root(0.3, 1e-6)), 1e-6);
    close(fit.reach.high, reach(root(0.3, 1.0 - 1e-6)), 1e-6);
    // The shortest visible gap is anything up to the length that showed.
    close(fit.shortest.low, 0.0, 1e-9);
    close(fit.shortest.high, 0.03, 1e-9);
}

/// A meter as it is: each gap at a random moment, each reading's overlap with it computed.
fn counted(
    random: &mut ChaCha8Rng,
    (interval, aperture, share): (f64, f64, f64),
    lengths: &[f64],
    made: u32,
) -> Vec<Batch> {
    lengths
        .iter()
        .map(|length| {
            let mut seen = 0;
            for _ in 0..made {
                let start = 5.0 * interval + random.random_range(0.0..interval);
                let hit = (4..10).map(f64::from).any(|k| {
                    let end = k * interval;
                    let overlap = (start + length).min(end) - start.max(end - aperture);
                    overlap >= share * aperture && overlap > 0.0
                });
                seen += u32::from(hit);
            }
            Batch {
                length: Seconds(*length),
                made,
                seen,
            }
        })
        .collect()
}

/// Rows of aperture, fraction and length at which the chance was worked out and simulated.
#[test]
fn counts_come_at_the_worked_chances() {
    // Interval, aperture, length in milliseconds, fraction, chance.
    for (interval, aperture, length, share, chance) in [
        (333.333, 100.0, 50.0, 0.5, 0.1500),
        (100.0, 20.0, 10.0, 0.015_846_5, 0.2937),
        (25.0, 20.0, 1.0, 0.5, 0.0),
        (100.0, 20.0, 30.0, 1.0, 0.1000),
        (1.0, 0.4, 1.0, 1.0, 0.6000),
    ] {
        let spot = BlindSpot::tried(Seconds(interval), Seconds(aperture), share);
        close(spot.chance(Seconds(length)), chance, 1e-4);
        let mut random = ChaCha8Rng::seed_from_u64(19);
        let meter = (interval, aperture, share);
        let batch = counted(&mut random, meter, &[length], 20_000)[0];
        let reference = Binomial::new(chance, 20_000).unwrap();
        let seen = u64::from(batch.seen);
        let tail = reference.cdf(seen).min(if seen == 0 {
            1.0
        } else {
            reference.sf(seen - 1)
        });
        assert!(tail > 1e-4, "{batch:?} against {chance}");
    }
}

fn within(estimate: &Estimate, truth: f64) -> bool {
    estimate.low - 1e-9 <= truth && truth <= estimate.high + 1e-9
}

/// How many of so many trials of this meter have each truth inside its interval of 95 %.
fn covered(meter: (f64, f64, f64), lengths: &[f64], trials: u32) -> [u32; 5] {
    let (interval, aperture, share) = meter;
    let (shortest, reach) = (share * aperture, aperture * (1.0 - 2.0 * share));
    let mut random = ChaCha8Rng::seed_from_u64(95);
    let mut inside = [0; 5];
    for _ in 0..trials {
        let batches = counted(&mut random, meter, lengths, 40);
        let Ok(fit) = fit(&batches, Seconds(interval)) else {
            continue;
        };
        let (cautious_aperture, cautious_share) = fit.cautious;
        let cautious = BlindSpot::tried(Seconds(interval), cautious_aperture, cautious_share);
        let honest = BlindSpot::tried(Seconds(interval), Seconds(aperture), share);
        let never_above = (1..400).all(|step| {
            let length = Seconds(f64::from(step) * interval / 300.0);
            cautious.chance(length) <= honest.chance(length) + 1e-9
        });
        let truths = [
            within(&fit.aperture, aperture),
            within(&fit.fraction, share),
            within(&fit.shortest, shortest),
            within(&fit.reach, reach),
            never_above,
        ];
        for (count, holds) in inside.iter_mut().zip(truths) {
            *count += u32::from(holds);
        }
    }
    inside
}

/// If an interval of 95 % held less often than that, so few of 400 would be rarer than one in a
/// thousand: the exact binomial of statrs.
#[test]
fn the_intervals_hold_as_often_as_they_say() {
    const TRIALS: u32 = 400;
    let reference = Binomial::new(0.95, u64::from(TRIALS)).unwrap();
    for (meter, lengths) in [
        ((0.3333, 0.1, 0.0158), [0.005, 0.01, 0.02, 0.05, 0.1, 0.2]),
        ((0.3333, 0.1, 0.5), [0.005, 0.02, 0.06, 0.1, 0.15, 0.2]),
        ((0.3333, 0.3, 0.1), [0.005, 0.01, 0.02, 0.05, 0.1, 0.2]),
        ((0.1, 0.02, 1.0), [0.005, 0.01, 0.03, 0.05, 0.08, 0.1]),
        ((0.1, 0.08, 0.25), [0.005, 0.01, 0.015, 0.025, 0.03, 0.05]),
        (
            (0.02, 0.016, 0.3),
            [0.001, 0.003, 0.006, 0.008, 0.01, 0.015],
        ),
    ] {
        let inside = covered(meter, &lengths, TRIALS);
        for (name, count) in ["a", "f", "u", "w", "cautious"].into_iter().zip(inside) {
            let rarity = reference.cdf(u64::from(count));
            assert!(rarity > 0.001, "{meter:?} {name}: {count} of {TRIALS}");
        }
    }
}

/// An interval that always holds because it is endless would be worth nothing.
#[test]
fn more_gaps_tell_more() {
    let share = |length: f64, made: u32| {
        let chance = ((length + 0.06) / 0.3).min(1.0);
        let seen = (f64::from(made) * chance).round();
        batch(
            1e3 * length,
            (0..=made).rfind(|k| f64::from(*k) <= seen).unwrap(),
            made,
        )
    };
    let of = |made: u32| -> Fit {
        let silent = batch(10.0, 0, made);
        let lengths = [0.02, 0.05, 0.1, 0.15].map(|length| share(length, made));
        fit(&[&[silent], lengths.as_slice()].concat(), Seconds(0.3)).unwrap()
    };
    let (few, many) = (of(20), of(400));
    let width = |estimate: &Estimate| estimate.high - estimate.low;
    assert!(width(&many.reach) < width(&few.reach) / 3.0);
    assert!(width(&many.reach) < 0.02, "{many:?}");
    // None of 10 ms showed and some of 20 ms did: the shortest visible gap is in between.
    close(many.shortest.low, 0.01, 1e-9);
    close(many.shortest.high, 0.02, 1e-9);
    assert!(!many.shortest_showed && !many.none_in_between);
    assert!(within(&many.aperture, 0.06 + 2.0 * 0.015));
}

#[test]
fn what_counts_cannot_tell_is_said() {
    let interval = Seconds(0.3);
    assert_eq!(fit(&[], interval), Err(NoFit::NothingMade));
    assert_eq!(
        fit(&[batch(5.0, 0, 40), batch(50.0, 0, 40)], interval),
        Err(NoFit::NoneSeen {
            longest: Seconds(0.05)
        })
    );
    // All of them showed: bounds only, and no chance is promised that 40 of 40 do not carry.
    let all = fit(&[batch(50.0, 40, 40)], interval).unwrap();
    assert!(all.shortest_showed && all.none_in_between);
    let (aperture, share) = all.cautious;
    let spot = BlindSpot::tried(interval, aperture, share);
    // 2 * 40 ln(1/p) = 3.8415.
    close(
        spot.chance(Seconds(0.05)),
        (-3.841_458_8_f64 / 80.0).exp(),
        1e-6,
    );
    // So wide a reach leaves the averaging, which takes no longer than the interval, little
    // room for a cutoff: u = (T - w) / 2 at most.
    let cutoff = (interval.0 - all.reach.low) / 2.0;
    close(all.shortest.high, cutoff, 1e-9);
    assert!(spot.chance(Seconds(cutoff - 1e-6)) == 0.0);
    // Short gaps that show while long ones do not: no averaging meter does that.
    let odd = fit(&[batch(10.0, 30, 40), batch(100.0, 2, 40)], interval);
    assert!(matches!(odd, Err(NoFit::Contradicts { .. })), "{odd:?}");
}

/// A comb of phases: the statistic is the spacing, whatever the offset; and of one point it is
/// one. By definition.
#[test]
fn phases_in_step_are_told() {
    let comb = |teeth: u32, offset: f64| -> Vec<f64> {
        (0..40)
            .map(|k| (f64::from(k % teeth) / f64::from(teeth) + offset) % 1.0)
            .collect()
    };
    for teeth in [1, 2, 4, 5, 8, 10, 20, 40] {
        for offset in [0.0, 0.013, 0.5, 0.99] {
            let value = kuiper(&comb(teeth, offset)).unwrap();
            close(value, 1.0 / f64::from(teeth), 1e-9);
        }
    }
    assert!(!are_spread(&comb(1, 0.3)) && !are_spread(&comb(2, 0.3)));
    assert!(!are_spread(&comb(3, 0.3)));
    assert!(are_spread(&comb(10, 0.3)) && are_spread(&comb(40, 0.3)));
    assert!(!are_spread(&[]));
    // Phases at random are taken for spread 99 times in 100.
    let mut random = ChaCha8Rng::seed_from_u64(1960);
    let kept = (0..2_000)
        .filter(|_| {
            let phases: Vec<f64> = (0..40).map(|_| random.random_range(0.0..1.0)).collect();
            are_spread(&phases)
        })
        .count();
    let reference = Binomial::new(0.99, 2_000).unwrap();
    let kept = u64::try_from(kept).unwrap();
    assert!(
        reference.cdf(kept).min(reference.sf(kept)) > 0.001,
        "{kept}"
    );
}
