//! No spike is ever lost from the trace, and no stream is too long for it.

use proptest::prelude::*;
use steadyohm::reading::{Annunciators, Decimal, Magnitude, Measured, Quantity, Stamp};
use steadyohm::signal::{Column, Point, Sample, TraceHistory, columns};

fn at(micros: u64) -> Stamp {
    Stamp::from_micros(micros)
}

/// The extremes and marks of all columns together.
fn whole(columns: &[Column]) -> Column {
    Column {
        min: columns
            .iter()
            .filter_map(|column| column.min)
            .reduce(f64::min),
        max: columns
            .iter()
            .filter_map(|column| column.max)
            .reduce(f64::max),
        over: columns.iter().any(|column| column.over),
        blank: columns.iter().any(|column| column.blank),
    }
}

#[test]
fn a_column_keeps_extremes_and_marks() {
    let samples = [
        Sample::Ohms(0.3),
        Sample::Ohms(0.4),
        Sample::Over,
        Sample::Ohms(0.2),
        Sample::Blank,
        Sample::Ohms(f64::INFINITY),
    ];
    let points = (0..).zip(samples).map(|(k, sample)| Point {
        at: at(k * 10),
        sample,
    });
    let found = columns(points, at(0), at(50), 3);
    let column = |min, max, over, blank| Column {
        min,
        max,
        over,
        blank,
    };
    assert_eq!(
        found,
        [
            column(Some(0.3), Some(0.4), false, false),
            column(Some(0.2), Some(0.2), true, false),
            column(None, None, true, true),
        ]
    );
    assert!(columns([], at(0), at(50), 2).iter().all(Column::is_empty));
    assert!(columns([], at(0), at(50), 0).is_empty());
}

#[test]
fn only_resistances_are_drawn_as_numbers() {
    let of = |quantity, magnitude| {
        Sample::from(&Measured {
            quantity,
            magnitude,
            resolution: None,
            annunciators: Annunciators::NONE,
        })
    };
    let number = Magnitude::Number(Decimal {
        digits: 3,
        exponent: -1,
    });
    let over = Magnitude::Over { beyond: None };
    assert_eq!(of(Quantity::Resistance, number), Sample::Ohms(0.3));
    assert_eq!(of(Quantity::Continuity, over), Sample::Over);
    assert_eq!(of(Quantity::Resistance, Magnitude::Blank), Sample::Blank);
    assert_eq!(of(Quantity::Voltage, number), Sample::Blank);
    assert_eq!(of(Quantity::Voltage, over), Sample::Blank);
}

#[test]
fn a_million_readings_cost_no_more_than_the_room() {
    let mut history = TraceHistory::default();
    let total = 1_000_000_u64;
    let mut most = 0;
    for k in 0..total {
        let sample = match k {
            12_345 => Sample::Ohms(77.7),
            500_001 => Sample::Over,
            600_001 => Sample::Ohms(-5.0),
            _ => Sample::Ohms(0.3),
        };
        history.push(at(k * 1000), sample);
        most = most.max(history.kept());
    }
    assert!(most <= 2 * TraceHistory::ROOM, "{most} kept");
    assert_eq!(history.readings(), total);
    assert_eq!(history.first(), Some(at(0)));
    assert_eq!(history.last(), Some(at((total - 1) * 1000)));
    let to = at(total * 1000);
    for count in [1, 7, 80, 200, 5000, 100_000] {
        let found = whole(&history.columns(at(0), to, count));
        assert_eq!(
            (found.min, found.max, found.over),
            (Some(-5.0), Some(77.7), true),
            "{count}"
        );
    }
    // Zoomed in on the spike, it is there and the rest is calm.
    let near = history.columns(at(12_000_000), at(13_000_000), 20);
    assert_eq!(whole(&near).max, Some(77.7));
    assert!(
        near.iter()
            .filter(|column| column.max == Some(77.7))
            .count()
            <= 3
    );
    // The latest readings are kept one by one.
    let latest = history.columns(at((total - 100) * 1000), at((total - 1) * 1000), 100);
    assert!(latest.iter().all(|column| !column.is_empty()));
}

#[test]
fn stamps_that_run_backwards_count_as_the_last() {
    let mut history = TraceHistory::with_room(4);
    history.push(at(100), Sample::Ohms(1.0));
    history.push(at(50), Sample::Over);
    assert_eq!(history.last(), Some(at(100)));
    assert!(history.columns(at(100), at(100), 1)[0].over);
}

fn number(sample: &Sample) -> Option<f64> {
    match sample {
        Sample::Ohms(ohms) => Some(*ohms),
        Sample::Over | Sample::Blank => None,
    }
}

/// Readings some time apart, numbers for the most part.
fn stream(most: usize) -> impl Strategy<Value = Vec<(u64, Sample)>> {
    let sample = prop_oneof![
        8 => (0.0..1.0_f64).prop_map(Sample::Ohms),
        1 => Just(Sample::Over),
        1 => Just(Sample::Blank),
    ];
    prop::collection::vec((0..1000_u64, sample), 1..most).prop_map(|steps| {
        let mut now = 0;
        let place = |(gap, sample)| {
            now += gap;
            (now, sample)
        };
        steps.into_iter().map(place).collect()
    })
}

proptest! {
    /// One spike in any stream, any window around it, any number of columns: one column shows
    /// it.
    #[test]
    fn a_spike_shows_in_exactly_one_column(
        stream in stream(100), which in any::<prop::sample::Index>(),
        before in 0..5000_u64, after in 0..5000_u64, count in 1..300_usize,
    ) {
        let spike = which.index(stream.len());
        let when = stream[spike].0;
        let points = stream.iter().enumerate().map(|(index, (micros, sample))| Point {
            at: at(*micros),
            sample: if index == spike { Sample::Ohms(99.0) } else { *sample },
        });
        let found = columns(points, at(when.saturating_sub(before)), at(when + after), count);
        prop_assert_eq!(found.len(), count);
        prop_assert_eq!(found.iter().filter(|column| column.max == Some(99.0)).count(), 1);
    }

    /// However small the room and whatever was folded away: the whole trace has the extremes
    /// and marks of the stream, and any window around a spike shows it.
    #[test]
    fn folding_loses_no_spike(
        stream in stream(400), room in 2..20_usize, which in any::<prop::sample::Index>(),
        before in 0..5000_u64, after in 0..5000_u64, count in 1..300_usize,
    ) {
        let mut history = TraceHistory::with_room(room);
        let spike = which.index(stream.len());
        for (index, (micros, sample)) in stream.iter().enumerate() {
            let sample = if index == spike { Sample::Ohms(99.0) } else { *sample };
            history.push(at(*micros), sample);
            prop_assert!(history.kept() <= 2 * room);
        }
        prop_assert_eq!(history.readings(), u64::try_from(stream.len()).unwrap());
        let when = stream[spike].0;
        let near = history.columns(at(when.saturating_sub(before)), at(when + after), count);
        prop_assert!(near.iter().any(|column| column.max == Some(99.0)));

        let mut samples: Vec<Sample> = stream.iter().map(|(_at, sample)| *sample).collect();
        samples[spike] = Sample::Ohms(99.0);
        let numbers = samples.iter().filter_map(number);
        let marked = |mark| samples.contains(&mark);
        let (first, last) = (history.first().unwrap(), history.last().unwrap());
        let all = whole(&history.columns(first, last, count));
        prop_assert_eq!(all.min, numbers.reduce(f64::min));
        prop_assert_eq!(all.max, Some(99.0));
        prop_assert_eq!(all.over, marked(Sample::Over));
        prop_assert_eq!(all.blank, marked(Sample::Blank));
    }

    /// Reference: each column filled by asking every point for its place.
    #[test]
    fn columns_are_what_falls_into_them(stream in stream(60), count in 1..40_usize) {
        let place = |(micros, sample): (u64, Sample)| Point { at: at(micros), sample };
        let points: Vec<Point> = stream.into_iter().map(place).collect();
        let (from, to) = (points[0].at.micros(), points[points.len() - 1].at.micros());
        let found = columns(points.iter().copied(), at(from), at(to), count);
        let mut history = TraceHistory::default();
        for point in &points {
            history.push(point.at, point.sample);
        }
        prop_assert_eq!(&history.columns(at(from), at(to), count), &found);
        for (index, column) in found.iter().enumerate() {
            let inside = points.iter().filter(|point| {
                let (offset, width) = (point.at.micros() - from, to - from);
                let index = u64::try_from(index).unwrap();
                let count = u64::try_from(count).unwrap();
                let starts = offset * count >= index * width;
                let ends = offset * count < (index + 1) * width || index + 1 == count;
                if width == 0 { index == 0 } else { starts && ends }
            });
            let numbers = inside.clone().filter_map(|point| number(&point.sample));
            prop_assert_eq!(column.min, numbers.clone().reduce(f64::min));
            prop_assert_eq!(column.max, numbers.reduce(f64::max));
            let over = inside.clone().any(|point| point.sample == Sample::Over);
            prop_assert_eq!(column.over, over);
            prop_assert_eq!(column.is_empty(), inside.count() == 0);
        }
    }
}
