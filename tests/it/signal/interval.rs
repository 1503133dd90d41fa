//! The time between readings, against a sorted list of the times themselves.

use proptest::prelude::*;
use steadyohm::reading::{Seconds, Stamp};
use steadyohm::signal::IntervalMeter;

use super::close;

fn metered(stamps: impl IntoIterator<Item = u64>) -> IntervalMeter {
    let mut meter = IntervalMeter::default();
    for micros in stamps {
        meter.record(Stamp::from_micros(micros));
    }
    meter
}

#[test]
fn below_three_intervals_nothing_is_said() {
    let mut meter = metered([0, 100_000, 200_000]);
    assert_eq!(meter.count(), 2);
    assert_eq!(
        (meter.high(), meter.median(), meter.p99()),
        (None, None, None)
    );
    assert_eq!(meter.longest(), Some(Seconds(0.1)));
    meter.record(Stamp::from_micros(300_000));
    assert_eq!(meter.count(), 3);
    close(meter.high().unwrap().0, 0.1, 1e-4);
    assert_eq!(metered([]).longest(), None);
}

#[test]
fn a_lost_port_is_no_interval() {
    let mut meter = metered([0, 100_000, 200_000, 300_000]);
    meter.restart();
    for micros in [60_000_000, 60_100_000, 60_200_000] {
        meter.record(Stamp::from_micros(micros));
    }
    assert_eq!(meter.count(), 5);
    assert_eq!(meter.longest(), Some(Seconds(0.1)));
    close(meter.p99().unwrap().0, 0.1, 1e-4);
}

#[test]
fn one_hiccup_is_not_the_rate_but_is_kept() {
    let steady = (0..100_u64).map(|k| k * 100_000);
    let late = (0..100_u64).map(|k| 15_000_000 + k * 100_000);
    let meter = metered(steady.chain(late));
    close(meter.high().unwrap().0, 0.1, 1e-4);
    close(meter.longest().unwrap().0, 5.1, 0.0);
}

#[test]
fn what_is_beyond_the_bounds_stays_at_the_bounds() {
    let two_hours = 7_200_000_000;
    let meter = metered([0, two_hours, 2 * two_hours, u64::MAX]);
    close(meter.median().unwrap().0, 3600.0, 3.6);
    close(meter.high().unwrap().0, 3600.0, 3.6);
    // A stamp that runs backwards ends no interval and breaks nothing.
    let back = metered([500, 400, 300, 1500]);
    assert_eq!(back.count(), 1);
    assert_eq!(back.longest(), Some(Seconds(0.001)));
}

#[test]
fn a_fast_meter_behind_a_slow_adapter() {
    // 1000 readings a second, handed over every 16 ms (the usual latency of a USB serial
    // adapter, from memory): 15 intervals of nothing for each of 16 ms, as they come.
    let meter = metered((1..200_u64).flat_map(|chunk| [chunk * 16_000; 16]));
    close(meter.high().unwrap().0, 0.001, 1e-6);
    close(meter.longest().unwrap().0, 0.016, 0.0);
}

proptest! {
    /// Reference: the nearest-rank percentile of the sorted list.
    #[test]
    fn percentiles_are_those_of_the_sorted_list(
        gaps in prop::collection::vec(1..5_000_000_u64, 3..200),
    ) {
        let mut at = 7;
        let mut meter = metered([at]);
        for gap in &gaps {
            at += gap;
            meter.record(Stamp::from_micros(at));
        }
        let mut sorted = gaps.clone();
        sorted.sort_unstable();
        for (percent, found) in [(50, meter.median()), (95, meter.high()), (99, meter.p99())] {
            let rank = (sorted.len() * percent).div_ceil(100);
            let exact = Seconds::from(Stamp::from_micros(sorted[rank - 1])).0;
            let found = found.unwrap().0;
            // Three significant figures, or the microsecond.
            let tolerance = exact * 0.001 + 1e-6;
            prop_assert!((found - exact).abs() <= tolerance, "{found} is not {exact}");
        }
        let longest = Stamp::from_micros(sorted[sorted.len() - 1]);
        prop_assert_eq!(meter.longest(), Some(longest.into()));
        prop_assert_eq!(meter.count(), u64::try_from(gaps.len()).unwrap());
    }

    /// However many readings share a chunk, the interval is theirs and never nothing.
    #[test]
    fn chunks_do_not_hide_the_interval(
        interval in 1_000..500_000_u64, chunk in 1..80_u64, chunks in 4..20_u64,
    ) {
        let stamps = (1..=chunks).flat_map(|k| (0..chunk).map(move |_one| k * chunk * interval));
        let high = metered(stamps).high().unwrap().micros();
        prop_assert!(high >= interval, "{high} is below {interval}");
        prop_assert!(high <= interval + interval / 500 + 1, "{high} is above {interval}");
    }
}
