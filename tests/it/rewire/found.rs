//! What is said of the faults found, and of values that nobody gave.

use std::sync::Arc;

use steadyohm::bench::Instrument;
use steadyohm::check::notice::{CheckResult, Notice, Proof, Verdict};
use steadyohm::check::rewire::RewireOptions;
use steadyohm::circuit::Job;

use super::{closed, driven, run};

fn of(text: &str) -> RewireOptions {
    RewireOptions::of(Arc::new(Job::from_text(text, "guitar.toml").unwrap()))
}

/// An instrument of the first job checked against the second.
fn against(inside: &str, text: &str, fault: &str) -> CheckResult {
    let circuit = of(inside).job.circuit().clone();
    let faults = Instrument::faults_of(&circuit, fault).unwrap();
    let driven = driven(of(text), Instrument::drawn(circuit, faults, 3), 3);
    match driven.notices.last() {
        Some(Notice::Verdict(result)) => result.clone(),
        other => panic!("no verdict: {other:?}"),
    }
}

/// One pickup of so many ohms, known to a thousandth.
fn exactly(ohms: u32) -> String {
    format!(
        "schema = 1\nlayout = \"one-pickup\"\n[[pickup]]\nid = \"bridge\"\nohms = {ohms}\n\
         tolerance = 0.001\n"
    )
}

const TYPICAL: &str = "schema = 1\nlayout = \"one-pickup\"\n";
const GIVEN: &str = "schema = 1\nlayout = \"one-pickup\"\n[[pickup]]\nid = \"bridge\"\nohms = 8000\n\
     tolerance = 0.05\n";

#[test]
fn no_fault_is_left_unnamed_alone_and_none_is_certain() {
    let options = closed("two-pickups-three-way");
    let fault = Instrument::fault_of(options.job.circuit(), "neck pickup is open").unwrap();
    let (_, result) = run(options, fault, 4);
    let first = &result.findings[0];
    assert!(first.contains("the neck pickup is open"), "{first}");
    assert!(first.ends_with("(one of these: nearly certain)"), "{first}");
    for text in result.findings.iter().chain(&result.reasons) {
        assert!(
            !text.contains("one more") && !text.contains("100 %"),
            "{text}"
        );
    }
    // What is probed next is named first.
    let next = result.reasons.last().unwrap();
    let (part, _) = first.split_once(" is open").unwrap();
    assert!(next.contains(part), "{next}: {first}");
}

#[test]
fn a_low_pickup_is_named_and_no_jack_is_blamed() {
    let result = against(&exactly(7_000), GIVEN, "good");
    assert_ne!(result.verdict, Verdict::Pass);
    let first = &result.findings[0];
    assert!(first.contains("the bridge pickup has about"), "{result:#?}");
    assert!(!first.contains("changed over"), "{first}");
}

#[test]
fn a_value_that_nobody_gave_fails_nothing_and_is_asked_for() {
    // Within 30 % of 8 kΩ.
    let within = against(&exactly(7_000), TYPICAL, "good");
    assert_eq!(within.verdict, Verdict::Pass, "{within:#?}");
    let words = &within.steps[0].reasons[1];
    assert!(words.contains("typical of the layout"), "{words}");
    assert!(!words.contains("by the job's values"), "{words}");
    // Below it, and the same again.
    let below = against(&exactly(4_600), TYPICAL, "good");
    assert_eq!(below.verdict, Verdict::Retest, "{below:#?}");
    assert!(below.steps.iter().all(|step| step.verdict != Verdict::Fail));
    let asks = "the job gives no value for the bridge pickup";
    assert!(
        below.reasons.iter().any(|why| why.contains(asks)),
        "{below:#?}"
    );
    // What no value explains fails as ever.
    let open = against(&exactly(8_000), TYPICAL, "the bridge pickup is open");
    assert_eq!(open.verdict, Verdict::Fail, "{open:#?}");
}

#[test]
fn one_band_is_told_of_a_reading() {
    let options = closed("two-pickups-three-way");
    let fault = Instrument::fault_of(options.job.circuit(), "neck pickup is open").unwrap();
    let (_, result) = run(options, fault, 4);
    let mut told = 0;
    for step in result
        .steps
        .iter()
        .filter(|step| step.verdict == Verdict::Fail)
    {
        let (_, rest) = step.reasons[0].rsplit_once("), ").unwrap();
        let (band, _) = rest.split_once(" expected").unwrap();
        let outside = format!("outside {band}");
        assert!(
            result.reasons.iter().any(|why| why.contains(&outside)),
            "{outside}: {result:#?}"
        );
        told += 1;
    }
    assert!(told >= 2, "{result:#?}");
}

#[test]
fn a_state_that_reads_as_the_one_before_is_said_at_once() {
    // With the neck open the middle reads the bridge alone, and so does the bridge.
    let options = closed("two-pickups-three-way");
    let fault = Instrument::fault_of(options.job.circuit(), "neck pickup is open").unwrap();
    let (said, _) = run(options, fault, 4);
    let hint = said.iter().find_map(|notice| match notice {
        Notice::Step(step) if step.prompt.contains(" read as before: ") => Some(step),
        _ => None,
    });
    let hint = hint.expect("nothing was said");
    assert!(
        hint.prompt.ends_with("press Enter if it is set."),
        "{}",
        hint.prompt
    );
    let done = said.iter().find_map(|notice| match notice {
        Notice::StepDone(done) if done.step == hint.step => Some(done),
        _ => None,
    });
    let done = done.unwrap();
    assert_eq!((done.verdict, done.proof), (Verdict::Pass, Proof::Operator));
}
