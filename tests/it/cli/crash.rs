//! The program killed at any moment: what it reported as kept is in the ledger, and the ledger
//! is what its recordings say.
//!
//! Two at a time write the same ledger, each killed at a moment drawn anew.
//! `STEADYOHM_KILLS=200 cargo test --test it crash` kills more often than is usual, which is seldom
//! enough not to hold the other tests up.

mod stock; // a whole stock, killed and gone on with

use std::collections::BTreeMap;
use std::io::Write as _;
use std::os::unix::process::ExitStatusExt as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

use super::ledger::{READINGS, runs};
use super::{event, ran_in};

/// How often the program is killed.
const KILLS: u32 = 60;

/// A run until it is killed or ends; gives all it said, and whether the kill came in time.
fn run(home: &Path, tag: &str, killed_after: Option<Duration>) -> (String, bool) {
    let line = "lead --json --from - --protocol number-lines --tick 0.12s --record kept \
                --ledger own.sqlite --tag";
    // Behind everything else: other tests run by the clock.
    let mut child = Command::new("nice")
        .args(["-n", "19", env!("CARGO_BIN_EXE_steadyohm")])
        .args(line.split_whitespace())
        .arg(tag)
        .env("HOME", home)
        .current_dir(home)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    // It may be gone already.
    drop(input.write_all(READINGS.as_bytes()));
    drop(input);
    if let Some(after) = killed_after {
        // The moment is what is tried here; nothing is waited for.
        thread::sleep(after);
        child.kill().unwrap();
    }
    let output = child.wait_with_output().unwrap();
    let complaint = String::from_utf8(output.stderr).unwrap();
    let mut said = String::from_utf8(output.stdout).unwrap();
    if !complaint.is_empty() {
        // The other lane was held up for longer than a writer waits: told, and not reported.
        assert!(complaint.contains("this run is not entered"), "{complaint}");
        said.clear();
    }
    (said, output.status.signal() == Some(9))
}

/// The recording that a run reported as kept, by its file name: named in a whole verdict line.
fn kept(said: &str) -> Option<String> {
    let whole = said.rsplit_once('\n')?.0;
    let last: Value = serde_json::from_str(whole.lines().last()?).unwrap();
    (event(&last) == "verdict").then(|| name(last["recording"].as_str().unwrap()))
}

fn name(path: &str) -> String {
    Path::new(path)
        .file_name()
        .unwrap()
        .to_str()
        .unwrap()
        .to_owned()
}

/// One writer: kills its program so many times; gives the recordings reported as kept by tag,
/// and how many kills came in time.
fn lane(home: &Path, lane: u32, kills: u32) -> (BTreeMap<String, String>, u32) {
    let mut chance = ChaCha8Rng::seed_from_u64(u64::from(lane));
    let (mut reported, mut in_time) = (BTreeMap::new(), 0);
    let mut number = 0;
    let mut length = Duration::from_millis(60);
    while in_time < kills {
        number += 1;
        assert!(number < 4 * kills + 40, "the kills come too late");
        let tag = format!("{lane}-{number}");
        let began = Instant::now();
        // Every fifth runs to its end, and shows how long one takes at present.
        let after = (number % 5 != 1).then(|| length.mul_f64(chance.random_range(0.0..1.1)));
        let (said, killed) = run(home, &tag, after);
        if after.is_none() {
            length = began.elapsed();
        }
        in_time += u32::from(killed);
        if let Some(recording) = kept(&said) {
            reported.insert(tag, recording);
        }
    }
    (reported, in_time)
}

#[test]
fn a_killed_process_loses_nothing_that_it_reported_as_kept() {
    let kills = std::env::var("STEADYOHM_KILLS")
        .map_or(KILLS, |text| text.parse().expect("a number of kills"));
    let home = tempfile::tempdir().unwrap();
    let at = home.path();
    let lanes: Vec<(BTreeMap<String, String>, u32)> = thread::scope(|scope| {
        let lanes: Vec<_> = (0..2)
            .map(|number| scope.spawn(move || lane(at, number, kills.div_ceil(2))))
            .collect();
        lanes.into_iter().map(|lane| lane.join().unwrap()).collect()
    });
    let in_time: u32 = lanes.iter().map(|(_, in_time)| in_time).sum();
    assert!(in_time >= kills);
    let reported: BTreeMap<String, String> = lanes
        .into_iter()
        .flat_map(|(reported, _)| reported)
        .collect();

    let (live, rebuilt) = agree(at, &reported);
    // The trial was one: some died before their verdict, and some after.
    assert!(live > usize::try_from(kills / 10).unwrap(), "{live}");
    let tables = std::fs::read_dir(at.join("kept")).unwrap();
    let begun = tables
        .filter(|entry| {
            let path = entry.as_ref().unwrap().path();
            path.extension().is_some_and(|end| end == "csv")
        })
        .count();
    assert!(begun > rebuilt, "{begun} begun, {rebuilt} ended");
}

/// Holds the ledger against what was reported and against its recordings; gives how many runs
/// it had, and how many it has when rebuilt.
fn agree(at: &Path, reported: &BTreeMap<String, String>) -> (usize, usize) {
    // What was reported is in the ledger, each run once, with its recording.
    let live = runs(at, "own.sqlite");
    let text = |line: &Value, key: &str| line[key].as_str().unwrap().to_owned();
    let by_tag: BTreeMap<String, String> = live
        .values()
        .map(|line| (text(line, "tag"), name(&text(line, "recording"))))
        .collect();
    assert_eq!(by_tag.len(), live.len());
    for (tag, recording) in reported {
        assert_eq!(
            by_tag.get(tag),
            Some(recording),
            "{tag} was reported as kept"
        );
    }
    let checked = ran_in(at, &["ledger", "check", "--ledger", "own.sqlite"], "");
    assert_eq!(checked.status, Some(0), "{checked:?}");

    // Rebuilt from the recordings alone it is the same, but for runs whose recording was whole
    // when the process was killed on its way to the ledger, and which were not reported.
    let rebuild = |file: &str| {
        let ran = ran_in(
            at,
            &["ledger", "rebuild", "--ledger", file, "--from", "kept"],
            "",
        );
        assert_eq!((ran.status, &*ran.complaint), (Some(0), ""), "{ran:?}");
        runs(at, file)
    };
    let rebuilt = rebuild("new.sqlite");
    for (run, line) in &live {
        assert_eq!(rebuilt.get(run), Some(line));
    }
    for (run, line) in &rebuilt {
        let known = live.contains_key(run);
        assert!(
            known || !reported.contains_key(&text(line, "tag")),
            "{line}"
        );
    }
    assert_eq!(rebuild("own.sqlite"), rebuilt);
    (live.len(), rebuilt.len())
}
