//! A page with one of everything; every free text in it is the same, so that one text tries
//! every place.

use steadyohm::check::notice::{DisturbanceKind, Proof, Verdict};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::record::report::{
    Expected, MarkSpan, MeasuredValue, MeterLine, ReportInput, RunReport, Section, StateRow,
    States, Subject, TickMark, Trace, Track, TrackBin, TrackFault,
};
use steadyohm::signal::{BlindSpot, Point, Sample};

pub(super) fn at(seconds: f64) -> Stamp {
    Stamp::from_seconds(seconds)
}

fn row(
    text: &str,
    expected: Expected,
    measured: MeasuredValue,
    verdict: Option<Verdict>,
) -> StateRow {
    StateRow {
        name: text.to_owned(),
        expected,
        measured,
        verdict,
        proof: verdict.map(|_| Proof::Seen),
        coverage: verdict.map(|_| 0.97),
        reasons: vec![text.to_owned()],
    }
}

fn rows(text: &str) -> Vec<StateRow> {
    let at_most = Expected::AtMost {
        pass: Ohms(2.0),
        fail: Ohms(5.0),
    };
    let at_least = Expected::AtLeast {
        pass: Ohms(20e6),
        fail: Ohms(1e6),
    };
    vec![
        row(
            text,
            at_most.clone(),
            MeasuredValue::Value(Ohms(0.5)),
            Some(Verdict::Pass),
        ),
        row(
            text,
            at_most,
            MeasuredValue::Value(Ohms(12.0)),
            Some(Verdict::Fail),
        ),
        row(
            text,
            at_least,
            MeasuredValue::MoreThan(None),
            Some(Verdict::Retest),
        ),
        row(
            text,
            Expected::Word(text.to_owned()),
            MeasuredValue::Nothing,
            None,
        ),
    ]
}

/// Three readings a second for 20 s, over-range once.
pub(super) fn trace(text: &str) -> Trace {
    let points = (0..60_u8).map(|index| Point {
        at: at(f64::from(index) / 3.0),
        sample: if index == 30 {
            Sample::Over
        } else {
            Sample::Ohms(0.5)
        },
    });
    Trace {
        name: text.to_owned(),
        from: at(0.0),
        to: at(20.0),
        points: points.collect(),
        interval: Some(Seconds(1.0 / 3.0)),
        rest: Some(Ohms(0.5)),
        threshold: Some(Ohms(1.0)),
        apart: false,
        top: None,
        ticks: (1..=10_u8)
            .map(|number| TickMark {
                at: at(f64::from(number)),
                number: number.into(),
                place: Some(text.to_owned()),
            })
            .collect(),
        marks: vec![MarkSpan {
            kind: DisturbanceKind::Break,
            from: at(10.0),
            to: at(10.0),
            at_least: Seconds(0.0),
            at_most: Seconds(0.67),
            ohms: None,
        }],
    }
}

/// Eight bins: two unseen, one noisy beyond the limit, two that opened again.
pub(super) fn track(text: &str) -> Track {
    let bin = |readings, noise: f64, fault| TrackBin {
        readings,
        noise: Some(Ohms(noise)),
        fault,
    };
    Track {
        title: text.to_owned(),
        ends: [text.to_owned(), text.to_owned()],
        noise_limit: Ohms(1_000.0),
        bins: vec![
            bin(3, 100.0, None),
            bin(4, 200.0, None),
            bin(4, 1_500.0, Some(TrackFault::Noisy)),
            bin(4, 250.0, None),
            TrackBin::default(),
            TrackBin::default(),
            bin(2, 0.0, Some(TrackFault::Again)),
            bin(2, 0.0, Some(TrackFault::Again)),
        ],
    }
}

pub(super) fn run(text: &str) -> RunReport {
    RunReport {
        check: "lead".to_owned(),
        date: "2026-02-02".to_owned(),
        recording: text.to_owned(),
        made_by: None,
        meter: MeterLine {
            format: text.to_owned(),
            source: text.to_owned(),
            interval: Some(Seconds(0.333)),
            documented: None,
        },
        verdict: Verdict::Retest,
        reasons: vec![text.to_owned()],
        sections: vec![
            Section::States(States {
                title: text.to_owned(),
                rows: rows(text),
            }),
            Section::Traces(vec![trace(text)]),
            Section::Track(track(text)),
        ],
        blind_spot: Some(BlindSpot::assumed(Seconds(0.333))),
        cautions: vec![text.to_owned()],
        unchecked: vec![text.to_owned()],
    }
}

/// One run.
pub(super) fn single(text: &str) -> ReportInput {
    let text_of = || Some(text.to_owned());
    ReportInput {
        subject: Subject {
            job: text_of(),
            instrument: text_of(),
            batch: text_of(),
            lot: text_of(),
            tag: text_of(),
            length: text_of(),
            workshop: text_of(),
            accuracy: text_of(),
            measured_by: text_of(),
            note: text_of(),
        },
        run: run(text),
        before: None,
    }
}

/// The same after a repair.
pub(super) fn compared(text: &str) -> ReportInput {
    let mut before = run(text);
    "2026-01-01".clone_into(&mut before.date);
    before.verdict = Verdict::Fail;
    before.made_by = Some(text.to_owned());
    before.cautions.push("low battery".to_owned());
    if let Some(Section::States(states)) = before.sections.first_mut()
        && let Some(last) = states.rows.last_mut()
    {
        "only before".clone_into(&mut last.name);
    }
    ReportInput {
        before: Some(before),
        ..single(text)
    }
}
