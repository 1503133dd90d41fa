//! A trial of the meter through the real program: what it finds is kept, and the checks that
//! follow reckon with it, a replay of them too.

use std::fs;

use steadyohm::bench::{BoardPlan, LeadFault, MeterSettings, OperatorStyle, Ranging};
use steadyohm::reading::Seconds;

use super::driver::{Finished, Scene, words};
use super::{event, of_event, ran, ran_in};

/// A meter of 50 ms a reading, 40 ms of that averaging, and a board that it does not fall in
/// step with.
fn tried() -> Finished {
    let lengths = [5.0, 10.0, 20.0].map(|ms| Seconds(ms / 1e3));
    let mut scene = Scene::new(LeadFault::Good);
    scene.bench.meter = MeterSettings {
        ranging: Ranging::Fixed(0),
        ..MeterSettings::handheld(20.0)
    };
    scene.bench.operator =
        OperatorStyle::Board(BoardPlan::new(&lengths, 12, Seconds(0.681), Seconds(1.5)));
    scene.arguments = words("watch --trial 5,10,20 --gaps 12 --every 681ms --json --readings");
    scene.go()
}

fn lead(trials: Option<String>) -> Finished {
    let mut scene = Scene::new(LeadFault::Good);
    scene.bench.meter = MeterSettings::handheld(20.0);
    scene.trials = trials;
    scene.go()
}

#[test]
fn what_a_trial_finds_is_kept_and_reckoned_with() {
    let trial = tried();
    let verdict = trial.verdict();
    assert_eq!(trial.status.code(), Some(0), "{trial:?}");
    assert_eq!(
        (&verdict["check"], &verdict["verdict"]),
        (&"trial".into(), &"pass".into())
    );
    assert_eq!(verdict["blind_spot"]["basis"], "tried");
    assert_eq!(of_event(&trial.lines, "step_done").len(), 4);
    let file = trial.home.path().join(".config/steadyohm/trials.toml");
    assert!(
        trial.complaint.contains(file.to_str().unwrap()),
        "{}",
        trial.complaint
    );
    let kept = fs::read_to_string(file).unwrap();
    let table: toml::Table = kept.parse().unwrap();
    let entry = &table["trial"][0];
    assert_eq!(entry["protocol"].as_str(), Some("lcd-segments-14"));
    let aperture: Vec<f64> = entry["aperture_s"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(toml::Value::as_float)
        .collect();
    assert!(aperture[1] <= 0.04 && 0.04 <= aperture[2], "{kept}");
    assert_eq!(entry["gaps"].as_array().unwrap().len(), 3);

    // Its recording replays to the same, and keeps nothing.
    let recording = trial.table();
    let elsewhere = tempfile::tempdir().unwrap();
    let replay = [
        "replay",
        recording.to_str().unwrap(),
        "--json",
        "--readings",
    ];
    let again = ran_in(elsewhere.path(), &replay, "");
    assert_eq!(again.status, Some(0), "{}", again.complaint);
    let mut one = trial.lines.clone();
    let mut other = again.lines();
    for lines in [&mut one, &mut other] {
        lines.last_mut().unwrap()["recording"] = serde_json::Value::Null;
    }
    assert_eq!(one, other);
    assert_eq!(fs::read_dir(elsewhere.path()).unwrap().count(), 0);

    let check = lead(Some(kept));
    let verdict = check.verdict();
    assert_eq!(verdict["verdict"], "pass", "{verdict}");
    assert_eq!(verdict["blind_spot"]["basis"], "tried", "{verdict}");
    // What the check reckoned with is in its own recording: a replay needs no trial.
    let recording = check.table();
    let replay = ["replay", recording.to_str().unwrap(), "--json"];
    let again = ran_in(elsewhere.path(), &replay, "");
    let last = again.lines().pop().unwrap();
    assert_eq!(event(&last), "verdict");
    assert_eq!(last["blind_spot"], verdict["blind_spot"]);
    assert_eq!(last["steps"], verdict["steps"]);
}

#[test]
fn without_a_trial_the_assumption_is_named() {
    let home = tempfile::tempdir().unwrap();
    let recording = concat!(env!("CARGO_MANIFEST_DIR"), "/recordings/lead-good.csv");
    let told = ran_in(home.path(), &["replay", recording, "--json"], "");
    let verdict = told.lines().pop().unwrap();
    assert_eq!(verdict["blind_spot"]["basis"], "assumed");
    let plain = ran_in(home.path(), &["replay", recording, "--plain"], "").said;
    assert!(plain.contains("assum"), "{plain}");
}

#[test]
fn a_board_that_cannot_be_is_refused() {
    let refused = |arguments: &str| {
        let line: Vec<&str> = arguments.split(' ').collect();
        let ran = ran(&line);
        assert_eq!(ran.status, Some(2), "{ran:?}");
        assert_eq!(ran.said, "");
        ran.complaint
    };
    assert!(refused("watch --trial 5,900 --every 1s").contains("half of --every"));
    assert!(refused("watch --trial 5,5").contains("twice"));
    assert!(refused("watch --trial 0").contains("milliseconds"));
    assert!(refused("watch --gaps 20").contains("--trial"));
    assert!(refused("watch --trial 1,2,3,4,5,6,7,8,9,10,11,12,13").contains("dozen"));
}

#[test]
fn a_file_of_trials_that_cannot_be_read_is_named() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join(".config/steadyohm");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("trials.toml"), "[[trial]]\nprotocol = 3\n").unwrap();
    let line = [
        "watch",
        "--from",
        "-",
        "--protocol",
        "number-lines",
        "--record",
        "off",
    ];
    let ran = ran_in(home.path(), &line, "1.0\n");
    assert_eq!(ran.status, Some(2), "{ran:?}");
    assert!(ran.complaint.contains("trials.toml"), "{ran:?}");
    assert!(ran.complaint.contains("mend the file"), "{ran:?}");
}
