//! A stock killed at any moment, again and again: its table, its recordings and the ledger hold
//! what was reported, and the next run goes on where it was.
//!
//! Several stocks run beside each other and write the same ledger. A kill falls on any line, or
//! into the moments after a step in which a lead is put away.
//! `STEADYOHM_KILLS=200 cargo test --test it crash::stock -- --nocapture` is the whole trial.
#![expect(
    clippy::print_stdout,
    reason = "the figures of the trial are there to be read"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use steadyohm::bench::Method;
use steadyohm::check::stock::{Next, Row, Stock, What};
use steadyohm::record::read_stock;

use crate::cli::driver::{Finished, Scene};
use crate::cli::ledger::runs;
use crate::cli::stocks::{Way as _, crate_of};
use crate::cli::{event, of_event, ran_in};
use crate::stock::plan;

/// How often programs are killed, unless told otherwise, and in how many lanes.
const KILLS: u32 = 6;
const LANES: u32 = 3;
/// Leads of one stock; with the next one the lane begins anew.
const LEADS: u32 = 2;
/// A kill falls on one of so many lines, of which a lead says 20 to 40, or on one of so many
/// steps, of which it takes two: into the first lead or the second.
const LINES: usize = 50;
const STEPS: usize = 3;
/// Within so many milliseconds a lead is put away once its last step is done.
const PUT_AWAY_MS: u64 = 40;

/// What a lane came to.
#[derive(Debug, Default)]
struct Came {
    kills: u32,
    programs: u32,
    /// Recordings of leads that were reported as done, with tag and verdict.
    reported: BTreeMap<PathBuf, (String, String)>,
    /// Leads that were in the table though the program died before it could say so.
    unsaid: u32,
}

/// When a program is killed.
#[derive(Debug, Clone, Copy)]
enum Moment {
    /// When it has said so many lines.
    Line(usize),
    /// So long after its so-manieth step was done.
    Step(usize, Duration),
}

impl Moment {
    fn drawn(chance: &mut ChaCha8Rng) -> Self {
        if chance.random_bool(0.5) {
            Self::Line(chance.random_range(1..LINES))
        } else {
            let wait = Duration::from_millis(chance.random_range(0..PUT_AWAY_MS));
            Self::Step(chance.random_range(1..=STEPS), wait)
        }
    }
}

/// Runs a stock until it ends or is killed.
fn run(scene: &Scene, moment: Moment) -> Finished {
    let (mut lines, mut steps) = (0, 0);
    scene.go_with(|line, _, program| {
        lines += 1;
        let done = event(line) == "step_done";
        steps += usize::from(done);
        match moment {
            Moment::Line(number) if number == lines => program.signal("KILL"),
            Moment::Step(number, wait) if done && number == steps => {
                // The moment is what is tried here; nothing is waited for.
                thread::sleep(wait);
                program.signal("KILL");
            }
            _ => {}
        }
    })
}

fn rows_of(table: &Path) -> Vec<Row> {
    let text = std::fs::read(table).unwrap_or_default();
    let (rows, damage) = read_stock(&text).unwrap();
    assert_eq!(damage, [], "{}", table.display());
    rows
}

/// One after the other, until enough were killed.
fn lane(home: &Path, number: u32, kills: u32) -> Came {
    let mut chance = ChaCha8Rng::seed_from_u64(u64::from(number));
    let mut came = Came::default();
    let folder = home.join(format!("lane-{number}"));
    for stock in 0_u64.. {
        let name = format!("crate-{number}-{stock}");
        let table = folder.join(&name).with_extension("csv");
        let more = format!(
            "--wait 1s --stock-name {name} --record {} --ledger {}",
            folder.display(),
            home.join("own.sqlite").display()
        );
        let scene = crate_of("patch", LEADS, stock).by(Method::Loop).with(&more);
        loop {
            let before = rows_of(&table);
            let finished = run(&scene, Moment::drawn(&mut chance));
            came.programs += 1;
            goes_on(&finished, &before);
            note(&finished, (&before, &rows_of(&table)), &mut came);
            if finished.status.code().is_some() {
                assert_eq!(finished.verdict()["stock"]["left"], 0, "{finished:?}");
                break;
            }
            came.kills += 1;
            if came.kills >= kills {
                return came;
            }
        }
    }
    came
}

/// It says what the table held, and takes up the lead that is next.
fn goes_on(finished: &Finished, before: &[Row]) {
    let stock = Stock::fold(plan(&format!("1..{LEADS}")), before);
    if let [said] = of_event(&finished.lines, "stock")[..] {
        let tally = stock.tally();
        for (key, count) in [
            ("pass", tally.pass),
            ("fail", tally.fail),
            ("retest", tally.retest),
        ] {
            assert_eq!(said["tally"][key], count, "{finished:?}");
        }
    }
    if let (Some(lead), Next::Lead(turn)) =
        (of_event(&finished.lines, "lead").first(), stock.next())
    {
        assert_eq!(lead["tag"], turn.tag.as_str(), "{finished:?}");
        assert_eq!(lead["attempt"], turn.attempt, "{finished:?}");
    }
}

/// Holds what was said against the table; notes what was reported.
fn note(finished: &Finished, (before, after): (&[Row], &[Row]), came: &mut Came) {
    assert_eq!(finished.complaint, "");
    assert_eq!(
        after.get(..before.len()),
        Some(before),
        "what was kept stays"
    );
    let attempts: BTreeSet<(&str, u32)> = after
        .iter()
        .map(|row| (row.tag.as_str(), row.number()))
        .collect();
    assert_eq!(
        attempts.len(),
        after.len(),
        "no attempt stands twice: {after:#?}"
    );
    let said = of_event(&finished.lines, "lead_done");
    for line in &said {
        let row = after
            .iter()
            .find(|row| line["tag"] == row.tag.as_str() && line["attempt"] == row.number());
        let row = row.unwrap_or_else(|| panic!("{line} is not in {after:#?}"));
        let What::Done(attempt) = &row.what else {
            panic!("{row:?}")
        };
        assert_eq!(line["verdict"], attempt.verdict.word());
        assert_eq!(
            line["recording"].as_str(),
            attempt.kept.recording.as_deref()
        );
        let recording = PathBuf::from(line["recording"].as_str().unwrap());
        let told = (row.tag.clone(), attempt.verdict.word().to_owned());
        assert_eq!(came.reported.insert(recording, told), None);
    }
    let new = after.len() - before.len();
    came.unsaid += u32::try_from(new - said.len()).unwrap();
}

#[test]
fn a_stock_killed_at_any_moment_loses_nothing_and_goes_on() {
    let kills = std::env::var("STEADYOHM_KILLS")
        .map_or(KILLS, |text| text.parse().expect("a number of kills"));
    let home = tempfile::tempdir().unwrap();
    let at = home.path();
    let lanes: Vec<Came> = thread::scope(|scope| {
        let lanes: Vec<_> = (0..LANES)
            .map(|number| scope.spawn(move || lane(at, number, kills.div_ceil(LANES))))
            .collect();
        lanes.into_iter().map(|lane| lane.join().unwrap()).collect()
    });
    let killed: u32 = lanes.iter().map(|lane| lane.kills).sum();
    let programs: u32 = lanes.iter().map(|lane| lane.programs).sum();
    let unsaid: u32 = lanes.iter().map(|lane| lane.unsaid).sum();
    assert!(killed >= kills);
    let reported: BTreeMap<PathBuf, (String, String)> =
        lanes.into_iter().flat_map(|lane| lane.reported).collect();
    let (entered, rebuilt) = agree(at, &reported);
    println!(
        "{programs} programs, {killed} killed; {} leads reported as done, {unsaid} more in their \
         table when the program died; {entered} runs in the ledger, {rebuilt} in the recordings",
        reported.len()
    );
}

/// Holds the ledger against what was reported and against the recordings; gives how many runs it
/// has, and how many when rebuilt.
fn agree(at: &Path, reported: &BTreeMap<PathBuf, (String, String)>) -> (usize, usize) {
    let live = runs(at, "own.sqlite");
    let by_recording: BTreeMap<PathBuf, &Value> = live
        .values()
        .map(|line| (at.join(line["recording"].as_str().unwrap()), line))
        .collect();
    assert_eq!(by_recording.len(), live.len(), "each recording stands once");
    for (number, (recording, (tag, verdict))) in reported.iter().enumerate() {
        let line = by_recording.get(recording);
        let line = line.unwrap_or_else(|| panic!("{} was reported", recording.display()));
        assert_eq!(
            (line["tag"].as_str(), line["verdict"].as_str()),
            (Some(&**tag), Some(&**verdict))
        );
        // Each recording replays alone, to the verdict told; of many some stand for all.
        if number % 8 == 0 {
            let replayed = ran_in(at, &["replay", recording.to_str().unwrap(), "--json"], "");
            assert_eq!(replayed.lines().last().unwrap()["verdict"], **verdict);
        }
    }
    let checked = ran_in(at, &["ledger", "check", "--ledger", "own.sqlite"], "");
    assert_eq!(checked.status, Some(0), "{checked:?}");
    let folders: Vec<String> = (0..LANES).map(|number| format!("lane-{number}")).collect();
    let rebuild = |file: &str| {
        let line = ["ledger", "rebuild", "--ledger", file, "--from"];
        let folders = folders.iter().map(String::as_str);
        let ran = ran_in(at, &line.into_iter().chain(folders).collect::<Vec<_>>(), "");
        assert_eq!((ran.status, &*ran.complaint), (Some(0), ""), "{ran:?}");
        runs(at, file)
    };
    // The same, but for runs whose recording was whole when the program was killed on its way to
    // the ledger; these were not reported.
    let rebuilt = rebuild("new.sqlite");
    for (run, line) in &live {
        assert_eq!(rebuilt.get(run), Some(line));
    }
    for (run, line) in &rebuilt {
        let recording = at.join(line["recording"].as_str().unwrap());
        assert!(
            live.contains_key(run) || !reported.contains_key(&recording),
            "{line}"
        );
    }
    assert_eq!(rebuild("own.sqlite"), rebuilt);
    let checked = ran_in(at, &["ledger", "check", "--ledger", "own.sqlite"], "");
    assert!(
        checked.said.contains("sound") && !checked.said.contains("not in the ledger"),
        "{checked:?}"
    );
    (live.len(), rebuilt.len())
}
