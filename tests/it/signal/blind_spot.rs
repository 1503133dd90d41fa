//! The chance of seeing a break, against a meter that is simply let run.

use proptest::prelude::*;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use steadyohm::reading::{Ohms, Seconds};
use steadyohm::signal::{Basis, BlindSpot, flexes_needed, hit_fraction};

use super::close;

/// A conductor at rest, open, and the threshold for the share `f` of an aperture.
const REST: f64 = 0.5;
const CLIP: f64 = 600.0;

fn threshold(share: f64) -> f64 {
    REST + share * (CLIP - REST)
}

/// The mean resistance from `from` to `to` of a conductor open from 0 to `gap`.
fn averaged(from: f64, to: f64, gap: f64) -> f64 {
    let open = (to.min(gap) - from.max(0.0)).max(0.0);
    (open * CLIP + (to - from - open) * REST) / (to - from)
}

/// The share of gaps, at random phases of the meter, that lift a reading to the threshold.
fn tried_out(spot: &BlindSpot, gap: f64, share: f64, trials: u32) -> f64 {
    let mut random = ChaCha8Rng::seed_from_u64(19);
    let (interval, aperture) = (spot.interval.0, spot.aperture.0);
    let mut seen = 0_u32;
    for _trial in 0..trials {
        let mut end = random.random_range(0.0..interval);
        let mut hit = false;
        while end - aperture < gap {
            // The last bits of a wholly open aperture must not decide.
            hit |= averaged(end - aperture, end, gap) >= threshold(share) * (1.0 - 1e-9);
            end += interval;
        }
        seen += u32::from(hit);
    }
    f64::from(seen) / f64::from(trials)
}

#[test]
fn the_chance_is_what_a_meter_let_run_shows() {
    let low = 9.5 / 599.5;
    // Interval, aperture, gap, fraction: slow, ordinary and fast meters, each below, at and
    // beyond what shows for sure; the first five are worked below.
    let settings = [
        (1.0 / 3.0, 0.1, 0.05, 0.5),
        (0.1, 0.02, 0.01, low),
        (0.025, 0.02, 0.001, 0.5),
        (0.1, 0.02, 0.03, 1.0),
        (0.001, 0.0004, 0.001, 1.0),
        (1.0 / 3.0, 1.0 / 3.0, 0.2, 0.5),
        (1.0 / 3.0, 1.0 / 3.0, 0.4, 1.0),
        (0.1, 0.1, 0.05, 0.3),
        (0.1, 0.02, 0.0805, low),
        (0.1, 0.02, 0.15, 0.7),
        (0.5, 0.05, 0.3, 0.25),
    ];
    let trials = 100_000;
    for (interval, aperture, gap, share) in settings {
        let spot = BlindSpot::tried(Seconds(interval), Seconds(aperture), share);
        let p = spot.chance(Seconds(gap));
        let found = tried_out(&spot, gap, share, trials);
        let sigma = (p * (1.0 - p) / f64::from(trials)).sqrt();
        close(found, p, 4.5 * sigma);
    }
}

#[test]
fn assumed_figures_are_those_of_their_fractions() {
    // d/T is the meter that takes each reading in an instant, whatever the length; the cautious
    // figure the one whose gaps must fill all of an aperture as long as the interval.
    let trials = 100_000;
    let spot = BlindSpot::assumed(Seconds(0.1));
    let instant = BlindSpot::tried(Seconds(0.1), Seconds(1e-7), 0.5);
    for (meter, share, gap, p) in [
        (&instant, 0.5, 0.01, spot.chance(Seconds(0.01))),
        (&instant, 0.5, 0.03, spot.chance(Seconds(0.03))),
        (&instant, 0.5, 0.07, spot.chance(Seconds(0.07))),
        (&spot, 1.0, 0.13, spot.cautious_chance(Seconds(0.13))),
    ] {
        let sigma = (p * (1.0 - p) / f64::from(trials)).sqrt();
        assert!(sigma > 0.0);
        close(tried_out(meter, gap, share, trials), p, 4.5 * sigma);
    }
    // Half of such an aperture shows nothing shorter than half the interval: d/T is not its.
    close(tried_out(&spot, 0.03, 0.5, trials), 0.0, 0.0);
}

/// Worked by hand from the formula, and simulated (400 000 trials each) where p is neither
/// none nor one: chance and bends needed for 95 %, for f = 0.01585, 0.5 and 1.
#[test]
fn the_worked_table() {
    type Figures = [(f64, Option<u32>); 3];
    const NONE: (f64, Option<u32>) = (0.0, None);
    const SURE: (f64, Option<u32>) = (1.0, Some(1));
    let table: [(f64, f64, f64, Figures); 13] = [
        (1.0 / 3.0, 0.1, 0.001, [NONE, NONE, NONE]),
        (1.0 / 3.0, 0.1, 0.01, [(0.3205, Some(8)), NONE, NONE]),
        (
            1.0 / 3.0,
            0.1,
            0.05,
            [(0.4405, Some(6)), (0.15, Some(19)), NONE],
        ),
        (
            1.0 / 3.0,
            0.1,
            0.1,
            [(0.5905, Some(4)), (0.3, Some(9)), NONE],
        ),
        (1.0 / 3.0, 0.1, 0.3, [SURE, (0.9, Some(2)), (0.6, Some(4))]),
        (0.1, 0.02, 0.001, [(0.2037, Some(14)), NONE, NONE]),
        (0.1, 0.02, 0.01, [(0.2937, Some(9)), (0.1, Some(29)), NONE]),
        (
            0.1,
            0.02,
            0.05,
            [(0.6937, Some(3)), (0.5, Some(5)), (0.3, Some(9))],
        ),
        (0.025, 0.02, 0.001, [(0.8146, Some(2)), NONE, NONE]),
        (0.025, 0.02, 0.01, [SURE, (0.4, Some(6)), NONE]),
        (0.025, 0.02, 0.05, [SURE, SURE, SURE]),
        (0.001, 0.0004, 0.0001, [(0.4873, Some(5)), NONE, NONE]),
        (0.001, 0.0004, 0.001, [SURE, SURE, (0.6, Some(4))]),
    ];
    for (interval, aperture, gap, figures) in table {
        for (share, (p, bends)) in [9.5 / 599.5, 0.5, 1.0].into_iter().zip(figures) {
            let spot = BlindSpot::tried(Seconds(interval), Seconds(aperture), share);
            let chance = spot.chance(Seconds(gap));
            close(chance, p, 1e-4);
            assert_eq!(flexes_needed(chance, 0.95), bends, "{spot:?} {gap}");
        }
    }
    // Ten a second, 30 ms, a whole aperture of 20 ms: p = 0.1, 29 bends.
    let spot = BlindSpot::tried(Seconds(0.1), Seconds(0.02), 1.0);
    close(spot.chance(Seconds(0.03)), 0.1, 1e-4);
    assert_eq!(flexes_needed(spot.chance(Seconds(0.03)), 0.95), Some(29));
}

#[test]
fn the_fraction_is_a_share_of_the_way_to_the_clip() {
    let share = |threshold, rest, clip| hit_fraction(Ohms(threshold), Ohms(rest), Ohms(clip));
    // 0.5 ohm at rest, 10 ohm threshold, 600 ohm clip.
    close(share(10.0, 0.5, 600.0).unwrap(), 0.015_846_5, 1e-6);
    assert_eq!(share(600.0, 0.0, 600.0), Some(1.0));
    // Only over-range itself reaches a threshold beyond the range.
    assert_eq!(share(900.0, 0.5, 600.0), Some(1.0));
    assert_eq!(share(0.4, 0.5, 600.0), None);
    assert_eq!(share(10.0, 0.5, 0.3), None);
    assert_eq!(share(10.0, 0.5, f64::INFINITY), None);
    assert_eq!(share(f64::NAN, 0.5, 600.0), None);
}

#[test]
fn a_held_bend_holds_two_whole_apertures() {
    // The pace the bench is told: 3/s 0.77 s, 10/s 0.22 s, 40/s 0.07 s.
    for (rate, aperture, pace) in [(3.0, 0.1, 0.77), (10.0, 0.02, 0.22), (40.0, 0.02, 0.07)] {
        let spot = BlindSpot::documented(Seconds(1.0 / rate), Seconds(aperture), None);
        close(spot.held().0, pace, 0.005);
        let mut random = ChaCha8Rng::seed_from_u64(7);
        for _trial in 0..10_000 {
            let phase = random.random_range(0.0..spot.interval.0);
            let ends = (0..8).map(|k| phase + f64::from(k) * spot.interval.0);
            let whole = ends
                .filter(|end| end - aperture >= -1e-12 && *end <= spot.held().0)
                .count();
            assert!(whole >= 2, "{whole} whole apertures at phase {phase}");
        }
    }
}

#[test]
fn what_is_not_known_is_assumed() {
    let bare = BlindSpot::assumed(Seconds(0.1));
    assert_eq!((bare.aperture, bare.basis), (Seconds(0.1), Basis::Assumed));
    close(bare.chance(Seconds(0.03)), 0.3, 1e-12);
    assert!(bare.cautious_chance(Seconds(0.09)) == 0.0);
    close(bare.cautious_chance(Seconds(0.15)), 0.5, 1e-12);
    close(bare.sure().0, 0.1, 0.0);
    close(bare.cautious_sure().0, 0.2, 1e-12);
    assert!(bare.shortest_visible().0 == 0.0);

    let half = BlindSpot::documented(Seconds(0.1), Seconds(0.02), None);
    assert_eq!((half.aperture, half.basis), (Seconds(0.02), Basis::Assumed));
    close(half.chance(Seconds(0.03)), 0.3, 1e-12);
    close(half.cautious_chance(Seconds(0.03)), 0.1, 1e-12);

    let full = BlindSpot::documented(Seconds(0.1), Seconds(0.02), Some(0.25));
    assert_eq!(full.basis, Basis::Documented);
    close(full.chance(Seconds(0.03)), 0.4, 1e-12);
    close(full.shortest_visible().0, 0.005, 1e-12);
    assert!(full.chance(Seconds(0.0049)) == 0.0);

    // Without an interval nothing is claimed.
    assert!(BlindSpot::assumed(Seconds(0.0)).chance(Seconds(1.0)) == 0.0);
}

#[test]
fn plain_words_promise_no_more_than_the_figures() {
    let slow = BlindSpot::assumed(Seconds(1.0 / 3.0));
    insta::assert_snapshot!(slow.sentence(), @"Readings every 0.33 s: a break of 0.67 s or longer is surely seen; assuming each reading is taken in an instant: 0.34 s or longer is surely seen; 100 ms with 30 %.");
    insta::assert_snapshot!(slow.lines().join("\n"), @r"
    Readings every 0.33 s, each assumed to average over all of that.
    If a break must fill a whole averaging time (cautious): 0.67 s or longer is surely seen; shorter than 0.34 s never.
    Assuming each reading is taken in an instant: 0.34 s or longer is surely seen; 300 ms with 90 %; 100 ms with 30 %; 50 ms with 15 %; 10 ms with 3 %.
    A fault that stays open while a bend is held for 1.00 s cannot be missed.
    ");
    let known = BlindSpot::documented(Seconds(0.1), Seconds(0.02), Some(0.25));
    insta::assert_snapshot!(known.sentence(), @"Readings every 0.10 s: a break of 90 ms or longer is surely seen; shorter than 5.00 ms never (as documented).");
    insta::assert_snapshot!(known.lines().join("\n"), @r"
    Readings every 0.10 s, each averaging over 20 ms (documented).
    A break of 90 ms or longer is surely seen; 50 ms with 60 %; 10 ms with 20 %; shorter than 5.00 ms never.
    A fault that stays open while a bend is held for 0.22 s cannot be missed.
    ");
    let half = BlindSpot::documented(Seconds(0.1), Seconds(0.02), None);
    insta::assert_snapshot!(half.lines().join("\n"), @r"
    Readings every 0.10 s, each averaging over 20 ms; how much of that a break must fill is not known.
    If a break must fill a whole averaging time (cautious): 0.12 s or longer is surely seen; 100 ms with 80 %; 50 ms with 30 %; shorter than 20 ms never.
    Assuming each reading is taken in an instant: 0.10 s or longer is surely seen; 50 ms with 50 %; 10 ms with 10 %.
    A fault that stays open while a bend is held for 0.22 s cannot be missed.
    ");
    insta::assert_snapshot!(slow.short(), @"A break of 0.67 s or longer is surely seen; one of 100 ms with 30 % (assumed), 0 % at worst.");
    insta::assert_snapshot!(slow.shortest(), @"Breaks under 0.67 s may go unseen.");
    insta::assert_snapshot!(known.short(), @"A break of 90 ms or longer is surely seen; one of 100 ms with 100 %.");
    // A chance is printed as none or certain only when it is; the sure length is rounded up.
    let faint = BlindSpot::assumed(Seconds(20.0));
    assert!(
        faint.sentence().contains("100 ms with under 1 %"),
        "{}",
        faint.sentence()
    );
    assert!(
        faint
            .short()
            .contains("100 ms with under 1 % (assumed), 0 %"),
        "{}",
        faint.short()
    );
    let nearly = BlindSpot::assumed(Seconds(0.1002));
    assert!(
        nearly.sentence().contains("100 ms with over 99 %"),
        "{}",
        nearly.sentence()
    );
    assert!(
        nearly.sentence().contains("a break of 0.21 s or longer"),
        "{}",
        nearly.sentence()
    );
}

proptest! {
    /// Longer breaks show no less, the cautious figure is never above the other, and what is
    /// called sure is so and nothing shorter is.
    #[test]
    fn the_figures_agree_with_each_other(
        interval in 0.001..1.0_f64,
        part in 0.01..1.0_f64,
        share in 0.0..1.0_f64,
        gap in 0.0..3.0_f64,
        known in any::<bool>(),
    ) {
        let aperture = Seconds(interval * part);
        let interval = Seconds(interval);
        let spot = BlindSpot::documented(interval, aperture, known.then_some(share));
        let gap = Seconds(gap * interval.0);
        let longer = Seconds(gap.0 * 1.1);
        prop_assert!(spot.chance(gap) <= spot.chance(longer));
        prop_assert!(spot.cautious_chance(gap) <= spot.cautious_chance(longer));
        prop_assert!(spot.cautious_chance(gap) <= spot.chance(gap) + 1e-12);
        prop_assert!(spot.chance(spot.sure()) >= 1.0 - 1e-9);
        prop_assert!(spot.chance(Seconds(spot.sure().0 * 0.999)) < 1.0);
        prop_assert!(spot.cautious_chance(spot.cautious_sure()) >= 1.0 - 1e-9);
        prop_assert!(spot.cautious_chance(Seconds(spot.cautious_sure().0 * 0.999)) < 1.0);
        prop_assert!(spot.chance(Seconds(spot.shortest_visible().0 * 0.999 - 1e-12)) == 0.0);
    }
}
