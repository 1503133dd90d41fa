//! The lines of a lead check, key for key as the command contract has them, by both methods
//! and on good and faulty leads; the verdict last, and the exit status with it.

use serde_json::Value;

use super::driver::Finished;
use super::stage::STAGE;
use super::{event, of_event};

/// The keys of a line, as the contract names them.
fn keys(of: &str) -> &'static [&'static str] {
    match of {
        "opened" => &["source", "protocol", "interval_s"],
        "step" => &["step", "wants", "prompt"],
        "phase" => &["step", "phase"],
        "tick" => &["step", "flex", "of"],
        "reading" => &["t", "ohms", "state"],
        "break" | "touch" | "flicker" | "jump" => {
            &["step", "from_s", "to_s", "at_least_s", "at_most_s", "ohms"]
        }
        "trouble" => &["what", "text"],
        "step_done" => STEP_DONE,
        // Beside the contract: what was found, before a verdict that found something.
        "findings" => &["findings", "not_covered"],
        "verdict" => &[
            "check",
            "verdict",
            "reasons",
            "steps",
            "blind_spot",
            "recording",
        ],
        other => panic!("{other} is no event of the contract"),
    }
}

const STEP_DONE: &[&str] = &["step", "verdict", "ohms", "proof", "coverage", "reasons"];

/// The words that may stand at a key.
fn allowed(key: &str) -> Option<&'static [&'static str]> {
    Some(match key {
        "wants" => &["closed", "open", "sweep", "value"],
        "phase" => &[
            "waiting", "settling", "still", "flexing", "sweeping", "lifting", "confirm",
        ],
        "state" => &["number", "over", "blank"],
        "what" => &[
            "wrong_function",
            "hold",
            "relative",
            "low_battery",
            "stalled",
            "lost",
            "garbled",
            "range_change",
        ],
        "verdict" => &["pass", "fail", "retest"],
        "proof" => &["seen", "operator"],
        "basis" => &["documented", "tried", "assumed"],
        _ => return None,
    })
}

fn has_exactly(value: &Value, wanted: &[&str]) {
    let object = value.as_object().unwrap_or_else(|| panic!("{value}"));
    let mut found: Vec<&str> = object.keys().map(String::as_str).collect();
    let mut wanted = wanted.to_vec();
    found.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(found, wanted, "{value}");
    for (key, value) in object {
        if let Some(allowed) = allowed(key) {
            assert!(allowed.contains(&value.as_str().unwrap()), "{key}: {value}");
        }
        if key.ends_with("_s") && key != "interval_s" {
            assert!(
                value.as_f64().is_some_and(|span| span >= 0.0),
                "{key}: {value}"
            );
        }
    }
}

/// Holds a run against the contract; gives the names of its finished steps.
pub(super) fn keeps(run: &Finished) -> Vec<&str> {
    for line in &run.lines {
        let mut wanted = keys(event(line)).to_vec();
        wanted.push("event");
        has_exactly(line, &wanted);
    }
    assert_eq!(of_event(&run.lines, "verdict").len(), 1);
    let verdict = run.verdict();
    let blind_spot = &verdict["blind_spot"];
    has_exactly(
        blind_spot,
        &[
            "interval_s",
            "aperture_s",
            "basis",
            "held_s",
            "sure_s",
            "chance",
        ],
    );
    for chance in blind_spot["chance"].as_array().unwrap() {
        has_exactly(chance, &["break_s", "p", "p_cautious"]);
    }
    let done = of_event(&run.lines, "step_done");
    let steps = verdict["steps"].as_array().unwrap();
    for (step, line) in steps.iter().zip(&done) {
        has_exactly(step, STEP_DONE);
        for key in STEP_DONE {
            assert_eq!(step[key], line[key]);
        }
    }
    let names = |of: Vec<&Value>| -> Vec<String> {
        of.iter().map(|step| step["step"].to_string()).collect()
    };
    assert_eq!(names(steps.iter().collect()), names(done));
    let status = match verdict["verdict"].as_str().unwrap() {
        "pass" => 0,
        "fail" => 1,
        "retest" => 3,
        other => panic!("{other}"),
    };
    assert_eq!(run.status.code(), Some(status), "{verdict}");
    assert_eq!(run.complaint, "");
    assert_eq!(verdict["check"], "lead");
    assert!(
        verdict["reasons"]
            .as_array()
            .is_some_and(|reasons| !reasons.is_empty())
    );
    steps
        .iter()
        .map(|step| step["step"].as_str().unwrap())
        .collect()
}

fn proofs(run: &Finished) -> Vec<&str> {
    of_event(&run.lines, "step_done")
        .iter()
        .map(|step| step["proof"].as_str().unwrap())
        .collect()
}

#[test]
fn a_good_lead_passes_end_to_end() {
    let good = STAGE.good.get();
    assert_eq!(keeps(good), ["tip", "sleeve", "isolation"]);
    assert_eq!(good.verdict()["verdict"], "pass", "{}", good.verdict());
    assert_eq!(proofs(good), ["seen", "seen", "operator"]);
}

#[test]
fn a_good_lead_passes_by_the_loop() {
    let good = STAGE.good_loop.get();
    assert_eq!(keeps(good), ["loop", "isolation"]);
    assert_eq!(good.verdict()["verdict"], "pass", "{}", good.verdict());
    assert_eq!(proofs(good), ["seen", "seen"]);
}

#[test]
fn the_first_line_tells_the_port_and_the_format() {
    let good = STAGE.good.get();
    let first = &good.lines[0];
    assert_eq!(event(first), "opened");
    assert_eq!(first["protocol"], super::SEGMENTS);
    let place = good.home.path().join("meter");
    assert_eq!(first["source"], format!("serial:{}", place.display()));
    // Three readings a second, as the format's file has it.
    let interval = first["interval_s"].as_f64().unwrap();
    assert!((interval - 1.0 / 3.0).abs() < 1e-5, "{interval}");
}

#[test]
fn ticks_are_numbered_up_to_what_the_step_needs() {
    let good = STAGE.good.get();
    for step in ["tip", "sleeve", "isolation"] {
        let ticks = of_event(&good.lines, "tick");
        let ticks: Vec<_> = ticks.iter().filter(|tick| tick["step"] == step).collect();
        let of = ticks[0]["of"].as_u64().unwrap();
        assert!(of >= 10, "{of}");
        let mut last = 0;
        for tick in ticks {
            let flex = tick["flex"].as_u64().unwrap();
            // A bend that could not be watched is asked for again under its number.
            assert!(flex == last || flex == last + 1, "{flex} after {last}");
            last = flex;
        }
        assert_eq!(last, of);
    }
}

#[test]
fn readings_are_told_only_when_asked_for() {
    let good = STAGE.good.get();
    assert!(!of_event(&good.lines, "reading").is_empty());
    let short = STAGE.short.get();
    assert_eq!(keeps(short), ["tip", "sleeve", "isolation"]);
    assert!(of_event(&short.lines, "reading").is_empty());
    // Tip and sleeve that touch all the time are seen, without a word from the operator.
    assert_eq!(short.verdict()["verdict"], "fail");
    assert_eq!(short.verdict()["steps"][2]["verdict"], "fail");
}

#[test]
fn a_reading_without_a_number_has_none() {
    let good = STAGE.good.get();
    for reading in of_event(&good.lines, "reading") {
        let is_number = reading["state"] == "number";
        assert_eq!(reading["ohms"].is_number(), is_number, "{reading}");
        assert_eq!(reading["ohms"].is_null(), !is_number, "{reading}");
    }
}

#[test]
fn a_tip_that_opens_fails_with_its_breaks() {
    let opens = STAGE.tip_opens.get();
    keeps(opens);
    let breaks = of_event(&opens.lines, "break");
    assert!(breaks.len() >= 2, "{:?}", opens.lines.last());
    for seen in &breaks {
        assert_eq!(seen["step"], "tip");
        let span = |key: &str| seen[key].as_f64().unwrap();
        assert!(span("from_s") <= span("to_s"), "{seen}");
        assert!(span("at_least_s") <= span("at_most_s"), "{seen}");
    }
    assert_eq!(opens.verdict()["verdict"], "fail", "{:#?}", told(opens));
    assert_eq!(opens.verdict()["steps"][0]["verdict"], "fail");
    assert_eq!(opens.verdict()["steps"][1]["verdict"], "pass");
}

#[test]
fn a_sleeve_that_opens_fails_by_the_loop() {
    let opens = STAGE.sleeve_opens_loop.get();
    keeps(opens);
    assert!(!of_event(&opens.lines, "break").is_empty());
    assert_eq!(opens.verdict()["verdict"], "fail", "{:#?}", told(opens));
}

#[test]
fn a_tip_that_touches_the_sleeve_fails_with_its_touches() {
    let touching = STAGE.touches.get();
    keeps(touching);
    let touches = of_event(&touching.lines, "touch");
    assert!(touches.iter().all(|seen| seen["step"] == "isolation"));
    assert!(!touches.is_empty());
    assert_eq!(touching.verdict()["verdict"], "fail");
}

#[test]
fn a_parted_sleeve_fails_by_the_operators_word() {
    let open = STAGE.sleeve_open.get();
    assert_eq!(keeps(open), ["tip", "sleeve", "isolation"]);
    assert_eq!(open.verdict()["verdict"], "fail");
    assert_eq!(proofs(open), ["seen", "operator", "operator"]);
}

#[test]
fn damp_between_tip_and_sleeve_is_a_retest() {
    let damp = STAGE.damp.get();
    assert_eq!(keeps(damp), ["tip", "sleeve", "isolation"]);
    assert_eq!(damp.verdict()["verdict"], "retest", "{}", damp.verdict());
}

#[test]
fn a_bad_joint_fails_by_its_resistance() {
    let joint = STAGE.joint_loop.get();
    keeps(joint);
    assert_eq!(joint.verdict()["verdict"], "fail");
    // 8 ohms of joint, some 0.4 of copper and 0.25 of probe leads.
    let ohms = joint.verdict()["steps"][0]["ohms"].as_f64().unwrap();
    assert!((8.0..10.0).contains(&ohms), "{ohms}");
}

#[test]
fn a_joint_that_changes_its_level_jumps() {
    let joint = STAGE.joint_tolerated.get();
    keeps(joint);
    // 8 ohms at rest are within this limit; 9.5 while bent, from bend to bend, are a jump.
    let jumps = of_event(&joint.lines, "jump");
    assert!(!jumps.is_empty(), "{:#?}", told(joint));
    assert!(jumps.iter().all(|seen| seen["step"] == "tip"));
    assert_ne!(joint.verdict()["verdict"], "pass");
}

/// What a run said besides its readings, for a failure's own words.
fn told(run: &Finished) -> Vec<String> {
    let lines = run.lines.iter().filter(|line| event(line) != "reading");
    lines.map(Value::to_string).collect()
}
