//! What is drawn stands where its value is; no peak is lost; nothing rests on colour.

use proptest::prelude::*;
use scraper::{Html, Selector};
use steadyohm::check::notice::Verdict;
use steadyohm::reading::{Ohms, Seconds};
use steadyohm::record::report::{
    Expected, MeasuredValue, ReportInput, Section, StateRow, States, Trace, Track, TrackFault,
    html,
};
use steadyohm::signal::{Point, Sample};

use super::sample::{at, single, trace, track};

fn with(section: Section) -> ReportInput {
    let mut input = single("x");
    input.run.sections = vec![section];
    input
}

/// The `d` of every path in the first drawing of a class.
fn paths(input: &ReportInput, class: &str) -> Vec<String> {
    let page = Html::parse_document(&html(input));
    let selector = Selector::parse(&format!("svg.{class} path")).unwrap();
    page.select(&selector)
        .map(|path| path.attr("d").unwrap_or_default().to_owned())
        .collect()
}

fn numbers(path: &str) -> Vec<f64> {
    path.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
        .filter_map(|number| number.parse().ok())
        .collect()
}

/// Where the box of what is right begins and ends, and where the mark stands.
fn band(expected: Expected, measured: f64) -> [f64; 3] {
    let input = with(Section::States(States {
        title: "x".to_owned(),
        rows: vec![StateRow {
            name: "x".to_owned(),
            expected,
            measured: MeasuredValue::Value(Ohms(measured)),
            verdict: Some(Verdict::Pass),
            proof: None,
            coverage: None,
            reasons: Vec::new(),
        }],
    }));
    let paths = paths(&input, "band");
    let right = paths.first().map(|path| numbers(path)).unwrap_or_default();
    let mark = paths
        .iter()
        .find(|path| path.matches('L').count() == 2)
        .unwrap();
    let mark = numbers(mark);
    [right.first(), right.get(2), mark.first()].map(|number| *number.unwrap())
}

#[test]
fn a_value_at_the_limit_stands_at_the_end_of_the_box() {
    let close = |a: f64, b: f64| (a - b).abs() < 0.02;
    let at_most = Expected::AtMost {
        pass: Ohms(2.0),
        fail: Ohms(5.0),
    };
    let [from, to, mark] = band(at_most.clone(), 2.0);
    assert!(close(mark, to) && from < to);
    let [_, to, mark] = band(at_most.clone(), 2.2);
    assert!(mark > to);
    // Beyond the axis it stands at its end.
    let [.., far] = band(at_most.clone(), 1e6);
    let [.., further] = band(at_most, 1e9);
    assert!(close(far, further));
    let at_least = Expected::AtLeast {
        pass: Ohms(20e6),
        fail: Ohms(1e6),
    };
    let [from, _, mark] = band(at_least.clone(), 20e6);
    assert!(close(mark, from));
    let [from, _, mark] = band(at_least, 15e6);
    assert!(mark < from);
    let between = Expected::Between {
        low: Ohms(3_400.0),
        nominal: Ohms(3_700.0),
        high: Ohms(4_000.0),
    };
    let [from, to, mark] = band(between.clone(), 3_700.0);
    assert!(close(mark, from.midpoint(to)));
    let [_, to, mark] = band(between, 4_000.0);
    assert!(close(mark, to));
}

/// Over-range has its lane at 4.4 mm; a single reading there shows among twenty thousand.
#[test]
fn a_single_reading_is_never_thinned_away() {
    let points = (0..20_000_u32).map(|index| Point {
        at: at(f64::from(index) / 1_000.0),
        sample: if index == 12_345 {
            Sample::Over
        } else {
            Sample::Ohms(0.5)
        },
    });
    let long = Trace {
        points: points.collect(),
        interval: Some(Seconds(0.001)),
        marks: Vec::new(),
        ..trace("x")
    };
    let over = |trace: Trace| {
        let input = with(Section::Traces(vec![trace]));
        paths(&input, "trace")
            .iter()
            .filter(|path| path.contains("V4.4"))
            .count()
    };
    assert_eq!(over(long.clone()), 1);
    let without = Trace {
        points: long
            .points
            .into_iter()
            .filter(|p| p.sample != Sample::Over)
            .collect(),
        ..trace("x")
    };
    assert_eq!(over(without), 0);
}

/// Where nothing was read there is no line.
#[test]
fn the_line_breaks_where_nothing_was_read() {
    let begun = |trace: Trace| {
        let paths = paths(&with(Section::Traces(vec![trace])), "trace");
        let line = paths
            .iter()
            .find(|path| path.matches('V').count() > 30)
            .unwrap();
        line.matches('M').count()
    };
    let whole = Trace {
        marks: Vec::new(),
        ..trace("x")
    };
    let mut torn = whole.clone();
    torn.points
        .retain(|point| point.at < at(8.0) || point.at > at(12.0));
    let mut blank = whole.clone();
    blank.points[20].sample = Sample::Blank;
    assert_eq!([begun(whole), begun(torn), begun(blank)], [1, 2, 2]);
}

#[test]
fn a_track_tells_what_was_seen_and_what_is_wrong() {
    let track = track("x");
    assert!((track.coverage() - 0.75).abs() < 1e-9);
    assert_eq!(
        track.faults(),
        [
            (25.0, 37.5, TrackFault::Noisy),
            (75.0, 100.0, TrackFault::Again)
        ]
    );
    let input = with(Section::Track(track));
    let paths = paths(&input, "track");
    let bars = |path: &String| path.matches('z').count();
    // The limit, the base line, bars of noise, bins seen, bins not seen, three marks.
    assert_eq!(paths.len(), 8);
    assert_eq!(
        [bars(&paths[2]), bars(&paths[3]), bars(&paths[4])],
        [4, 6, 2]
    );
    let page = Html::parse_document(&html(&input));
    let caption = Selector::parse("figcaption").unwrap();
    let told: String = page.select(&caption).next().unwrap().text().collect();
    assert_eq!(
        told,
        "75\u{A0}% of the track was seen; noisy at 25 to 38 %; opened again at the same place \
         at 75 to 100 %."
    );
    let empty = Track {
        bins: Vec::new(),
        ..super::sample::track("x")
    };
    assert!(empty.coverage().abs() < 1e-9 && empty.faults().is_empty());
    html(&with(Section::Track(empty)));
}

fn any_sample() -> impl Strategy<Value = Sample> {
    prop_oneof![
        any::<f64>().prop_map(Sample::Ohms),
        Just(Sample::Over),
        Just(Sample::Blank)
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the numbers, a drawing is made of numbers.
    #[test]
    fn no_number_spoils_a_drawing(
        samples in prop::collection::vec((0.0..100.0_f64, any_sample()), 0..60),
        rest in prop::option::of(any::<f64>()),
        threshold in prop::option::of(any::<f64>()),
        limits in any::<[f64; 3]>(),
        measured in any::<f64>(),
    ) {
        let mut points: Vec<Point> = samples
            .into_iter()
            .map(|(seconds, sample)| Point { at: at(seconds), sample })
            .collect();
        points.sort_by_key(|point| point.at);
        let [low, nominal, high] = limits.map(Ohms);
        let row = |expected| StateRow {
            name: "x".to_owned(),
            expected,
            measured: MeasuredValue::Value(Ohms(measured)),
            verdict: None,
            proof: None,
            coverage: None,
            reasons: Vec::new(),
        };
        let mut input = with(Section::Traces(vec![Trace {
            points,
            rest: rest.map(Ohms),
            threshold: threshold.map(Ohms),
            ..trace("x")
        }]));
        input.run.sections.push(Section::States(States {
            title: "x".to_owned(),
            rows: vec![
                row(Expected::AtMost { pass: low, fail: high }),
                row(Expected::AtLeast { pass: low, fail: high }),
                row(Expected::Between { low, nominal, high }),
            ],
        }));
        for path in paths(&input, "trace").iter().chain(&paths(&input, "band")) {
            prop_assert!(!path.contains("NaN") && !path.contains("inf"), "{path}");
        }
    }
}
