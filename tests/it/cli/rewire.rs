//! A job written, refused with its line, planned; a demo through a real pseudo-terminal, kept,
//! replayed and reported.

use std::fs;

use serde_json::Value;
use steadyohm::circuit::{Job, LAYOUTS};

use super::refusals::says;
use super::{ran, ran_in};

#[test]
fn a_job_that_is_missing_or_wrong_is_refused_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let missing = ran_in(folder.path(), &["rewire", "guitar.toml"], "");
    says(missing.refusal(2), &["guitar.toml"]);
    let none = ran(&["rewire"]);
    says(none.refusal(2), &["job file", "rewire new"]);
    let job = "schema = 1\nlayout = \"one-pickup\"\ncolour = \"red\"\n";
    fs::write(folder.path().join("guitar.toml"), job).unwrap();
    let wrong = ran_in(folder.path(), &["rewire", "guitar.toml"], "");
    says(wrong.refusal(2), &["guitar.toml, line 3", "colour"]);
    let unknown = ran(&["rewire", "new", "--layout", "seven-necks"]);
    says(unknown.refusal(2), &["seven-necks", "rewire layouts"]);
}

#[test]
fn what_new_writes_is_planned() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = [
        "rewire",
        "new",
        "--layout",
        "one-pickup",
        "--out",
        "guitar.toml",
    ];
    // Title, workshop, the pickup's ohms, then what is usual.
    let written = ran_in(folder.path(), &arguments, "an old one\n21\n7200\n");
    assert_eq!(written.status, Some(0), "{}", written.complaint);
    let text = fs::read_to_string(folder.path().join("guitar.toml")).unwrap();
    let job = Job::from_text(&text, "guitar.toml").unwrap();
    assert_eq!(job.plan().title.as_deref(), Some("an old one"));
    let pickup = job.whole().pickup.first().unwrap();
    assert!((pickup.ohms.as_ref().unwrap().get_ref() - 7200.0).abs() < 1e-9);
    assert_eq!(job.plan().to_text().unwrap(), text);
    // A file that is there is not written over.
    let again = ran_in(folder.path(), &arguments, "");
    assert_eq!(again.status, Some(2));
    let plan = ran_in(folder.path(), &["rewire", "guitar.toml", "--plan"], "");
    assert_eq!(plan.status, Some(0), "{}", plan.complaint);
    assert!(
        plan.said.contains("volume control at zero"),
        "{}",
        plan.said
    );
    assert!(plan.said.contains("direct current"), "{}", plan.said);
}

#[test]
fn every_layout_is_listed() {
    let listed = ran(&["rewire", "layouts"]);
    assert_eq!(listed.status, Some(0));
    for layout in LAYOUTS {
        assert!(listed.said.contains(layout.id), "{}", layout.id);
    }
}

/// The lines, with the recording's path out of the way.
fn without_path(mut lines: Vec<Value>) -> Vec<Value> {
    if let Some(verdict) = lines.last_mut() {
        verdict["recording"] = Value::Null;
    }
    lines
}

#[test]
fn a_demo_is_kept_replayed_and_reported() {
    let folder = tempfile::tempdir().unwrap();
    let line =
        "demo rewire --layout one-pickup --fault 1 --rate 50 --wait 3s --json --record kept";
    let arguments: Vec<&str> = line.split(' ').collect();
    let run = ran_in(folder.path(), &arguments, "");
    assert_eq!(run.status, Some(1), "{}", run.complaint);
    let lines = run.lines();
    let verdict = lines.last().unwrap();
    assert_eq!(verdict["check"], "rewire");
    assert!(lines.iter().any(|line| line["wants"] == "value"));
    let table = verdict["recording"].as_str().unwrap().to_owned();
    let replayed = ran_in(folder.path(), &["replay", &table, "--json"], "");
    assert_eq!(replayed.status, Some(1), "{}", replayed.complaint);
    assert_eq!(without_path(lines), without_path(replayed.lines()));
    let report = ran_in(
        folder.path(),
        &["report", &table, "--format", "markdown"],
        "",
    );
    let text = format!("{}{}", report.said, report.complaint);
    let state = text
        .lines()
        .find(|line| line.starts_with("| volume control at zero"));
    assert!(state.is_some_and(|line| line.contains("Ω to ")), "{text}");
}
