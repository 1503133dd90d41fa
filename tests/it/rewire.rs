//! A rewired instrument on the simulated bench in simulated time: every layout, and faults of
//! each kind by their names.
#![expect(clippy::indexing_slicing, reason = "what is not there fails the test")]

use std::sync::Arc;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, Instrument, MeterSettings, OperatorStyle, Piece,
};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{CheckResult, Notice, StepBegins, Verdict, Wants};
use steadyohm::check::rewire::{Rewire, RewireOptions, planned};
use steadyohm::circuit::diagnosis::Meter;
use steadyohm::circuit::{Ailment, Circuit, Fault, Job, LAYOUTS};
use steadyohm::protocol::find;
use steadyohm::reading::{Seconds, Stamp};
use steadyohm::session::{Session, Setup};

use crate::simulated::{drive, event_of};

pub(crate) fn job(layout: &str) -> Job {
    let layout = LAYOUTS.iter().find(|known| known.id == layout).unwrap();
    Job::from_text(layout.text, layout.id).unwrap()
}

/// A run of an instrument with a fault; what was said and the verdict.
pub(crate) fn run(
    options: RewireOptions,
    fault: Option<Fault>,
    seed: u64,
) -> (Vec<Notice>, CheckResult) {
    let circuit = options.job.circuit().clone();
    let protocol = find("lcd-segments-14").unwrap();
    let mut session = Session::new(Setup {
        protocol: Arc::clone(&protocol),
        source: "the simulated bench".to_owned(),
        facts: MeterFacts {
            counts: Some(4000),
            ..MeterFacts::default()
        },
        check: Some(Box::new(Rewire::new(options))),
        patience: Seconds(60.0),
    });
    let piece = Instrument::drawn(circuit, fault, seed);
    let mut bench = Bench::new(&BenchSettings {
        piece: Piece::Instrument(Box::new(piece)),
        meter: MeterSettings::handheld(10.0),
        operator: OperatorStyle::default(),
        hands: Hands::default(),
        seed,
    });
    let hour = Stamp::from_seconds(3_600.0);
    let driven = drive(
        (&mut session, &mut bench),
        hour,
        |_| false,
        |_, _| {},
        |happening| event_of(&protocol, true, happening),
    );
    assert!(driven.outcome.is_some(), "no end in sight");
    let mut said = driven.notices;
    match said.pop() {
        Some(Notice::Verdict(result)) => (said, result),
        other => panic!("the last notice is not a verdict: {other:?}"),
    }
}

fn closed(layout: &str) -> RewireOptions {
    RewireOptions::of(Arc::new(job(layout)))
}

/// Whether a group's words hold the fault or one of the same part.
fn names(result: &CheckResult, fault: &Fault) -> bool {
    let part = &fault.hypothesis.causes[0].part;
    let found = result.findings.iter();
    found
        .take(3)
        .any(|finding| finding.contains(&fault.hypothesis.name) || finding.contains(part))
}

#[test]
fn every_layout_passes_when_it_is_sound() {
    for (seed, layout) in (1..).zip(LAYOUTS) {
        let (said, result) = run(closed(layout.id), None, seed);
        assert_eq!(result.verdict, Verdict::Pass, "{}: {result:#?}", layout.id);
        assert!(result.findings.is_empty());
        let wants = |notice: &Notice| match notice {
            Notice::Step(StepBegins { wants, .. }) => Some(*wants),
            _ => None,
        };
        assert!(said.iter().filter_map(wants).all(|it| it == Wants::Value));
        let dark = result.not_covered.unwrap();
        assert!(dark.contains("direct current"), "{dark}");
    }
}

/// The first fault of a kind that the planned states show by far, and not one of many alike.
fn shown(circuit: &Circuit, ailment: Ailment) -> Option<Fault> {
    let faults = circuit.faults();
    let table = circuit.predict(&faults, &circuit.outside());
    let steps = planned(&table, circuit, &Meter::default());
    let differs = |row: usize| {
        steps.iter().any(|step| {
            let (sound, found) = (table.rows[0][*step].ohms, table.rows[row][*step].ohms);
            sound.is_finite() != found.is_finite()
                || (found - sound).abs() > 0.5 * sound + 500.0
        })
    };
    let row = (1..table.rows.len())
        .find(|row| faults[row - 1].hypothesis.causes[0].ailment == ailment && differs(*row))?;
    Some(faults[row - 1].clone())
}

#[test]
fn a_fault_of_each_kind_is_named() {
    let mut tried = 0;
    for layout in ["two-pickups-three-way", "one-pickup"] {
        for ailment in [
            Ailment::Open,
            Ailment::Short,
            Ailment::ShortToGround,
            Ailment::HighResistance,
            Ailment::WrongValue,
        ] {
            let options = closed(layout);
            let Some(fault) = shown(options.job.circuit(), ailment) else {
                continue;
            };
            let (_, result) = run(options, Some(fault.clone()), 7);
            let name = &fault.hypothesis.name;
            assert_eq!(
                result.verdict,
                Verdict::Fail,
                "{layout}, {name}: {result:#?}"
            );
            assert!(names(&result, &fault), "{layout}, {name}: {result:#?}");
            tried += 1;
        }
    }
    assert!(tried >= 8, "{tried}");
}

#[test]
fn a_fault_that_comes_and_goes_is_no_pass_once_it_was_seen_moving() {
    let options = closed("one-pickup");
    let fault = shown(options.job.circuit(), Ailment::Intermittent).unwrap();
    let seen = (1..=4).any(|seed| {
        let (_, result) = run(options.clone(), Some(fault.clone()), seed);
        result.verdict != Verdict::Pass
    });
    assert!(seen);
}

#[test]
fn the_instrument_is_opened_only_when_it_may_be() {
    // One dead position: the switch or its joints, which only a probe inside tells apart
    // (common practice, no source).
    let fault = |options: &RewireOptions| {
        let circuit = options.job.circuit();
        Instrument::fault_of(circuit, "neck lug is open").unwrap()
    };
    let options = closed("two-pickups-three-way");
    let (_, shut) = run(options.clone(), fault(&options), 3);
    assert_eq!(shut.verdict, Verdict::Fail);
    assert!(
        shut.reasons
            .last()
            .unwrap()
            .contains("with the instrument opened")
    );
    let opened = RewireOptions {
        open: true,
        ..options
    };
    let (_, open) = run(opened.clone(), fault(&opened), 3);
    assert_eq!(open.verdict, Verdict::Fail);
    assert!(open.steps.len() > shut.steps.len());
    let first = &open.findings[0];
    assert!(
        first.contains("neck lug is open") && !first.contains(", or "),
        "{first}"
    );
}

#[test]
fn a_dead_jack_is_asked_about_and_failed_on_your_word() {
    // Every position dead: jack, volume or lead (common practice, no source).
    let options = closed("two-pickups-three-way");
    let fault = Instrument::fault_of(options.job.circuit(), "jack's tip is open").unwrap();
    let (said, result) = run(options, fault, 2);
    assert_eq!(result.verdict, Verdict::Fail, "{result:#?}");
    assert!(result.findings[0].contains("jack"), "{result:#?}");
    let asks = |notice: &&Notice| match notice {
        Notice::Step(step) => step.prompt.contains("Press Enter"),
        _ => false,
    };
    assert!(said.iter().any(|notice| asks(&notice)));
}
