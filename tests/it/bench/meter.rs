//! The meter model against arithmetic.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use steadyohm::bench::{Course, Display, Hunting, Meter, MeterSettings, Ranging};
use steadyohm::reading::{
    Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity, Seconds, Stamp,
};

use super::{count, exact};

/// What a meter shows at successive thirds of a second; the course changes at the given
/// readings, just after the one before.
fn shows(settings: MeterSettings, changes: &[(u64, f64)], readings: u64) -> Vec<Measured> {
    let third = |index: u64| Stamp::from_micros(1_000_000 + index * 333_333);
    let mut course = Course::new(f64::INFINITY);
    for &(index, ohms) in changes {
        course.change(Stamp::from_micros(third(index).micros() - 200_000), ohms);
    }
    let mut meter = Meter::new(settings, 1);
    (0..readings)
        .map(|index| meter.convert(&course, third(index)))
        .collect()
}

/// `digits`e`exponent`, `over` with the range's last digit, or `-` for blank.
fn told(shown: &[Measured]) -> String {
    let one = |measured: &Measured| match measured.magnitude {
        Magnitude::Number(number) => format!("{}e{}", number.digits, number.exponent),
        Magnitude::Over { beyond } => match beyond {
            Some(full_scale) => format!("over{}e{}", full_scale.digits, full_scale.exponent),
            None => "over".to_owned(),
        },
        Magnitude::Blank => "-".to_owned(),
    };
    shown.iter().map(one).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_handheld_steps_one_range_a_conversion() {
    let handheld = exact(MeterSettings::default());
    let check = |settings, changes: &[(u64, f64)], readings, expected: &str| {
        assert_eq!(told(&shows(settings, changes, readings)), expected);
    };
    // Down from the highest of six ranges, and the break that throws it up one range.
    check(
        handheld,
        &[(1, 0.82), (8, f64::INFINITY), (9, 0.82)],
        12,
        "over4000e4 - - - - - 8e-1 8e-1 over4000e-1 - 8e-1 8e-1",
    );
    // Three to six conversions from open to 10 kilohm: common practice, no source.
    check(
        handheld,
        &[(1, 10_000.0)],
        6,
        "over4000e4 - - - 1000e1 1000e1",
    );
    check(
        handheld,
        &[(1, 0.82), (7, f64::INFINITY)],
        14,
        "over4000e4 - - - - - 8e-1 over4000e-1 over4000e0 over4000e1 over4000e2 over4000e3 \
         over4000e4 over4000e4",
    );
    let coarse = MeterSettings {
        hunting: Hunting::Coarse,
        ..handheld
    };
    check(
        coarse,
        &[(1, 300.04)],
        8,
        "over4000e4 0e4 0e3 3e2 30e1 300e0 3000e-1 3000e-1",
    );
    let slow = MeterSettings {
        blanks: 1,
        ..handheld
    };
    check(
        slow,
        &[(1, 3e6), (5, 0.82)],
        16,
        "over4000e4 - - 3000e3 3000e3 - - - - - - - - 8e-1 8e-1 8e-1",
    );
    let fixed = MeterSettings {
        ranging: Ranging::Fixed(0),
        ..handheld
    };
    check(
        fixed,
        &[(1, 0.82), (2, f64::INFINITY)],
        3,
        "over4000e-1 8e-1 over4000e-1",
    );
}

#[test]
fn a_text_interface_ranges_unseen_and_tells_no_range() {
    let text = exact(MeterSettings::text_interface(3.0));
    let shown = shows(text, &[(1, 0.123_456_789), (2, 22_345_678.9), (3, 1e9)], 4);
    assert_eq!(told(&shown), "over 1234568e-7 2234568e1 over");
    for measured in shown {
        assert_eq!(measured.resolution, None);
        assert_eq!(measured.annunciators, Annunciators::NONE);
    }
}

#[test]
fn values_round_to_the_range_and_the_last_count_is_over() {
    let one = |ohms: f64, counts, finest| {
        let settings = MeterSettings {
            ranging: Ranging::Fixed(0),
            display: Display::Counts(counts),
            finest,
            ..exact(MeterSettings::default())
        };
        let mut meter = Meter::new(settings, 1);
        told(&[meter.convert(&Course::new(ohms), Stamp::from_micros(1_000_000))])
    };
    assert_eq!(one(0.449, 4000, -1), "4e-1");
    assert_eq!(one(0.451, 4000, -1), "5e-1");
    assert_eq!(one(399.94, 4000, -1), "3999e-1");
    assert_eq!(one(399.96, 4000, -1), "over4000e-1");
    assert_eq!(one(399.96, 6000, -1), "4000e-1");
    assert_eq!(one(219.988, 22_000, -2), "21999e-2");
}

#[test]
fn a_gap_in_part_of_the_aperture_lifts_one_reading_part_of_the_way() {
    let settings = MeterSettings {
        ranging: Ranging::Fixed(0),
        ..exact(MeterSettings::default())
    };
    let (ohms, clip, aperture) = (0.5, 440.0, 0.1);
    // One reading at 1 s; its aperture is 0.9 to 1.0 s. Gaps by hand, from and to.
    for (from, to, overlap) in [
        (0.950, 0.960, 0.010),
        (0.880, 0.925, 0.025),
        (0.999, 1.200, 0.001),
        (0.700, 0.899, 0.000),
        (0.930, 0.970, 0.040),
    ] {
        let mut course = Course::new(ohms);
        course.change(Stamp::from_seconds(from), f64::INFINITY);
        course.change(Stamp::from_seconds(to), ohms);
        let shown = Meter::new(settings, 1).convert(&course, Stamp::from_micros(1_000_000));
        let expected: f64 = overlap / aperture * (clip - ohms) + ohms;
        let off = (shown.number().unwrap() - expected).abs();
        assert!(
            off <= 0.05 + 1e-9,
            "gap {from}..{to}: {shown:?}, not {expected}"
        );
    }
}

#[test]
fn two_gaps_in_one_aperture_add_up() {
    let mut course = Course::new(2.0);
    for (at, ohms) in [(10, f64::INFINITY), (15, 2.0), (40, 7.0), (60, 2.0)] {
        course.change(Stamp::from_micros(at), ohms);
    }
    let (from, to) = (Stamp::START, Stamp::from_micros(100));
    // 5 of 100 at the clip of 42, 20 at 7, 75 at 2.
    let expected = (5.0 * 42.0 + 20.0 * 7.0 + 75.0 * 2.0) / 100.0;
    assert!((course.mean(from, to, 42.0) - expected).abs() < 1e-12);
    course.forget(Stamp::from_micros(45));
    let late = course.mean(Stamp::from_micros(50), to, 42.0);
    assert!((late - (10.0 * 7.0 + 40.0 * 2.0) / 50.0).abs() < 1e-12);
}

/// Whether a gap from `start` on lifts any reading to `threshold` tenths of an ohm.
fn catches(
    settings: MeterSettings,
    ohms: f64,
    (start, gap): (f64, f64),
    threshold: i64,
) -> bool {
    let mut course = Course::new(ohms);
    course.change(Stamp::from_seconds(start), f64::INFINITY);
    course.change(Stamp::from_seconds(start + gap), ohms);
    let mut meter = Meter::new(settings, 1);
    let end = start + gap + settings.aperture().0 + settings.interval().0;
    let mut at = Stamp::from_seconds(1.0);
    while at.seconds() < end {
        let hit = match meter.convert(&course, at).magnitude {
            Magnitude::Number(number) => threshold <= number.digits,
            Magnitude::Over { .. } => true,
            Magnitude::Blank => false,
        };
        if hit {
            return true;
        }
        at = meter.after(at);
    }
    false
}

/// p(d) = 0 below f a, else min(1, (d + a (1 - 2 f)) / T), derived from the uniform phase of
/// the gap; the two must agree within 4.5 standard deviations.
#[test]
fn the_chance_of_catching_a_gap_is_that_of_the_formula() {
    let (ohms, clip) = (0.5, 600.0);
    let mut phases = ChaCha8Rng::seed_from_u64(5);
    // Rate, aperture, gap, and the lowest reading that counts as a hit, in tenths of an ohm.
    for (rate, aperture, gap, threshold) in [
        (3.0, 0.1, 0.001, 100_i32),
        (3.0, 0.1, 0.010, 100),
        (3.0, 0.1, 0.100, 100),
        (3.0, 0.1, 0.060, 3003),
        (3.0, 0.1, 0.300, 5999),
        (10.0, 0.02, 0.050, 100),
        (10.0, 0.02, 0.009, 3003),
        (40.0, 0.02, 0.001, 100),
        (40.0, 0.02, 0.050, 5999),
        (1000.0, 0.0004, 0.0001, 100),
        (1000.0, 0.0004, 0.001, 5999),
    ] {
        let settings = exact(MeterSettings {
            rate,
            aperture: Some(Seconds(aperture)),
            display: Display::Counts(6000),
            ranging: Ranging::Fixed(0),
            clip: 1.0,
            ..MeterSettings::default()
        });
        let interval = settings.interval().0;
        let lowest = (f64::from(threshold) - 0.5) / 10.0;
        let fraction = (lowest - ohms) / (clip - ohms);
        let trials = 8_000;
        let hits = (0..trials)
            .filter(|_| {
                let start = 1.0 + interval * phases.random::<f64>();
                catches(settings, ohms, (start, gap), i64::from(threshold))
            })
            .count();
        let p = if gap < fraction * aperture {
            0.0
        } else {
            ((gap + aperture * (1.0 - 2.0 * fraction)) / interval).min(1.0)
        };
        let share = count(hits) / f64::from(trials);
        // Whole microseconds round a window's ends; only the fastest meter notices.
        let allowed = 4.5 * (p * (1.0 - p) / f64::from(trials)).sqrt() + 1e-6 / interval;
        assert!(
            (share - p).abs() <= allowed,
            "{rate}/s, {gap} s, f {fraction:.4}: {share} seen, {p} due"
        );
    }
}

#[test]
fn noise_and_jitter_have_the_stated_size() {
    let readings = 20_000_u32;
    let settings = MeterSettings {
        noise: 30.0,
        ranging: Ranging::Fixed(0),
        ..MeterSettings::text_interface(3.0)
    };
    let mut meter = Meter::new(settings, 11);
    let course = Course::new(50.0);
    let mut at = Stamp::START;
    let (mut ohms, mut intervals) = (Vec::new(), Vec::new());
    for _ in 0..readings {
        let next = meter.after(at);
        intervals.push(next.since(at).0);
        at = next;
        ohms.push(meter.convert(&course, at).number().unwrap());
    }
    let readings = f64::from(readings);
    let mean = |of: &[f64]| of.iter().sum::<f64>() / readings;
    let spread = |of: &[f64], about: f64| {
        mean(&of.iter().map(|x| (x - about).powi(2)).collect::<Vec<_>>()).sqrt()
    };
    // 30 counts of 0.1 milliohm.
    let sigma = 0.003;
    assert!((mean(&ohms) - 50.0).abs() < 4.5 * sigma / readings.sqrt());
    assert!((spread(&ohms, 50.0) / sigma - 1.0).abs() < 4.5 / (2.0 * readings).sqrt());
    // A normal distribution has 4.550 % beyond two standard deviations (any table).
    let beyond = count(
        ohms.iter()
            .filter(|x| (*x - 50.0).abs() > 2.0 * sigma)
            .count(),
    ) / readings;
    assert!((beyond - 0.0455).abs() < 4.5 * (0.0455 * 0.9545 / readings).sqrt());

    let third = 1.0 / 3.0;
    assert!(
        intervals
            .iter()
            .all(|x| (x / third - 1.0).abs() <= 0.020_01)
    );
    let uniform = 0.02 * third / 3.0_f64.sqrt();
    assert!((mean(&intervals) - third).abs() < 4.5 * uniform / readings.sqrt());
    assert!((spread(&intervals, third) / uniform - 1.0).abs() < 0.05);
}

#[test]
fn hold_freezes_and_relative_subtracts() {
    let mut course = Course::new(12.0);
    course.change(Stamp::from_seconds(2.0), 30.0);
    course.change(Stamp::from_seconds(4.0), 5.0);
    let settings = MeterSettings {
        ranging: Ranging::Fixed(0),
        ..exact(MeterSettings::default())
    };
    let mut meter = Meter::new(settings, 1);
    let mut show = |at: f64, mark: Option<Annunciator>| {
        meter.mark(mark.into_iter().collect());
        let shown = meter.convert(&course, Stamp::from_seconds(at));
        if let Some(mark) = mark {
            assert!(shown.annunciators.has(mark));
        }
        told(&[shown])
    };
    assert_eq!(show(1.0, Some(Annunciator::Hold)), "120e-1");
    assert_eq!(show(3.0, Some(Annunciator::Hold)), "120e-1");
    assert_eq!(show(3.1, Some(Annunciator::LowBattery)), "300e-1");
    assert_eq!(show(3.2, Some(Annunciator::Relative)), "0e-1");
    assert_eq!(show(5.0, Some(Annunciator::Relative)), "-250e-1");
    assert_eq!(show(5.1, None), "50e-1");
}

#[test]
fn off_the_ohms_function_there_are_no_ohms() {
    let settings = MeterSettings {
        quantity: Quantity::DirectVoltage,
        ..exact(MeterSettings::default())
    };
    let shown = shows(settings, &[(0, 0.5)], 2);
    assert_eq!(told(&shown), "0e-3 0e-3");
    assert!(shown.iter().all(|measured| measured.ohms().is_none()));
    // The buzzer function reads ohms, on its one range.
    let buzzer = MeterSettings {
        quantity: Quantity::Continuity,
        ..exact(MeterSettings::default())
    };
    assert_eq!(told(&shows(buzzer, &[(1, 0.52)], 2)), "over4000e-1 5e-1");
}

#[test]
fn automatic_ranging_is_marked() {
    let marked = |ranging| {
        let settings = MeterSettings {
            ranging,
            ..MeterSettings::default()
        };
        shows(settings, &[], 1)[0]
            .annunciators
            .has(Annunciator::AutoRange)
    };
    assert!(marked(Ranging::Auto));
    assert!(!marked(Ranging::Fixed(2)));
}

#[test]
fn an_over_range_names_its_full_scale() {
    let shown = shows(exact(MeterSettings::default()), &[], 1);
    let beyond = Some(Decimal {
        digits: 4000,
        exponent: 4,
    });
    assert_eq!(shown[0].magnitude, Magnitude::Over { beyond });
    assert_eq!(shown[0].resolution, Some(4));
}
