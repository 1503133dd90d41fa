//! A recording gives the same lines, the same verdict and the same exit status as the run that
//! made it, from its readings and from its raw bytes; and readings can be judged anew.

use std::path::Path;

use serde_json::{Value, json};

use super::driver::Finished;
use super::stage::{Late, STAGE};
use super::{Ran, event, of_event, ran_in};

fn replayed(run: &Finished, more: &[&str]) -> Ran {
    let table = run.table();
    let mut arguments = vec!["replay", table.to_str().unwrap(), "--json"];
    arguments.extend_from_slice(more);
    ran_in(run.home.path(), &arguments, "")
}

/// The lines, with the recording's path out of the way: the one thing that may differ.
fn without_path(lines: &[Value]) -> Vec<Value> {
    let mut lines = lines.to_vec();
    if let Some(verdict) = lines.last_mut() {
        verdict["recording"] = Value::Null;
    }
    lines
}

fn replays_alike(late: &Late) {
    let run = late.get();
    let told = !of_event(&run.lines, "reading").is_empty();
    let readings: &[&str] = if told { &["--readings"] } else { &[] };
    let protocol = run.lines[0]["protocol"].as_str().unwrap();
    let raw = [readings, &["--protocol", protocol]].concat();
    for more in [readings, &raw] {
        let again = replayed(run, more);
        assert_eq!(again.complaint, "");
        assert_eq!(again.status, run.status.code(), "{more:?}");
        let (first, second) = (without_path(&run.lines), without_path(&again.lines()));
        for (one, other) in first.iter().zip(&second) {
            assert_eq!(one, other, "{more:?}");
        }
        assert_eq!(first.len(), second.len(), "{more:?}");
    }
}

#[test]
fn a_pass_replays_alike() {
    replays_alike(&STAGE.good);
    replays_alike(&STAGE.good_loop);
}

#[test]
fn breaks_touches_and_jumps_replay_alike() {
    replays_alike(&STAGE.tip_opens);
    replays_alike(&STAGE.sleeve_opens_loop);
    replays_alike(&STAGE.touches);
    replays_alike(&STAGE.joint_tolerated);
}

#[test]
fn time_outs_and_confirmations_replay_alike() {
    replays_alike(&STAGE.sleeve_open);
    replays_alike(&STAGE.short);
    replays_alike(&STAGE.damp);
}

#[test]
fn a_polled_meter_replays_alike() {
    replays_alike(&STAGE.polled_loop);
    replays_alike(&STAGE.polled_socket);
}

#[test]
fn the_verdict_names_a_recording_that_is_there() {
    let run = STAGE.good.get();
    let named = run.verdict()["recording"].as_str().unwrap();
    let named = run.home.path().join(named);
    assert_eq!(named, run.table());
    // RFC 4180: lines end in CR LF; the header as the contract has it.
    let table = std::fs::read_to_string(&named).unwrap();
    let header = "elapsed_s,quantity,state,value,unit,resolution,annunciators,mark\r\n";
    assert!(table.starts_with(header));
    assert!(table.ends_with(",finished\r\n"), "{table}");
    assert_eq!(table.matches(",confirm\r\n").count(), 1);
}

#[test]
fn the_sidecar_tells_what_the_run_was() {
    let run = STAGE.good.get();
    let text = std::fs::read(run.table().with_extension("json")).unwrap();
    let sidecar: Value = serde_json::from_slice(&text).unwrap();
    assert_eq!(sidecar["protocol"], "lcd-segments-14");
    assert_eq!(sidecar["check"]["name"], "lead");
    assert_eq!(sidecar["check"]["wait_s"], 2.0);
    assert_eq!(sidecar["verdict"]["verdict"], "pass");
    assert_eq!(sidecar["verdict"]["reasons"], run.verdict()["reasons"]);
    // RFC 3339, section 5.6, in UTC.
    let began = sidecar["began"].as_str().unwrap();
    let shape: String = began
        .chars()
        .map(|c| if c.is_ascii_digit() { '0' } else { c })
        .collect();
    assert_eq!(shape, "0000-00-00T00:00:00Z", "{began}");
}

/// A check of the user's own on the readings of the good lead.
fn judged_anew(options: &str) -> Ran {
    let run = STAGE.good.get();
    let table = run.table();
    let line = format!("lead --json --tick 0.12s --wait 2s {options} --from");
    let mut arguments: Vec<&str> = line.split_whitespace().collect();
    arguments.push(table.to_str().unwrap());
    ran_in(run.home.path(), &arguments, "")
}

#[test]
fn a_recording_is_judged_anew_with_the_same_options() {
    let run = STAGE.good.get();
    let again = judged_anew("--readings");
    assert_eq!(again.status, Some(0), "{again:?}");
    let (mut first, mut second) = (without_path(&run.lines), without_path(&again.lines()));
    assert_eq!(
        second[0]["source"],
        json!(run.table().display().to_string())
    );
    (first[0]["source"], second[0]["source"]) = (Value::Null, Value::Null);
    assert_eq!(first, second);
}

/// The format of the runs as a file of one's own, that of a meter six times as fast; beside
/// the recording, whose sidecar knows the slower one.
fn other_format(run: &Finished) -> std::path::PathBuf {
    let built_in = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/protocols/lcd-segments-14.toml"
    );
    let text = std::fs::read_to_string(built_in).unwrap();
    let other = text
        .replace("id = \"lcd-segments-14\"", "id = \"mine\"")
        .replace(
            "readings_per_second = 3.0",
            "readings_per_second = 20.0\naperture_s = 0.01",
        );
    assert_ne!(text, other);
    let file = run.home.path().join("mine.toml");
    std::fs::write(&file, other).unwrap();
    file
}

#[test]
fn another_format_is_taken_at_its_word_and_not_at_the_recordings() {
    let run = STAGE.good.get();
    assert_eq!(run.lines[0]["interval_s"], 0.333_333);
    let file = other_format(run);
    let read_anew = replayed(run, &["--protocol", path(&file)]);
    let judged_anew = judged_anew(&format!("--protocol {}", path(&file)));
    let home = run.home.path();
    let table = run.table();
    let watch = ["watch", "--json", "--protocol", path(&file), "--from"];
    let watched = ran_in(home, &[&watch[..], &[path(&table)]].concat(), "");
    for ran in [&read_anew, &judged_anew, &watched] {
        let lines = ran.lines();
        assert_eq!(lines[0]["protocol"], "mine", "{ran:?}");
        assert_eq!(lines[0]["interval_s"], 0.05, "{ran:?}");
    }
    for ran in [&read_anew, &judged_anew] {
        let lines = ran.lines();
        let spot = &lines.last().unwrap()["blind_spot"];
        assert_eq!(spot["aperture_s"], 0.01, "{ran:?}");
    }
    // The bytes are understood anew, not taken from the table.
    let numbers = |ran: &Ran| ran.lines().last().unwrap()["numbers"].clone();
    let lines = judged_anew_as("number-lines", "watch --json");
    assert_eq!(numbers(&lines), 0, "{lines:?}");
    assert_ne!(numbers(&watched), 0);
}

/// A command on the good lead's bytes, read with this format.
fn judged_anew_as(protocol: &str, command: &str) -> Ran {
    let run = STAGE.good.get();
    let table = run.table();
    let mut arguments: Vec<&str> = command.split(' ').collect();
    arguments.extend(["--protocol", protocol, "--from", path(&table)]);
    ran_in(run.home.path(), &arguments, "")
}

#[test]
fn a_recording_is_judged_anew_with_a_tighter_limit() {
    // The tip reads 0.5 ohm, probe leads and all.
    let again = judged_anew("--tare 0 --limit 0.1");
    assert_eq!(again.status, Some(1), "{again:?}");
    let lines = again.lines();
    assert_eq!(of_event(&lines, "step_done")[0]["verdict"], "fail");
}

#[test]
fn a_recording_is_watched() {
    let run = STAGE.good.get();
    let table = run.table();
    let watched = ran_in(
        run.home.path(),
        &["watch", "--json", "--readings", "--from", path(&table)],
        "",
    );
    assert_eq!(watched.status, Some(0), "{watched:?}");
    let readings = |lines: &[Value]| -> Vec<Value> {
        of_event(lines, "reading").into_iter().cloned().collect()
    };
    let lines = watched.lines();
    assert_eq!(readings(&lines), readings(&run.lines));
    assert!(lines.iter().all(|line| event(line) != "step"));
}

#[test]
fn no_recording_is_left_when_none_is_wanted() {
    let home = tempfile::tempdir().unwrap();
    let input = "0.5\n0.5\n";
    let arguments = "watch --json --record off --protocol number-lines --from -";
    let arguments: Vec<&str> = arguments.split(' ').collect();
    assert_eq!(ran_in(home.path(), &arguments, input).status, Some(0));
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
}

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}
