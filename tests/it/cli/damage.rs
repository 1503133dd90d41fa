//! Recordings that a killed process, a hand or another program has damaged; and runs that a
//! signal ends.

use std::fs;
use std::os::unix::process::ExitStatusExt as _;

use serde_json::Value;

use super::contract::keeps;
use super::stage::STAGE;
use super::{Ran, event, of_event, ran, ran_in};

#[test]
fn a_killed_process_loses_at_most_a_second() {
    let run = STAGE.killed.get();
    assert_eq!(run.status.signal(), Some(9));
    let last = *of_event(&run.lines, "reading").last().unwrap();
    let table = run.table();
    let again = ran_in(
        run.home.path(),
        &["replay", "--json", "--readings", table.to_str().unwrap()],
        "",
    );
    assert_eq!(again.complaint, "");
    assert_eq!(again.status, Some(3), "{again:?}");
    let lines = again.lines();
    let kept = *of_event(&lines, "reading").last().unwrap();
    let lost = last["t"].as_f64().unwrap() - kept["t"].as_f64().unwrap();
    assert!(lost <= 1.0, "{lost} s lost");
    // What is kept is what was told: the lines of both runs begin alike.
    let told = lines.iter().take_while(|line| event(line) != "verdict");
    let alike = told.zip(&run.lines).filter(|(one, other)| one == other);
    assert_eq!(alike.count(), lines.len() - 1);
    let done = of_event(&lines, "step_done");
    assert_eq!(done.len(), 1);
    assert_eq!(done[0]["verdict"], "pass");
}

#[test]
fn an_interrupt_ends_with_a_verdict_and_a_whole_recording() {
    for late in &STAGE.signalled {
        let run = late.get();
        assert_eq!(keeps(run), ["tip"]);
        assert_eq!(run.verdict()["verdict"], "retest");
        assert_eq!(run.status.code(), Some(3));
        let text = fs::read_to_string(run.table()).unwrap();
        assert!(text.ends_with(",stopped\r\n"), "{text}");
        let again = ran_in(
            run.home.path(),
            &[
                "replay",
                "--json",
                "--readings",
                run.table().to_str().unwrap(),
            ],
            "",
        );
        let mut lines = again.lines();
        let verdict = lines.last_mut().unwrap();
        verdict["recording"] = run.verdict()["recording"].clone();
        assert_eq!(lines, run.lines);
    }
}

/// A copy of the good lead's recording after `change`.
fn changed(change: impl FnOnce(&str) -> String) -> (tempfile::TempDir, String) {
    let run = STAGE.good.get();
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("lead.csv");
    let text = fs::read_to_string(run.table()).unwrap();
    fs::write(&table, change(&text)).unwrap();
    let sidecar = run.table().with_extension("json");
    fs::copy(sidecar, table.with_extension("json")).unwrap();
    let table = table.to_str().unwrap().to_owned();
    (folder, table)
}

#[test]
fn a_torn_last_row_is_read_without_complaint() {
    // In the middle of the row's time, which would read as an earlier one.
    let (_folder, table) = changed(|text| {
        let last = text.trim_end().rfind('\n').unwrap();
        text.chars().take(last + 3).collect()
    });
    let again = ran(&["replay", "--json", &table]);
    assert_eq!(again.complaint, "");
    let lines = again.lines();
    // The last bend ends by the clock, whose mark is torn off: that step was never over.
    assert_eq!(of_event(&lines, "step_done").len(), 2);
    assert_eq!(event(lines.last().unwrap()), "verdict");
    assert_eq!(again.status, Some(3), "{again:?}");
}

/// Spoils one reading of the last bend, and holds the replay of the rest against the run.
fn one_row_is_lost(spoil: impl FnOnce(&mut String)) -> Ran {
    let mut number = 0;
    let (_folder, table) = changed(|text| {
        let mut rows: Vec<String> = text.lines().map(str::to_owned).collect();
        let index = rows.len() - 4;
        // An editor counts from 1, with the header.
        number = index + 1;
        spoil(&mut rows[index]);
        rows.join("\r\n") + "\r\n"
    });
    let again = ran(&["replay", "--json", "--readings", &table]);
    assert_eq!(again.complaint.lines().count(), 1, "{again:?}");
    let named = format!("{table} row {number}: ");
    assert!(again.complaint.contains(&named), "{}", again.complaint);
    let lines = again.lines();
    let before = of_event(&STAGE.good.get().lines, "reading").len();
    assert_eq!(of_event(&lines, "reading").len(), before - 1);
    // What the row held was not seen.
    let verdict = lines.last().unwrap();
    assert_eq!(verdict["verdict"], "retest", "{verdict}");
    again
}

#[test]
fn a_damaged_row_is_named_and_the_rest_is_read() {
    let again = one_row_is_lost(|row| *row = row.replace(",resistance,", ",resistnace,"));
    let words = "`resistnace` cannot stand in column quantity; this row is left out";
    assert!(again.complaint.contains(words), "{}", again.complaint);
}

#[test]
fn a_quotation_mark_out_of_place_spoils_only_its_row() {
    one_row_is_lost(|row| row.insert(0, '"'));
}

#[test]
fn a_row_that_is_too_long_is_damaged_as_well() {
    let (_folder, table) = changed(|text| text.replacen("\r\n", "\r\nan,odd,row\r\n", 2));
    let again = ran(&["replay", "--json", &table]);
    assert_eq!(again.complaint.lines().count(), 2, "{again:?}");
    assert!(again.complaint.contains("has 3 columns where 8 belong"));
    assert_eq!(again.status, Some(3), "{again:?}");
}

#[test]
fn what_is_no_recording_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    fs::write(at("list.csv"), "part,count\r\nplug,2\r\n").unwrap();
    let (_kept, beside) = changed(str::to_owned);
    fs::write(beside.replace(".csv", ".json"), "{}").unwrap();
    for (path, words) in [
        (at("list.csv"), &["this is not a recording", "NAME.csv"][..]),
        (at("absent.csv"), &["cannot read", "absent.csv"]),
        (
            beside.clone(),
            &["lead.json", "does not describe a recording"],
        ),
    ] {
        for command in [&["replay"][..], &["lead", "--from"], &["watch", "--from"]] {
            let refused = ran(&[command, &[path.as_str()]].concat());
            let sentence = refused.refusal(2);
            for word in words {
                assert!(sentence.contains(word), "{sentence}");
            }
        }
    }
}

#[test]
fn raw_bytes_that_are_none_are_refused() {
    let (_folder, table) = changed(str::to_owned);
    let missing = ran(&["replay", &table, "--protocol", "lcd-segments-14"]);
    assert!(missing.refusal(2).contains("lead.bin"));
    fs::write(table.replace(".csv", ".bin"), "no bytes of a run").unwrap();
    let refused = ran(&["replay", &table, "--protocol", "lcd-segments-14"]);
    assert!(
        refused
            .refusal(2)
            .contains("not the raw bytes of a recording")
    );
}

#[test]
fn a_format_of_ones_own_is_still_named_by_a_replay() {
    let home = tempfile::tempdir().unwrap();
    let built_in = ran(&["protocols"]);
    assert!(!built_in.said.contains("my-board"));
    let (_, text) = steadyohm::protocol::built_in_files()
        .iter()
        .find(|(name, _)| name.contains("number-lines"))
        .unwrap();
    let own = text.replacen("id = \"number-lines\"", "id = \"my-board\"", 1);
    fs::write(home.path().join("mine.toml"), own).unwrap();
    let line = "watch --json --readings --record kept --protocol mine.toml --from -";
    let arguments: Vec<&str> = line.split(' ').collect();
    let live = ran_in(home.path(), &arguments, "0.51\nOL\n0.52\n");
    assert_eq!(live.lines()[0]["protocol"], "my-board", "{live:?}");
    let table = fs::read_dir(home.path().join("kept"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|end| end == "csv"))
        .unwrap();
    let table = table.to_str().unwrap();
    let again = ran_in(home.path(), &["replay", "--json", "--readings", table], "");
    assert_eq!(again.lines(), live.lines());
    let raw = [
        "replay",
        "--json",
        "--readings",
        table,
        "--protocol",
        "mine.toml",
    ];
    assert_eq!(ran_in(home.path(), &raw, "").lines(), live.lines());
}

#[test]
fn bytes_of_the_last_moment_are_read_before_the_end() {
    // Two stamps that fall together, as they do when the program is late for both.
    let (folder, table) = changed(|text| {
        let header = text.lines().next().unwrap();
        format!("{header}\r\n0.000000,,,,,,,opened\r\n1.000000,,,,,,,ended\r\n")
    });
    let mut raw = b"steadyohm raw 1\n".to_vec();
    raw.extend(1_000_000_u64.to_le_bytes());
    raw.extend(9_u32.to_le_bytes());
    raw.extend(b"x\n0.5 ohm");
    raw.extend(1_000_000_u64.to_le_bytes());
    raw.extend(1_u32.to_le_bytes());
    raw.extend(b"\n");
    fs::write(folder.path().join("lead.bin"), raw).unwrap();
    let line = [
        "replay",
        "--json",
        "--readings",
        &table,
        "--protocol",
        "number-lines",
    ];
    let lines: Vec<Value> = ran(&line).lines();
    let readings = of_event(&lines, "reading");
    assert_eq!(readings.len(), 1, "{lines:?}");
    assert_eq!(readings[0]["ohms"], 0.5);
}
