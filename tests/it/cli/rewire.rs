//! A job written, refused with its line, planned; a demo through a real pseudo-terminal, kept,
//! replayed and reported.

use std::fs;

use serde_json::Value;
use steadyohm::circuit::{Job, LAYOUTS};

use super::program::Program;
use super::refusals::says;
use super::{event, json, ran, ran_in, steadyohm};

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
    // Title, no battery, workshop, the pickup's ohms, then what is usual.
    let written = ran_in(folder.path(), &arguments, "an old one\n\n21\n7200\n");
    assert_eq!(written.status, Some(0), "{}", written.complaint);
    let text = fs::read_to_string(folder.path().join("guitar.toml")).unwrap();
    let job = Job::from_text(&text, "guitar.toml").unwrap();
    assert_eq!(job.plan().title.as_deref(), Some("an old one"));
    let pickup = job.whole().pickup.first().unwrap();
    assert!((pickup.ohms.as_ref().unwrap().get_ref() - 7200.0).abs() < 1e-9);
    assert_eq!(job.plan().to_text().unwrap(), text);
    // A file that is there is not written over.
    let again = ran_in(folder.path(), &arguments, "");
    says(again.refusal(2), &["guitar.toml is there already", "--out"]);
    assert!(!again.complaint.contains("What the instrument"));
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
fn a_slip_of_the_fingers_is_asked_again() {
    let folder = tempfile::tempdir().unwrap();
    let line = "rewire new --layout one-pickup --out guitar.toml";
    let arguments: Vec<&str> = line.split(' ').collect();
    let typed = "an old one\nperhaps\nno\nwarm\n21\nabc\n-5\n8k2\n500k\n\n";
    let written = ran_in(folder.path(), &arguments, typed);
    assert_eq!(written.status, Some(0), "{}", written.complaint);
    holds(
        &written.complaint,
        &[
            "\"perhaps\" is neither yes nor no",
            "\"warm\" is no temperature",
            "\"abc\" is no value",
            "\"-5\" is no value",
            "typical values are taken for the tone control:",
        ],
    );
    let text = fs::read_to_string(folder.path().join("guitar.toml")).unwrap();
    let job = Job::from_text(&text, "guitar.toml").unwrap();
    let pickup = job.plan().pickup.first().unwrap().ohms.as_ref().unwrap();
    assert!((pickup.get_ref() - 8200.0).abs() < 1e-9);
    // What is said is kept, though it is what the layout has.
    let volume = job.plan().control.first().unwrap().ohms.as_ref().unwrap();
    assert!((volume.get_ref() - 500e3).abs() < 1e-6);
    assert_eq!(
        job.circuit().typical().collect::<Vec<_>>(),
        ["the tone control"]
    );
}

fn holds(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "{word:?} is not in {text}");
    }
}

#[test]
fn a_job_of_no_layout_is_written_planned_and_changed() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["rewire", "new", "--layout", "free", "--out", "mine.toml"];
    let written = ran_in(folder.path(), &arguments, "");
    assert_eq!(written.status, Some(0), "{}", written.complaint);
    holds(&written.complaint, &["mine.toml", "--plan"]);
    let plan = ran_in(folder.path(), &["rewire", "mine.toml", "--plan"], "");
    assert_eq!(plan.status, Some(0), "{}", plan.complaint);
    // 8 kΩ beside the whole track of 500 kΩ, 1 Ω of it at the wiper's stop, and with the switch
    // off the track alone: by hand.
    holds(
        &plan.said,
        &[
            "kill switch at on",
            "kill switch at off",
            "7.875 kΩ",
            "500.0 kΩ",
        ],
    );
    let text = fs::read_to_string(folder.path().join("mine.toml")).unwrap();
    let wrong = text.replace(
        "[\"splice\", \"volume.top\"]",
        "[\"splice\", \"volume.topp\"]",
    );
    fs::write(folder.path().join("mine.toml"), &wrong).unwrap();
    let refused = ran_in(folder.path(), &["rewire", "mine.toml", "--plan"], "");
    let line = wrong
        .lines()
        .position(|line| line.contains("topp"))
        .unwrap()
        + 1;
    says(
        refused.refusal(2),
        &[
            &format!("mine.toml, line {line}"),
            "volume.top, volume.wiper",
        ],
    );
    let active = wrong
        .replace("topp", "top")
        .replace("# active = true", "active = true");
    fs::write(folder.path().join("mine.toml"), active).unwrap();
    let plan = ran_in(folder.path(), &["rewire", "mine.toml", "--plan"], "");
    holds(
        &plan.said,
        &["Battery out", "bridge and strings", "meaningful are"],
    );
    assert!(!plan.said.contains("kill switch at off"), "{}", plan.said);
}

#[test]
fn the_table_of_chances_is_printed_changed_and_refused_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let printed = ran(&["rewire", "priors"]);
    assert_eq!(printed.status, Some(0));
    let table = printed.said.clone();
    holds(&table, &["Common practice, no", "[chance.joint]"]);
    let with = |text: &str| {
        fs::write(folder.path().join("chances.toml"), text).unwrap();
        let line = "demo rewire --layout one-pickup --rate 50 --wait 3s --json --record kept \
                    --priors chances.toml";
        let arguments: Vec<&str> = line.split_whitespace().collect();
        ran_in(folder.path(), &arguments, "")
    };
    let wrong = table.replacen("open = 0.004", "open = 4", 1);
    let line = wrong.lines().position(|line| line == "open = 4").unwrap() + 1;
    says(
        with(&wrong).refusal(2),
        &[&format!(
            "chances.toml, line {line}: chance.switch.open = 4 must be"
        )],
    );
    // It is kept with the recording, so that a replay needs no file.
    let run = with(&table.replacen("open = 0.004", "open = 0.04", 1));
    assert_eq!(run.status, Some(0), "{}", run.complaint);
    fs::remove_file(folder.path().join("chances.toml")).unwrap();
    let lines = run.lines();
    let kept = lines.last().unwrap()["recording"]
        .as_str()
        .unwrap()
        .to_owned();
    let replayed = ran_in(folder.path(), &["replay", &kept, "--json"], "");
    assert_eq!(without_path(lines), without_path(replayed.lines()));
    let report = ran_in(
        folder.path(),
        &["report", &kept, "--format", "markdown"],
        "",
    );
    holds(&report.said, &["chances.toml and not the built-in"]);
}

/// The state's number in the simulator's list.
fn number_of(complaint: &str, step: &str) -> Option<String> {
    complaint.lines().find_map(|line| {
        let (number, name) = line.trim().split_once("  ")?;
        (name == step).then(|| number.to_owned())
    })
}

#[tokio::test]
async fn a_simulated_instrument_is_checked_from_a_second_terminal() {
    let home = tempfile::tempdir().unwrap();
    // What the simulator lists, from one that is given nothing to do.
    let mut listing = steadyohm(home.path());
    listing.args(["simulate", "rewire", "--layout", "one-pickup"]);
    let mut listing = Program::start(listing);
    listing.line().await.unwrap();
    listing.signal("TERM");
    assert_eq!(listing.line().await, None);
    let (_, list) = listing.end();
    holds(
        &list,
        &[
            "steadyohm rewire new --layout one-pickup",
            "volume control at zero",
        ],
    );

    let mut command = steadyohm(home.path());
    let line = "simulate rewire --layout one-pickup --rate 50 --fault 1";
    command.args(line.split(' '));
    let mut simulator = Program::start(command);
    let path = simulator.line().await.unwrap();
    let job = LAYOUTS
        .iter()
        .find(|layout| layout.id == "one-pickup")
        .unwrap();
    fs::write(home.path().join("guitar.toml"), job.text).unwrap();
    let mut command = steadyohm(home.path());
    command.current_dir(home.path());
    let line =
        "rewire guitar.toml --json --record off --wait 3s --protocol lcd-segments-14 --from";
    command.args(line.split(' ')).arg(&path);
    let mut check = Program::start(command);
    let mut last = None;
    while let Some(line) = check.line().await {
        let line = json(&line);
        match event(&line) {
            "step" => {
                let number = number_of(&list, line["step"].as_str().unwrap()).unwrap();
                simulator.feed(&format!("{number}\n"));
            }
            "phase" if line["phase"] == "confirm" => check.enter(),
            _ => {}
        }
        last = Some(line);
    }
    let last = last.unwrap();
    assert_eq!(event(&last), "verdict");
    assert_eq!(last["verdict"], "fail", "{last}");
    assert_eq!(check.end().0.code(), Some(1));
}

#[test]
fn every_layout_is_listed() {
    let listed = ran(&["rewire", "layouts"]);
    assert_eq!(listed.status, Some(0));
    for layout in LAYOUTS {
        assert!(listed.said.contains(layout.id), "{}", layout.id);
    }
    holds(&listed.said, &["free "]);
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
