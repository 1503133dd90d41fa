//! A rewired instrument on the simulated bench in simulated time: every layout, and faults of
//! each kind by their names.
#![expect(clippy::indexing_slicing, reason = "what is not there fails the test")]

mod found; // what is said of the faults found, and of values that nobody gave
mod recordings; // golden recordings of instruments, replayed

use std::sync::Arc;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, Instrument, MeterSettings, OperatorStyle, Piece,
};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{CheckResult, Notice, StepBegins, Verdict, Wants};
use steadyohm::check::rewire::{Rewire, RewireOptions, planned};
use steadyohm::circuit::diagnosis::priors::BUILT_IN;
use steadyohm::circuit::diagnosis::{Meter, Priors};
use steadyohm::circuit::{Ailment, Circuit, Fault, Job, LAYOUTS};
use steadyohm::protocol::find;
use steadyohm::reading::{Seconds, Stamp};
use steadyohm::session::{Effect, Event, Session, Setup};

use crate::simulated::{Driven, drive, event_of};

pub(crate) fn job(layout: &str) -> Job {
    let layout = LAYOUTS.iter().find(|known| known.id == layout).unwrap();
    Job::from_text(layout.text, layout.id).unwrap()
}

/// How a run is set up.
fn setup(options: RewireOptions) -> Setup {
    Setup {
        protocol: find("lcd-segments-14").unwrap(),
        source: "the simulated bench".to_owned(),
        facts: MeterFacts {
            counts: Some(4000),
            ..MeterFacts::default()
        },
        check: Some(Box::new(Rewire::new(options))),
        patience: Seconds(60.0),
    }
}

/// A run of an instrument with a fault; what was said and the verdict.
pub(crate) fn run(
    options: RewireOptions,
    fault: Option<Fault>,
    seed: u64,
) -> (Vec<Notice>, CheckResult) {
    let circuit = options.job.circuit().clone();
    let piece = Instrument::drawn(circuit, fault.into_iter().collect(), seed);
    let driven = driven(options, piece, seed);
    let mut said = driven.notices;
    match said.pop() {
        Some(Notice::Verdict(result)) => (said, result),
        other => panic!("the last notice is not a verdict: {other:?}"),
    }
}

/// The same, with all that a run leaves behind.
fn driven(options: RewireOptions, piece: Instrument, seed: u64) -> Driven {
    let setup = setup(options);
    let protocol = Arc::clone(&setup.protocol);
    let mut session = Session::new(setup);
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
    driven
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

/// What is found of two pickups and a three-way selector with several faults at once.
fn with_faults(words: &[&str]) -> CheckResult {
    let options = closed("two-pickups-three-way");
    let circuit = options.job.circuit().clone();
    let fault = |words: &&str| Instrument::fault_of(&circuit, words).unwrap().unwrap();
    let faults = words.iter().map(fault).collect();
    let piece = Instrument::drawn(circuit.clone(), faults, 5);
    match driven(options, piece, 5).notices.pop() {
        Some(Notice::Verdict(result)) => result,
        other => panic!("no verdict: {other:?}"),
    }
}

#[test]
fn two_faults_at_once_are_named_where_no_single_one_explains_them() {
    // The neck's position dead, and the volume's bottom lug off ground: a sweep to zero that no
    // longer shorts.
    let result = with_faults(&[
        "neck pickup's hot wire and the selector's neck lug is open",
        "bottom lug and ground is open",
    ]);
    assert_eq!(result.verdict, Verdict::Fail);
    let first = &result.findings[0];
    assert!(first.contains("two faults at once: "), "{result:#?}");
    assert!(
        first.contains("neck") && first.contains("bottom lug"),
        "{first}"
    );
}

#[test]
fn readings_that_nothing_explains_are_said_to_be_so() {
    // Three unlikely parts at once, none of them on the list of pairs: both pickups of half
    // their ohms and the volume control of a quarter.
    let result = with_faults(&[
        "neck pickup has about 2.850",
        "bridge pickup has about 4.000",
        "the volume control has about 62",
    ]);
    assert_eq!(result.verdict, Verdict::Fail);
    let first = &result.findings[0];
    assert!(
        first.contains("nothing on the list explains"),
        "{result:#?}"
    );
}

#[test]
fn a_table_of_the_users_own_turns_the_order() {
    // One dead position, which the jack cannot take further: switches or joints, by what the
    // table says is met more often.
    let with = |table: &str| {
        let priors = Priors::from_text(table, "mine.toml").unwrap();
        let options = RewireOptions {
            priors: Some(Arc::new(priors)),
            ..closed("two-pickups-three-way")
        };
        let fault = Instrument::fault_of(options.job.circuit(), "neck lug is open").unwrap();
        run(options, fault, 3).1.findings[0].clone()
    };
    let built_in = with(BUILT_IN);
    assert!(built_in.starts_with("the joint"), "{built_in}");
    let switches = BUILT_IN.replacen("open = 0.004", "open = 0.400", 1);
    let turned = with(&switches);
    assert!(
        turned.starts_with("the contact of the selector"),
        "{turned}"
    );
}

#[test]
fn an_active_circuit_is_checked_where_it_means_something() {
    let job = "schema = 1\nlayout = \"two-pickups-three-way\"\nactive = true\n";
    let of = |open| RewireOptions {
        open,
        ..RewireOptions::of(Arc::new(Job::from_text(job, "active.toml").unwrap()))
    };
    let shut = Rewire::new(of(false));
    let names: Vec<String> = shut
        .plans()
        .iter()
        .map(|(plan, _)| plan.name.to_string())
        .collect();
    assert_eq!(names, ["from the bridge and strings to the jack's sleeve"]);
    assert!(shut.plans()[0].0.prompt.starts_with("Battery out"));
    let open = Rewire::new(of(true));
    let names: Vec<String> = open
        .plans()
        .iter()
        .map(|(plan, _)| plan.name.to_string())
        .collect();
    for wanted in [
        "neck pickup at its own wires",
        "bridge pickup at its own wires",
        "case of the volume control",
    ] {
        assert!(
            names.iter().any(|name| name.contains(wanted)),
            "{wanted}: {names:?}"
        );
    }
    let (_, result) = run(of(true), None, 4);
    assert_eq!(result.verdict, Verdict::Pass, "{result:#?}");
    assert!(result.not_covered.unwrap().contains("without its battery"));
}

#[test]
fn a_state_that_nobody_sets_says_why_it_was_not_read() {
    // Nobody hears what is asked: the probes stay in the air.
    let options = RewireOptions {
        wait: Seconds(2.0),
        ..closed("one-pickup")
    };
    let mut session = Session::new(setup(options));
    let mut said = Vec::new();
    let mut at = Stamp::START;
    session.update(Event::Opened {
        at,
        mid_stream: true,
        caution: None,
    });
    let protocol = find("lcd-segments-14").unwrap();
    let mut meter = Bench::new(&BenchSettings {
        piece: Piece::Instrument(Box::new(Instrument::drawn(
            job("one-pickup").circuit().clone(),
            Vec::new(),
            1,
        ))),
        meter: MeterSettings::handheld(10.0),
        operator: OperatorStyle::default(),
        hands: Hands::default(),
        seed: 1,
    });
    while at < Stamp::from_seconds(60.0) {
        at = meter.next_at();
        let events = meter.advance(at).into_iter();
        for event in events.filter_map(|happening| event_of(&protocol, true, happening)) {
            let effects = session.update(event).into_iter();
            said.extend(effects.filter_map(|effect| match effect {
                Effect::Emit(notice) => Some(notice),
                _ => None,
            }));
        }
    }
    let done = said.iter().find_map(|notice| match notice {
        Notice::StepDone(done) => Some(done),
        _ => None,
    });
    let why = &done.unwrap().reasons[0];
    assert!(why.starts_with("not read: "), "{why}");
    assert!(
        why.contains("press Enter") && why.contains("--wait 30s"),
        "{why}"
    );
}
