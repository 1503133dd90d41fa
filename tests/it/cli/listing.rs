//! The commands that list and explain: formats, ports, help.

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::process::Stdio;

use steadyohm::protocol::{built_in_files, library};

use super::{Ran, ran, ran_in, steadyohm};

#[test]
fn every_format_has_its_line() {
    let ran = ran(&["protocols"]);
    assert_eq!((ran.status, &*ran.complaint), (Some(0), ""));
    let ids: Vec<&str> = ran
        .said
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    let known: Vec<&str> = library().iter().map(|format| format.id()).collect();
    assert_eq!(ids, known);
    assert_eq!(super::ran(&["protocols", "list"]).said, ran.said);
}

#[test]
fn every_format_is_shown() {
    for format in library() {
        let ran = ran(&["protocols", "show", format.id()]);
        assert_eq!(ran.status, Some(0), "{ran:?}");
        for wanted in [
            format.title(),
            format.source().unwrap(),
            "baud",
            "DTR",
            "polled",
        ] {
            assert!(ran.said.contains(wanted), "{wanted}: {}", ran.said);
        }
    }
    let unknown = ran(&["protocols", "show", "lcd"]);
    assert!(unknown.refusal(2).contains("`lcd`"));
}

/// `protocols check` of a built-in file after a change.
fn checked(change: impl FnOnce(&str) -> String) -> Ran {
    let home = tempfile::tempdir().unwrap();
    let (_, text) = built_in_files()
        .iter()
        .find(|(name, _)| name.contains("number-lines"))
        .unwrap();
    fs::write(home.path().join("mine.toml"), change(text)).unwrap();
    ran_in(home.path(), &["protocols", "check", "mine.toml"], "")
}

#[test]
fn a_good_format_file_is_found_right() {
    let ran = checked(str::to_owned);
    assert_eq!(ran.status, Some(0), "{ran:?}");
    assert!(ran.said.ends_with(" right, 0 wrong\n"), "{}", ran.said);
}

#[test]
fn a_wrong_example_is_told_with_what_it_gave() {
    let ran = checked(|text| {
        let changed = text.replacen(
            "reads = [\"resistance -0.3 relative\"]",
            "reads = [\"resistance -0.4 relative\"]",
            1,
        );
        assert_ne!(changed, text);
        changed
    });
    assert_eq!(ran.status, Some(1), "{ran:?}");
    assert_eq!(ran.complaint, "");
    let wrong = "WRONG   a difference\n        wanted resistance -0.4 relative\n        \
                 got    resistance -0.3 relative\n";
    assert!(ran.said.contains(wrong), "{}", ran.said);
    assert!(ran.said.ends_with(" right, 1 wrong\n"), "{}", ran.said);
}

#[test]
fn an_unknown_key_is_told_with_its_line_and_what_is_allowed() {
    let ran = checked(|text| text.replacen("data_bits = 8", "databits = 8", 1));
    let sentence = ran.refusal(2);
    let (_, text) = built_in_files()
        .iter()
        .find(|(name, _)| name.contains("number-lines"))
        .unwrap();
    let at = text.lines().position(|line| line == "data_bits = 8");
    let line = format!("mine.toml, line {}: ", at.unwrap() + 1);
    for word in [line.as_str(), "databits", "data_bits"] {
        assert!(sentence.contains(word), "{word}: {sentence}");
    }
}

#[test]
fn formats_of_ones_own_are_listed_and_used_by_name() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join(".config/steadyohm/protocols");
    fs::create_dir_all(&folder).unwrap();
    let (_, text) = built_in_files()
        .iter()
        .find(|(name, _)| name.contains("number-lines"))
        .unwrap();
    let own = text.replacen("id = \"number-lines\"", "id = \"my-board\"", 1);
    fs::write(folder.join("my-board.toml"), own).unwrap();
    fs::write(folder.join("broken.toml"), "schema = 1\n").unwrap();
    let listed = ran_in(home.path(), &["protocols"], "");
    assert_eq!(listed.status, Some(0), "{listed:?}");
    assert!(listed.said.contains("my-board  "), "{}", listed.said);
    assert!(listed.said.contains("broken.toml: "), "{}", listed.said);
    let line = "watch --json --record off --from - --protocol my-board";
    let arguments: Vec<&str> = line.split(' ').collect();
    let watched = ran_in(home.path(), &arguments, "0.5\n");
    assert_eq!(watched.lines()[0]["protocol"], "my-board");
}

#[test]
fn ports_are_listed_as_from_takes_them() {
    let plain = ran(&["ports"]);
    assert_eq!((plain.status, &*plain.complaint), (Some(0), ""));
    assert!(!plain.said.is_empty());
    let lines = ran(&["ports", "--json"]).lines();
    for port in &lines {
        let from = port["from"].as_str().unwrap();
        assert!(
            from.starts_with("serial:/") || from.starts_with("usbtmc:/"),
            "{from}"
        );
        assert!(plain.said.contains(from), "{}", plain.said);
    }
    assert_eq!(lines.is_empty(), plain.said.starts_with("no port found"));
}

#[test]
fn every_help_has_examples_and_the_caution() {
    for command in [
        "lead",
        "watch",
        "replay",
        "ledger",
        "ledger list",
        "ledger show",
        "ledger history",
        "ledger batch",
        "ledger rebuild",
        "ledger check",
        "ledger merge",
        "demo",
        "demo lead",
        "simulate",
        "simulate lead",
        "protocols",
        "ports",
    ] {
        let line = format!("{command} --help");
        let arguments: Vec<&str> = line.split(' ').collect();
        let help = ran(&arguments);
        assert_eq!((help.status, &*help.complaint), (Some(0), ""), "{command}");
        // Help is wrapped to the terminal's width.
        let text = help.said.split_whitespace().collect::<Vec<_>>().join(" ");
        let example = format!("steadyohm {command}");
        assert!(
            text.split("Example")
                .nth(1)
                .is_some_and(|part| part.contains(&example)),
            "{command}: {text}"
        );
        assert!(
            text.contains("only on work without power"),
            "{command}: {text}"
        );
        assert!(
            text.contains("A valve amplifier holds a lethal charge"),
            "{command}"
        );
    }
    let all = ran(&["--help"]);
    for command in [
        "lead",
        "watch",
        "replay",
        "ledger",
        "demo",
        "simulate",
        "protocols",
        "ports",
    ] {
        let line = format!("\n  {command} ");
        assert!(all.said.contains(&line), "{command}: {}", all.said);
    }
    assert_eq!(
        ran(&["--version"]).said,
        concat!("steadyohm ", env!("CARGO_PKG_VERSION"), "\n")
    );
}

#[test]
fn a_reader_that_leaves_early_causes_no_panic() {
    let home = tempfile::tempdir().unwrap();
    for arguments in [
        &["protocols"][..],
        &["protocols", "show", "scpi-polled"],
        &["ports"],
        &["lead", "--help"],
        &["demo", "--help"],
    ] {
        let mut child = steadyohm(home.path())
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // The pipe is closed before the program has said a word, or after at most the first.
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let complaint = String::from_utf8(output.stderr).unwrap();
        assert_eq!(complaint, "", "{arguments:?}");
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
    }
}

#[test]
fn a_run_goes_on_when_its_reader_leaves() {
    let home = tempfile::tempdir().unwrap();
    let line = "watch --json --readings --record kept --from - --protocol number-lines";
    let mut child = steadyohm(home.path())
        .args(line.split(' '))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = BufReader::new(child.stdout.take().unwrap());
    let mut first = String::new();
    said.read_line(&mut first).unwrap();
    assert!(first.contains("opened"), "{first}");
    drop(said);
    let mut input = child.stdin.take().unwrap();
    std::io::Write::write_all(&mut input, b"0.5\n0.6\n").unwrap();
    drop(input);
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    assert_eq!(output.status.code(), Some(0));
    // The recording is whole all the same.
    let table = fs::read_dir(home.path().join("kept"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|end| end == "csv"))
        .unwrap();
    let text = fs::read_to_string(table).unwrap();
    assert_eq!(text.matches(",number,").count(), 2, "{text}");
    assert!(text.ends_with(",ended\r\n"), "{text}");
}
