//! The house itself: nothing imports upward, every file says what it holds, lists are whole,
//! files stay small.
#![expect(
    clippy::disallowed_methods,
    reason = "the house is read from its files"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use steadyohm::check::CHECKS;
use steadyohm::protocol::built_in_files;

/// The rooms, lowest first. `main.rs` and `lib.rs` stand outside.
const ROOMS: [&str; 13] = [
    "reading", "protocol", "signal", "circuit", "check", "record", "session", "keys", "screen",
    "bench", "source", "run", "cli",
];
/// A file longer than this is more than one room.
const MOST_LINES: usize = 400;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn rust_files(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() && path.ends_with("target") {
                // What a fuzz run has built is nobody's room.
                continue;
            }
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|end| end == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// The room of a file under `src/`, by its place in the order.
fn room_of(path: &Path) -> Option<usize> {
    let inside = path.strip_prefix(root().join("src")).unwrap();
    let first = inside
        .components()
        .next()
        .unwrap()
        .as_os_str()
        .to_str()
        .unwrap();
    let name = first.strip_suffix(".rs").unwrap_or(first);
    ROOMS.iter().position(|room| *room == name)
}

/// The rooms that a text names as `crate::room`, or inside `crate::{...}` at the root.
fn rooms_named(text: &str) -> Vec<(usize, usize)> {
    let not_a_name = |c: char| !c.is_alphanumeric() && c != '_';
    let mut named = Vec::new();
    let mut line = 1;
    let mut pieces = text.split("crate::");
    line += pieces.next().unwrap_or_default().matches('\n').count();
    for rest in pieces {
        // A list may go over several lines.
        let names: Vec<&str> = match rest.strip_prefix('{') {
            Some(list) => list.split(';').next().unwrap().split(not_a_name).collect(),
            None => rest.split(not_a_name).take(1).collect(),
        };
        let rooms = names
            .into_iter()
            .filter_map(|name| ROOMS.iter().position(|room| *room == name));
        named.extend(rooms.map(|room| (line, room)));
        line += rest.matches('\n').count();
    }
    named
}

#[test]
fn nothing_imports_upward() {
    let mut wrong = Vec::new();
    for path in rust_files("src") {
        let Some(own) = room_of(&path) else { continue };
        let text = fs::read_to_string(&path).unwrap();
        assert!(
            !text.contains("super::super"),
            "{}: name the room instead of climbing",
            path.display()
        );
        for (line, room) in rooms_named(&text) {
            if room > own {
                wrong.push(format!("{}:{line} names {}", path.display(), ROOMS[room]));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "these import upward:\n{}",
        wrong.join("\n")
    );
}

/// The test above must be able to fail.
#[test]
fn an_upward_import_would_be_seen() {
    let named = rooms_named("use crate::{reading, session};\nlet x = crate::cli::run();");
    let rooms: Vec<&str> = named.iter().map(|(_, room)| ROOMS[*room]).collect();
    assert_eq!(rooms, ["reading", "session", "cli"]);
    let broken = rooms_named("use std::fs;\nuse crate::{\n    cli::status,\n    run,\n};\n");
    let rooms: Vec<_> = broken
        .iter()
        .map(|(line, room)| (*line, ROOMS[*room]))
        .collect();
    assert_eq!(rooms, [(2, "cli"), (2, "run")]);
}

#[test]
fn every_room_is_in_the_order() {
    for path in rust_files("src") {
        let inside = path.strip_prefix(root().join("src")).unwrap();
        let outside = [Path::new("lib.rs"), Path::new("main.rs")].contains(&inside);
        assert!(
            outside || room_of(&path).is_some(),
            "{} is in no room",
            path.display()
        );
    }
    let map = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    let listed: Vec<&str> = map
        .lines()
        .filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'))
        .collect();
    assert_eq!(listed, ROOMS, "lib.rs lists the rooms in reading order");
}

#[test]
fn every_file_says_what_it_holds() {
    for path in rust_files("src").into_iter().chain(rust_files("tests")) {
        let text = fs::read_to_string(&path).unwrap();
        assert!(
            text.starts_with("//! "),
            "{} does not open with //!",
            path.display()
        );
    }
}

#[test]
fn no_file_is_more_than_one_room() {
    let long: BTreeMap<PathBuf, usize> = rust_files("src")
        .into_iter()
        .map(|path| {
            let lines = fs::read_to_string(&path).unwrap().lines().count();
            (path, lines)
        })
        .filter(|(_, lines)| *lines > MOST_LINES)
        .collect();
    assert!(long.is_empty(), "over {MOST_LINES} lines: {long:#?}");
}

/// Async and clocks live at the edge only.
#[test]
fn the_core_waits_for_nothing() {
    for path in rust_files("src") {
        let name = room_of(&path).map(|room| ROOMS[room]);
        let edge = matches!(name, None | Some("source" | "run" | "cli"));
        let build_step = path.ends_with("protocol/embed.rs");
        if edge || build_step {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        for forbidden in [
            "async ",
            ".await",
            "tokio",
            "std::fs",
            "Instant",
            "SystemTime",
        ] {
            assert!(
                !text.contains(forbidden),
                "{}: `{forbidden}` has no place in the core",
                path.display()
            );
        }
    }
}

#[test]
fn every_check_is_listed() {
    let standing: Vec<String> = rust_files("src")
        .into_iter()
        .filter(|path| {
            path.parent()
                .is_some_and(|folder| folder.ends_with("src/check"))
        })
        .filter(|path| fs::read_to_string(path).unwrap().contains("impl Check for"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let listed: Vec<&str> = CHECKS.iter().map(|check| check.name).collect();
    assert_eq!(standing, listed);
}

#[test]
fn every_format_file_is_built_in() {
    let mut files: Vec<String> = fs::read_dir(root().join("protocols"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| Path::new(name).extension().is_some_and(|end| end == "toml"))
        .collect();
    files.sort();
    let mut built: Vec<String> = built_in_files()
        .iter()
        .map(|(name, _)| {
            Path::new(name)
                .file_name()
                .unwrap()
                .to_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    built.sort();
    assert_eq!(built, files);
}
