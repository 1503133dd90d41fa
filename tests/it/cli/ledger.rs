//! The ledger as the program keeps and shows it: real files, real runs, and whatever stands in
//! its way.

mod counted; // what is cut, stopped or undone

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use super::refusals::{is_root, says};
use super::{Ran, event, json, ran_in};
use crate::record::ledger::HARMFUL;

/// Readings of a short run on standard input, which ends in a retest.
pub(super) const READINGS: &str = "0.50\n0.51\n0.50\n0.51\n0.50\n0.51\n0.50\n0.51\n0.50\n";

/// A lead check on standard input, with more arguments.
fn lead(home: &Path, more: &[&str]) -> Ran {
    let line = "lead --from - --protocol number-lines --tick 0.12s";
    let arguments: Vec<&str> = line.split(' ').chain(more.iter().copied()).collect();
    ran_in(home, &arguments, READINGS)
}

fn ledger(home: &Path, more: &[&str]) -> Ran {
    let arguments: Vec<&str> = ["ledger"].into_iter().chain(more.iter().copied()).collect();
    ran_in(home, &arguments, "")
}

/// Every run of a ledger, by its identity.
pub(super) fn runs(home: &Path, file: &str) -> BTreeMap<String, Value> {
    let ran = ledger(home, &["list", "--all", "--json", "--ledger", file]);
    assert_eq!((ran.status, &*ran.complaint), (Some(0), ""), "{ran:?}");
    let lines = ran.lines().into_iter();
    lines
        .map(|line| (line["run"].as_str().unwrap().to_owned(), line))
        .collect()
}

const DEFAULT: &str = ".local/share/steadyohm/ledger.sqlite";

#[test]
fn a_check_is_in_the_ledger_when_it_says_so() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let about = [
        "--plain", "--tag", "L-014", "--batch", "spring", "--lot", "A7",
    ];
    let ran = lead(home, &[&about[..], &["--temperature", "68F"]].concat());
    assert_eq!(ran.status, Some(3), "{ran:?}");
    let told = ran
        .said
        .lines()
        .find_map(|line| line.trim().strip_prefix("in the ledger as "))
        .unwrap_or_else(|| panic!("{ran:?}"));
    let runs = runs(home, DEFAULT);
    let line = &runs[told];
    for (key, wanted) in [
        ("tag", "L-014"),
        ("batch", "spring"),
        ("lot", "A7"),
        ("kind", "lead"),
        ("verdict", "retest"),
        ("protocol", "number-lines"),
    ] {
        assert_eq!(line[key], wanted, "{line}");
    }
    assert_eq!(line["temperature_c"], 20.0);
    // The recording is named from the ledger's folder, so that both can move together.
    let table = home
        .join(".local/share/steadyohm")
        .join(line["recording"].as_str().unwrap());
    assert!(table.is_file(), "{line}");
    let sidecar: Value =
        serde_json::from_slice(&fs::read(table.with_extension("json")).unwrap()).unwrap();
    assert_eq!(sidecar["run"]["id"], told);

    let shown = ledger(home, &["show", "--json", told]).lines();
    assert_eq!(shown[0]["sidecar"], sidecar);
    let by_path = ledger(home, &["show", table.to_str().unwrap()]);
    says_all(
        &by_path.said,
        &[told, "RETEST", "L-014", "20.0 °C", "reasons", "steps"],
    );
    let checked = ledger(home, &["check"]);
    assert_eq!(checked.status, Some(0), "{checked:?}");
    says_all(&checked.said, &["1 runs, sound"]);
}

fn says_all(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "{word:?} is not in {text:?}");
    }
}

#[test]
fn the_verdict_line_is_the_contracts_with_a_ledger_too() {
    let home = tempfile::tempdir().unwrap();
    let ran = lead(home.path(), &["--json", "--tag", "L-1"]);
    let lines = ran.lines();
    let verdict = lines.last().unwrap();
    assert_eq!(event(verdict), "verdict");
    let keys: Vec<&String> = verdict.as_object().unwrap().keys().collect();
    assert_eq!(keys.len(), 7, "{keys:?}");
    assert_eq!(runs(home.path(), DEFAULT).len(), 1);
}

#[test]
fn a_line_without_a_recording_is_kept_only_when_a_ledger_is_named() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    lead(home, &["--json", "--record", "off"]);
    lead(home, &["--json", "--ledger", "off", "--record", "kept"]);
    assert!(!home.join(DEFAULT).exists());
    lead(
        home,
        &[
            "--json",
            "--record",
            "off",
            "--ledger",
            "own.sqlite",
            "--tag",
            "L-1",
        ],
    );
    let before = runs(home, "own.sqlite");
    assert_eq!(before.len(), 1);
    assert!(before.values().all(|line| line["recording"].is_null()));
    // Nothing but the ledger knows of it: a rebuild leaves it, and takes the other one in.
    let rebuilt = ledger(
        home,
        &["rebuild", "--ledger", "own.sqlite", "--from", "kept"],
    );
    says_all(
        &rebuilt.said,
        &["1 runs came in", "1 runs have no recording"],
    );
    let after = runs(home, "own.sqlite");
    assert_eq!(after.len(), 2);
    assert!(before.iter().all(|(run, line)| after[run] == *line));
}

#[test]
fn what_keeps_nothing_takes_no_tag_and_no_ledger() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    lead(home, &["--json", "--record", "kept", "--ledger", "off"]);
    let table = fs::read_dir(home.join("kept"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|end| end == "csv"))
        .unwrap();
    let table = table.to_str().unwrap();
    for arguments in [
        &["replay", table, "--tag", "L-1"][..],
        &["replay", table, "--ledger", "own.sqlite"],
        &["lead", "--from", table, "--note", "20"],
    ] {
        let refused = ran_in(home, arguments, "");
        says(
            refused.refusal(2),
            &["is not kept", arguments[arguments.len() - 2]],
        );
    }
    let watch = "watch --from - --protocol number-lines --ledger own.sqlite";
    let refused = ran_in(home, &watch.split(' ').collect::<Vec<_>>(), "0.5\n");
    says(refused.refusal(2), &["a watch judges nothing"]);
    assert!(!home.join("own.sqlite").exists());
}

#[test]
fn harmful_text_is_only_text() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let typed: Vec<&str> = HARMFUL
        .into_iter()
        .filter(|text| !text.contains('\0'))
        .collect();
    for text in &typed {
        let mut more = vec!["--json", "--record", "kept", "--ledger", "own.sqlite"];
        for option in ["--tag", "--instrument", "--batch", "--lot", "--note"] {
            more.extend([option, text]);
        }
        assert_eq!(lead(home, &more).status, Some(3));
    }
    for text in &typed {
        for option in ["--tag", "--instrument", "--batch", "--lot"] {
            let arguments = ["list", "--json", "--ledger", "own.sqlite", option, text];
            let lines = ledger(home, &arguments).lines();
            assert_eq!(lines.len(), 1, "{option} {text}");
            assert_eq!(lines[0]["tag"], *text);
        }
        let history = ledger(home, &["history", "--ledger", "own.sqlite", text]);
        assert!(history.said.contains("RETEST"), "{history:?}");
        let listed = ledger(home, &["list", "--ledger", "own.sqlite", "--tag", text]);
        assert_eq!(listed.said.lines().next().unwrap().matches(text).count(), 4);
        let batch = ledger(home, &["batch", text, "--json", "--ledger", "own.sqlite"]).lines();
        assert_eq!(batch[0]["all"]["runs"], 1);
        let none = ledger(home, &["show", text, "--ledger", "own.sqlite"]);
        says(none.refusal(2), &["no run begins with"]);
    }
    // The table of all of it reads back (RFC 4180).
    let table = ledger(home, &["list", "--all", "--csv", "--ledger", "own.sqlite"]).said;
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let tag = rows
        .headers()
        .unwrap()
        .iter()
        .position(|name| name == "tag")
        .unwrap();
    let mut tags: Vec<String> = rows
        .records()
        .map(|row| row.unwrap().get(tag).unwrap().to_owned())
        .collect();
    tags.reverse();
    assert_eq!(tags, typed);
    assert_eq!(
        ledger(home, &["check", "--ledger", "own.sqlite"]).status,
        Some(0)
    );
}

#[test]
fn the_accuracy_of_the_meter_goes_with_every_run() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let text = "source = \"manual, page 12\"\n[[range]]\nup_to_ohms = 400.0\n\
        resolution_ohms = 0.1\npercent = 0.8\ncounts = 5\n";
    fs::write(home.join("meter.toml"), text).unwrap();
    let ran = lead(
        home,
        &["--json", "--accuracy", "meter.toml", "--tag", "L-1"],
    );
    assert_eq!(ran.status, Some(3), "{ran:?}");
    let run = runs(home, DEFAULT).into_keys().next().unwrap();
    let shown = ledger(home, &["show", "--json", &run]).lines();
    let accuracy = &shown[0]["sidecar"]["run"]["about"]["accuracy"];
    assert_eq!(accuracy["ranges"][0]["percent"], 0.8, "{shown:?}");
    fs::write(home.join("meter.toml"), text.replace("0.8", "800")).unwrap();
    let refused = lead(home, &["--json", "--accuracy", "meter.toml"]);
    says(
        refused.refusal(2),
        &["meter.toml", "range 1", "percent = 800"],
    );
}

#[test]
fn a_ledger_that_is_none_is_told_before_anything_is_measured() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    fs::write(home.join("notes.txt"), "not a ledger\n".repeat(100)).unwrap();
    let refused = lead(home, &["--json", "--ledger", "notes.txt"]);
    says(refused.refusal(2), &["notes.txt", "not a ledger"]);
    let refused = lead(home, &["--json", "--ledger", "notes.txt/ledger.sqlite"]);
    says(refused.refusal(2), &["notes.txt", "--ledger"]);
    let absent = ledger(home, &["list"]);
    says(
        absent.refusal(2),
        &["there is no ledger at", "ledger rebuild"],
    );
    assert!(!home.join(DEFAULT).exists(), "a reader makes nothing");
}

/// A disk that takes no more: the system lets no file of the process grow beyond its limit,
/// which the ledger meets in the middle of its log.
#[test]
fn a_disk_that_takes_no_more_leaves_the_verdict_and_what_was_kept() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let kept = ["--json", "--record", "kept", "--ledger", "own.sqlite"];
    lead(home, &kept);
    // While somebody reads, the log grows; it is let grow beyond what else must be written.
    let reader = rusqlite::Connection::open(home.join("own.sqlite")).unwrap();
    reader.execute_batch("BEGIN; SELECT * FROM run").unwrap();
    let size = |name: &str| fs::metadata(home.join(name)).unwrap().len();
    while size("own.sqlite-wal") < size("own.sqlite") {
        lead(home, &kept);
    }
    let before = runs(home, "own.sqlite");
    // In blocks of 512 bytes: a page or two fit, a whole run does not.
    let limit = size("own.sqlite-wal").div_ceil(512) + 12;
    let script = format!("trap '' XFSZ; ulimit -f {limit}; exec \"$0\" \"$@\"");
    let line = "lead --from - --protocol number-lines --tick 0.12s";
    let mut limited = Command::new("sh");
    limited
        .args(["-c", &script, env!("CARGO_BIN_EXE_steadyohm")])
        .args(line.split(' ').chain(kept))
        .env("HOME", home)
        .current_dir(home);
    let output = assert_cmd::Command::from(limited)
        .timeout(super::LIMIT)
        .write_stdin(READINGS)
        .output()
        .unwrap();
    let ran = Ran::of(output);
    assert_eq!(ran.status, Some(3), "{ran:?}");
    let lines = ran.lines();
    let verdict = lines.last().unwrap();
    assert_eq!(event(verdict), "verdict");
    assert!(verdict["recording"].is_string(), "{verdict}");
    says(
        ran.complaint.trim_end(),
        &[
            "this run is not entered: the ledger own.sqlite",
            "disk",
            "The verdict stands",
            "ledger rebuild",
        ],
    );
    // What was kept is there, and with room again the recording brings the other in.
    assert_eq!(runs(home, "own.sqlite"), before);
    reader.execute_batch("ROLLBACK").unwrap();
    let rebuilt = ledger(
        home,
        &["rebuild", "--ledger", "own.sqlite", "--from", "kept"],
    );
    let stood = format!("1 runs came in, {} stood as they are", before.len());
    says_all(&rebuilt.said, &[&stood]);
    let checked = ledger(home, &["check", "--ledger", "own.sqlite"]);
    assert_eq!(checked.status, Some(0), "{checked:?}");
}

/// Another process holds the ledger from before the verdict until long after.
#[test]
fn a_ledger_that_is_being_written_all_the_while_costs_no_verdict() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    lead(
        home,
        &["--json", "--record", "kept", "--ledger", "own.sqlite"],
    );
    let other = rusqlite::Connection::open(home.join("own.sqlite")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let ran = lead(
        home,
        &["--json", "--record", "kept", "--ledger", "own.sqlite"],
    );
    assert_eq!(ran.status, Some(3), "{ran:?}");
    assert_eq!(event(ran.lines().last().unwrap()), "verdict");
    says(
        ran.complaint.trim_end(),
        &[
            "this run is not entered",
            "another program",
            "ledger rebuild",
        ],
    );
    other.execute_batch("ROLLBACK").unwrap();
    ledger(home, &["rebuild", "--ledger", "own.sqlite"]);
    assert_eq!(runs(home, "own.sqlite").len(), 2);
}

/// The program as a user whom the folder does not let write; root, whom nothing stops, lowers
/// itself first.
fn where_nothing_may_be_written(home: &Path, arguments: &[&str], input: &str) -> Ran {
    let program = home.join("steadyohm");
    if !program.exists() {
        fs::copy(env!("CARGO_BIN_EXE_steadyohm"), &program).unwrap();
    }
    fs::set_permissions(home, fs::Permissions::from_mode(0o555)).unwrap();
    let mut command = if is_root() {
        let mut lowered = Command::new("setpriv");
        lowered.args(["--reuid=65534", "--regid=65534", "--clear-groups", "--"]);
        lowered.arg(&program);
        lowered
    } else {
        Command::new(&program)
    };
    command.args(arguments).env("HOME", home).current_dir(home);
    let output = assert_cmd::Command::from(command)
        .timeout(super::LIMIT)
        .write_stdin(input)
        .output()
        .unwrap();
    fs::set_permissions(home, fs::Permissions::from_mode(0o755)).unwrap();
    Ran::of(output)
}

#[test]
fn a_folder_that_may_only_be_read() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    lead(
        home,
        &[
            "--json",
            "--record",
            "off",
            "--ledger",
            "own.sqlite",
            "--tag",
            "L-1",
        ],
    );
    // The writer has put its log away; a reader needs nothing but the file.
    assert!(!home.join("own.sqlite-wal").exists());
    let listed =
        where_nothing_may_be_written(home, &["ledger", "list", "--ledger", "own.sqlite"], "");
    assert_eq!(
        (listed.status, &*listed.complaint),
        (Some(0), ""),
        "{listed:?}"
    );
    says_all(&listed.said, &["L-1"]);
    // To be told before the hands are on the probes.
    let line = "lead --json --from - --protocol number-lines --record off --ledger own.sqlite";
    let arguments: Vec<&str> = line.split(' ').collect();
    let refused = where_nothing_may_be_written(home, &arguments, READINGS);
    says(refused.refusal(2), &["own.sqlite", "--ledger"]);
    let elsewhere: Vec<&str> = line.replace("own", "new/own").leak().split(' ').collect();
    let refused = where_nothing_may_be_written(home, &elsewhere, READINGS);
    says(
        refused.refusal(2),
        &["cannot be kept in new", "--ledger off"],
    );
}

#[test]
fn two_benches_are_merged_without_doubles() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    for (bench, tag) in [
        ("one", "L-1"),
        ("one", "L-2"),
        ("two", "L-2"),
        ("two", "L-3"),
    ] {
        let record = format!("{bench}/recordings");
        let file = format!("{bench}/ledger.sqlite");
        lead(
            home,
            &[
                "--json", "--record", &record, "--ledger", &file, "--tag", tag,
            ],
        );
    }
    let (one, two) = (
        runs(home, "one/ledger.sqlite"),
        runs(home, "two/ledger.sqlite"),
    );
    let merge = |into: &str, from: &str| {
        let ran = ledger(home, &["merge", from, "--ledger", into]);
        assert_eq!(ran.status, Some(0), "{ran:?}");
        ran.said
    };
    says_all(
        &merge("one/ledger.sqlite", "two/ledger.sqlite"),
        &["2 runs came in, 0 were"],
    );
    says_all(
        &merge("one/ledger.sqlite", "two/ledger.sqlite"),
        &["0 runs came in, 2 were"],
    );
    let merged = runs(home, "one/ledger.sqlite");
    assert_eq!(merged.len(), 4);
    assert!(one.iter().all(|(run, line)| merged[run] == *line));
    assert!(two.keys().all(|run| merged.contains_key(run)));
    // The other bench's recordings are found from here.
    let checked = ledger(home, &["check", "--ledger", "one/ledger.sqlite"]);
    assert_eq!(checked.said.trim_end(), "one/ledger.sqlite: 4 runs, sound");
    // And the other way round: the same runs.
    merge("two/ledger.sqlite", "one/ledger.sqlite");
    let back = runs(home, "two/ledger.sqlite");
    assert!(back.keys().eq(merged.keys()));
}

#[test]
fn a_damaged_ledger_is_set_aside_and_made_anew() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    for tag in ["L-1", "L-2"] {
        lead(
            home,
            &[
                "--json",
                "--record",
                "kept",
                "--ledger",
                "own.sqlite",
                "--tag",
                tag,
            ],
        );
    }
    let before = runs(home, "own.sqlite");
    let path = home.join("own.sqlite");
    let mut bytes = fs::read(&path).unwrap();
    // Every page but the first, which says what the file is.
    bytes[4096..].fill(0x5a);
    fs::write(&path, &bytes).unwrap();
    let listed = ledger(home, &["list", "--ledger", "own.sqlite"]);
    assert_eq!(listed.status, Some(2), "{listed:?}");
    says(
        listed.complaint.trim_end(),
        &["own.sqlite", "damaged", "ledger rebuild"],
    );
    let rebuilt = ledger(
        home,
        &["rebuild", "--ledger", "own.sqlite", "--from", "kept"],
    );
    assert_eq!(rebuilt.status, Some(0), "{rebuilt:?}");
    says_all(&rebuilt.complaint, &["set aside as own.sqlite.damaged-"]);
    assert_eq!(runs(home, "own.sqlite"), before);
    let aside = fs::read_dir(home)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.to_str().unwrap().contains("damaged"))
        .unwrap();
    assert_eq!(fs::read(aside).unwrap(), bytes);
}

#[test]
fn recordings_from_before_the_ledger_come_in() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let golden = concat!(env!("CARGO_MANIFEST_DIR"), "/recordings");
    let count = fs::read_dir(golden)
        .unwrap()
        .filter(|entry| {
            let path = entry.as_ref().unwrap().path();
            path.extension().is_some_and(|end| end == "csv")
        })
        .count();
    for came in [count, 0] {
        let ran = ledger(
            home,
            &["rebuild", "--ledger", "own.sqlite", "--from", golden],
        );
        assert_eq!((ran.status, &*ran.complaint), (Some(0), ""), "{ran:?}");
        says_all(&ran.said, &[&format!(": {came} runs came in")]);
    }
    assert_eq!(runs(home, "own.sqlite").len(), count);
    let checked = ledger(home, &["check", "--ledger", "own.sqlite"]);
    assert_eq!(checked.status, Some(0), "{checked:?}");
}

/// One lead over the years, its temperatures and its picture.
#[test]
fn a_history_shows_the_drift() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let text = fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/recordings/lead-good.json"
    ))
    .unwrap();
    fs::create_dir(home.join("kept")).unwrap();
    // The copper's own rise of 3.93 % in 10 K, and then one of 10 % that is not the copper's.
    for (year, celsius, ohms) in [
        (2024, 20.0, 0.5),
        (2025, 30.0, 0.519_65),
        (2026, 20.0, 0.55),
    ] {
        let mut sidecar = json(&text);
        sidecar["began"] = format!("{year}-03-01T10:00:00Z").into();
        sidecar["check"]["tare_by_touch"] = true.into();
        sidecar["run"] = serde_json::json!({
            "id": format!("0{:x}000000-0000-7000-8000-000000000000", year - 2016),
            "about": {"tag": "L-9", "instrument": "rack 2", "temperature_c": celsius},
            "found": {"took_s": 9.0, "findings": [], "steps": [
                {"step": "tip", "verdict": "pass", "ohms": ohms, "proof": "seen",
                 "coverage": 1.0, "reasons": []}]},
        });
        let path = home.join(format!("kept/{year}.json"));
        fs::write(&path, serde_json::to_string(&sidecar).unwrap()).unwrap();
        fs::write(path.with_extension("csv"), "").unwrap();
    }
    ledger(
        home,
        &["rebuild", "--ledger", "own.sqlite", "--from", "kept"],
    );
    let rows = ledger(
        home,
        &["history", "L-9", "--json", "--ledger", "own.sqlite"],
    )
    .lines();
    let by_instrument = ["history", "rack 2", "--json", "--ledger", "own.sqlite"];
    assert_eq!(ledger(home, &by_instrument).lines(), rows);
    let at_20: Vec<f64> = rows
        .iter()
        .map(|row| row["ohms_at_20_c"].as_f64().unwrap())
        .collect();
    for (found, wanted) in at_20.iter().zip([0.5, 0.5, 0.55]) {
        assert!((found - wanted).abs() < 1e-6, "{at_20:?}");
    }
    let said = ledger(home, &["history", "L-9", "--ledger", "own.sqlite"]).said;
    says_all(
        &said,
        &["lead tip: from 0.500 Ω (2024-", "(+10.0 %), at 20 °C", "*"],
    );
    // Two points low and one high, in the plot's frame.
    let picture: Vec<&str> = said.lines().filter(|line| line.contains('│')).collect();
    let heights: Vec<usize> = (0..)
        .zip(&picture)
        .flat_map(|(row, line)| vec![row; line.matches('*').count()])
        .collect();
    assert_eq!(heights.len(), 3, "{said}");
    assert!(
        heights[0] < heights[1] && heights[1] == heights[2],
        "{said}"
    );
}

/// An instrument's pickups over time, by its name where it has no tag.
#[test]
fn a_history_goes_by_the_instrument_too() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    for tag in ["neck", "bridge"] {
        let more = [
            "--ledger",
            "own.sqlite",
            "--record",
            "kept",
            "--instrument",
            "the blue one",
        ];
        lead(home, &[&more[..], &["--json", "--tag", tag]].concat());
    }
    let said = ledger(home, &["history", "the blue one", "--ledger", "own.sqlite"]).said;
    says_all(&said, &["neck", "bridge"]);
    // A tag of that name comes first.
    lead(
        home,
        &[
            "--json",
            "--ledger",
            "own.sqlite",
            "--record",
            "kept",
            "--tag",
            "the blue one",
        ],
    );
    let said = ledger(home, &["history", "the blue one", "--ledger", "own.sqlite"]).said;
    assert!(!said.contains("neck"), "{said}");
}

/// A rewire goes under its job's name and temperature, unless others are given.
#[test]
fn a_rewire_is_kept_under_its_jobs_name() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let new = [
        "rewire",
        "new",
        "--layout",
        "one-pickup",
        "--out",
        "guitar.toml",
    ];
    let written = ran_in(home, &new, "an old one\nno\n21\n7200\n");
    assert_eq!(written.status, Some(0), "{written:?}");
    let rewire = |more: &[&str]| {
        let line = "rewire guitar.toml --json --from - --protocol number-lines --record kept \
                    --ledger own.sqlite";
        let arguments: Vec<&str> = line
            .split_whitespace()
            .chain(more.iter().copied())
            .collect();
        let ran = ran_in(home, &arguments, READINGS);
        assert_eq!((ran.status, &*ran.complaint), (Some(3), ""), "{ran:?}");
    };
    rewire(&[]);
    rewire(&["--instrument", "the blue one", "--temperature", "19"]);
    let mut kept: Vec<(String, f64)> = runs(home, "own.sqlite")
        .values()
        .map(|line| {
            let name = line["instrument"].as_str().unwrap().to_owned();
            (name, line["temperature_c"].as_f64().unwrap())
        })
        .collect();
    kept.sort_by(|one, other| one.0.cmp(&other.0));
    let wanted = [
        ("an old one".to_owned(), 21.0),
        ("the blue one".to_owned(), 19.0),
    ];
    assert_eq!(kept, wanted);
}

/// Twenty leads passed, and what that proves: the one-sided bound for none in twenty is
/// 1 - 0.05^(1/20) = 13.9 % (the binomial's own formula; the "rule of three" gives 15 %).
#[test]
fn a_batch_says_what_it_proves() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let text = fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/recordings/lead-good.json"
    ))
    .unwrap();
    fs::create_dir(home.join("kept")).unwrap();
    for number in 0..20 {
        let mut sidecar = json(&text);
        sidecar.as_object_mut().unwrap().remove("made_by");
        sidecar["run"] = serde_json::json!({
            "id": format!("01000000-0000-7000-8000-0000000000{number:02}"),
            "about": {"batch": "spring"},
        });
        let path = home.join(format!("kept/{number}.json"));
        fs::write(&path, serde_json::to_string(&sidecar).unwrap()).unwrap();
        fs::write(path.with_extension("csv"), "").unwrap();
    }
    ledger(
        home,
        &["rebuild", "--ledger", "own.sqlite", "--from", "kept"],
    );
    let batch = |more: &[&str]| {
        let line = ["batch", "spring", "--ledger", "own.sqlite"];
        ledger(home, &[&line, more].concat())
    };
    let proof = &batch(&["--json"]).lines()[0]["proof"];
    let bound = proof["share_at_most"].as_f64().unwrap();
    assert!(
        (bound - (1.0 - 0.05_f64.powf(0.05))).abs() < 1e-9,
        "{bound}"
    );
    says_all(
        &batch(&[]).said,
        &[
            "20 leads tested, none failed",
            "fewer than 14 %",
            "drawn blindly",
        ],
    );
    says_all(
        &batch(&["--lot-size", "20"]).said,
        &["All 20 leads tested, none failed."],
    );
    says(
        batch(&["--lot-size", "19"]).refusal(2),
        &["20 are checked already"],
    );
}
