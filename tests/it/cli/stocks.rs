//! Whole stocks through the real binary on real pseudo-terminals, at an accelerated rate.
//!
//! `LEADS=200 cargo test --test it cli::stocks -- --nocapture` runs 200 leads and prints their
//! table; without it there are fewer, so that a run of all tests stays short.
#![expect(clippy::print_stdout, reason = "the table is there to be read")]

use std::path::Path;
use std::sync::Arc;

use serde_json::Value;
use steadyohm::bench::{
    Crate, CrateOrder, Lead, LeadFault, MeterSettings, Method, OperatorStyle,
};
use steadyohm::check::notice::Verdict;
use steadyohm::check::stock::{Row, Stock, What};
use steadyohm::record::read_stock;

use super::driver::{Finished, Scene};
use super::{event, of_event, ran_in};
use crate::simulated::kind;
use crate::stock::confusion::Confusion;
use crate::stock::plan;

/// A stock of so many leads of a kind, half of them faulty.
pub(super) fn crate_of(id: &str, count: u32, seed: u64) -> Scene {
    let kind = kind(id);
    let order = CrateOrder {
        faulty: 0.5,
        ..CrateOrder::of(Arc::clone(&kind), count, seed)
    };
    let mut scene = Scene::new(LeadFault::Good);
    scene.leads = Some(Crate::fill(&order));
    scene.bench.piece = Lead::of(kind).into();
    scene.bench.meter = MeterSettings::handheld(50.0);
    scene.bench.hands.pace = 0.03;
    scene.bench.seed = seed;
    scene.arguments = super::driver::words("lead --json --tick 0.06s --wait 4s");
    scene.with(&format!("--stock-name crate --tags 1..{count} --kind {id}"))
}

pub(super) trait Way {
    fn by(self, method: Method) -> Scene;
}

impl Way for Scene {
    fn by(mut self, method: Method) -> Scene {
        self.bench.operator = OperatorStyle::Follows(method);
        match method {
            Method::Loop => self.with("--method loop"),
            Method::EndToEnd => self,
        }
    }
}

fn verdict(word: &Value) -> Verdict {
    let all = [Verdict::Pass, Verdict::Fail, Verdict::Retest];
    let found = all.into_iter().find(|verdict| verdict.word() == *word);
    found.unwrap()
}

/// What came out of a stock, against what was put in.
fn confusion(scene: &Scene, finished: &Finished, id: &str) -> Confusion {
    let leads = scene.leads.as_ref().unwrap();
    let kind = kind(id);
    let mut confusion = Confusion::default();
    let mut gaps = None;
    let mut stands = vec![None; leads.len()];
    for line in of_event(&finished.lines, "lead_done") {
        let place: usize = line["tag"].as_str().unwrap().parse().unwrap();
        let fault = leads.get(place - 1).unwrap().fault.word(&kind);
        stands[place - 1] = Some(verdict(&line["stands"]));
        gaps = line["not_covered"].as_str();
        let came = verdict(&line["verdict"]);
        confusion.attempts += 1;
        confusion.retests += u32::from(came == Verdict::Retest);
        let expected = if fault == "good" {
            Verdict::Pass
        } else {
            Verdict::Fail
        };
        if came != expected {
            let (attempt, reasons) = (&line["attempt"], &line["reasons"][0]);
            confusion.odd.push(format!(
                "{id} {place} try {attempt} ({fault}) {came}: {reasons}"
            ));
        }
    }
    for (lead, verdict) in leads.iter().zip(stands) {
        let fault = lead.fault.word(&kind);
        confusion.count(
            &fault,
            verdict.unwrap_or_else(|| panic!("{fault} was left")),
            gaps,
        );
    }
    confusion
}

#[test]
fn a_stock_comes_out_as_it_was_put_in() {
    // Most of the time goes into waiting, so that stocks run beside each other; a balanced lead
    // has twice the steps of the others.
    let share = |of_twenty: u32| (crate::stock::leads(8) * of_twenty).div_ceil(40);
    let stocks = [
        ("instrument", Method::EndToEnd, share(5)),
        ("patch", Method::Loop, share(8)),
        ("speaker", Method::EndToEnd, share(5)),
        ("balanced", Method::EndToEnd, share(2)),
    ];
    let mut all = Confusion::default();
    std::thread::scope(|scope| {
        let runs: Vec<_> = stocks
            .into_iter()
            .flat_map(|stock| [(stock, 3), (stock, 4)])
            .map(|((id, method, count), seed)| {
                scope.spawn(move || {
                    let mut scene = crate_of(id, count, seed).by(method);
                    if id == "speaker" {
                        scene = scene.with("--length 3m --gauge 24AWG");
                    }
                    let finished = scene.go_within(u64::from(count) * 40 + 60);
                    confusion(&scene, &finished, id)
                })
            })
            .collect();
        for run in runs {
            all.join(run.join().unwrap());
        }
    });
    println!("50 readings a second, the real binary on pseudo-terminals:\n{all}");
    assert_eq!(all.faulty_passed(), 0, "{all}");
    assert_eq!(all.good_failed(), 0, "{all}");
    assert!(all.left_in_retest() * 100 < 3 * all.leads(), "{all}");
}

fn rows_of(folder: &Path) -> Vec<Row> {
    let text = std::fs::read(folder.join("crate.csv")).unwrap_or_default();
    let (rows, damage) = read_stock(&text).unwrap();
    assert_eq!(damage, []);
    rows
}

/// Killed again and again, at points that are different each time, it ends as one that was
/// never killed: every lead judged once, none lost, none twice.
#[test]
fn killed_and_resumed_it_goes_on_where_it_was() {
    const LEADS: u32 = 4;
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().to_str().unwrap();
    let scene = crate_of("patch", LEADS, 9)
        .by(Method::Loop)
        .with(&format!("--record {kept}"));
    let mut kills = 0;
    // Lines until it is killed: within a lead, at its end, and right after one.
    for lines in [7_usize, 90, 61, 140, usize::MAX] {
        let before = rows_of(folder.path());
        let mut seen = 0;
        let finished = scene.go_with(|_, _, program| {
            seen += 1;
            if seen == lines {
                program.signal("KILL");
            }
        });
        let stock = of_event(&finished.lines, "stock");
        let folded = Stock::fold(plan(&format!("1..{LEADS}")), &before).tally();
        assert_eq!(stock[0]["tally"]["pass"], folded.pass);
        assert_eq!(stock[0]["tally"]["fail"], folded.fail);
        assert_eq!(stock[0]["tally"]["left"], folded.left().unwrap());
        let after = rows_of(folder.path());
        assert_eq!(after[..before.len()], before[..], "what was kept stays");
        kills += u32::from(finished.status.code().is_none());
        if finished.status.code().is_some() {
            assert_eq!(finished.verdict()["stock"]["left"], 0, "{finished:?}");
            break;
        }
    }
    assert!(kills >= 2, "it was killed {kills} times");
    let rows = rows_of(folder.path());
    let mut tags: Vec<&str> = rows.iter().map(|row| row.tag.as_str()).collect();
    tags.sort_unstable();
    tags.dedup();
    assert_eq!(tags, ["1", "2", "3", "4"]);
    let judged = rows.iter().filter(|row| row.number() == 1).count();
    assert_eq!(judged, 4, "each was judged once: {rows:#?}");
    // Each recording replays alone, to the verdict that its row has.
    for row in &rows {
        let What::Done(attempt) = &row.what else {
            continue;
        };
        let table = attempt.kept.recording.as_deref().unwrap();
        let replayed = super::ran(&["replay", table, "--json"]);
        let lines = replayed.lines();
        let last = lines.last().unwrap();
        assert_eq!(event(last), "verdict");
        assert_eq!(last["verdict"], attempt.verdict.word(), "{table}");
    }
}

/// Two programs on one table would each judge the same leads.
#[test]
fn a_stock_that_another_program_runs_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().to_str().unwrap();
    let scene = crate_of("patch", 2, 1)
        .by(Method::Loop)
        .with(&format!("--record {kept}"));
    let mut refused = Vec::new();
    let finished = scene.go_with(|line, _, _| {
        if event(line) == "lead" && refused.is_empty() {
            let other = "lead --json --stock-name crate --kind patch --from - --protocol \
                         number-lines --record";
            let line: Vec<&str> = other.split_whitespace().chain([kept]).collect();
            refused.push(super::ran(&line));
        }
    });
    let sentence = refused[0].refusal(2);
    for words in [
        "crate.csv",
        "another steadyohm is running this stock",
        "--stock-name",
    ] {
        assert!(sentence.contains(words), "{sentence}");
    }
    // The first one was not disturbed, and with it the table is free again.
    assert_eq!(finished.verdict()["stock"]["left"], 0, "{finished:?}");
    let rows = rows_of(folder.path());
    assert!(rows.len() >= 2 && rows.iter().filter(|row| row.number() == 1).count() == 2);
    let again = scene.go();
    assert_eq!(again.verdict()["stock"]["left"], 0);
    assert_eq!(rows_of(folder.path()), rows);
}

#[test]
fn the_last_is_undone_one_is_left_out_and_a_pause_judges_nothing() {
    let mut undone = false;
    let mut told = Vec::new();
    let scene = crate_of("patch", 3, 2).by(Method::Loop);
    let finished = scene.go_with(|line, _, program| match event(line) {
        "lead_done" if !undone => {
            undone = true;
            program.types("u");
        }
        "lead" => {
            told.push(format!("{} {}", line["tag"], line["attempt"]));
            match told.len() {
                3 => program.types("p"),
                4 => program.types("s"),
                _ => {}
            }
        }
        "paused" => program.types("p"),
        _ => {}
    });
    let whole = &finished.verdict()["stock"];
    assert_eq!(whole["skipped"], 1, "{finished:?}");
    assert_eq!(whole["left"], 0);
    let mut undo = finished
        .lines
        .iter()
        .skip_while(|line| event(line) != "undone");
    let back = undo.next().unwrap()["tag"].clone();
    let again = undo.find(|line| event(line) == "lead").unwrap();
    assert_eq!(again["tag"], back, "what was undone comes again");
    assert_eq!(of_event(&finished.lines, "paused").len(), 1);
    assert_eq!(
        finished.status.code(),
        Some(match verdict(&finished.verdict()["verdict"]) {
            Verdict::Pass => 0,
            Verdict::Fail => 1,
            Verdict::Retest => 3,
        })
    );
    let table = finished.home.path().join("kept/crate.csv");
    let (rows, _) = read_stock(&std::fs::read(table).unwrap()).unwrap();
    let undone = rows
        .iter()
        .filter(|row| matches!(row.what, What::Undone(_)));
    assert_eq!(undone.count(), 1);
    undone_is_not_counted(&finished);
}

/// The ledger knows which run was undone, and so does its recording alone.
fn undone_is_not_counted(finished: &Finished) {
    let home = finished.home.path();
    let told = |file: &[&str]| {
        let line = [&["ledger", "list", "--all", "--json"], file].concat();
        let mut lines = ran_in(home, &line, "").lines();
        lines.sort_by_key(|line| line["run"].as_str().unwrap().to_owned());
        let pairs = lines
            .iter()
            .map(|line| (line["run"].clone(), line["verdict"].clone()));
        pairs.collect::<Vec<_>>()
    };
    let live = told(&[]);
    let undone = live.iter().filter(|(_, verdict)| verdict == "undone");
    assert_eq!(undone.count(), 1, "{live:?}");
    let own = ["--ledger", "own.sqlite"];
    let rebuild = [&["ledger", "rebuild", "--from", "kept"], &own[..]].concat();
    assert_eq!(ran_in(home, &rebuild, "").status, Some(0));
    assert_eq!(told(&own), live);
    let checked = ran_in(home, &["ledger", "check"], "");
    assert_eq!(checked.status, Some(0), "{checked:?}");
    let batch = ran_in(home, &["ledger", "batch", "crate"], "").said;
    assert!(batch.contains("1 undone"), "{batch}");
}

#[test]
fn tags_are_scanned_also_before_they_are_wanted() {
    let scene = crate_of("patch", 2, 1)
        .by(Method::Loop)
        .with("--tags typed");
    let mut leads = 0;
    let finished = scene.go_with(|line, _, program| match event(line) {
        // The tag of a key's letter is a tag.
        "tag_wanted" if leads == 0 => program.types("q"),
        "tag_wanted" => program.types(":q"),
        "lead" => {
            leads += 1;
            if leads == 1 {
                program.types("4006381333931");
            }
        }
        _ => {}
    });
    let tags: Vec<&Value> = of_event(&finished.lines, "lead")
        .iter()
        .map(|line| &line["tag"])
        .take(2)
        .collect();
    assert_eq!(tags, ["q", "4006381333931"], "{finished:?}");
    assert_eq!(finished.verdict()["stock"]["of"], Value::Null);
}

#[test]
fn a_job_file_says_what_the_options_would() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("evening.toml");
    let said = "name = \"loft\"\ntags = \"P01..P02\"\nkind = \"patch\"\nmethod = \"loop\"\n\
                tare = \"touch\"\ntick = 0.06\ntemperature = \"70F\"\nlot = 80\ntolerated = \"5%\"\n";
    std::fs::write(&job, said).unwrap();
    let mut scene = crate_of("patch", 2, 1).by(Method::Loop);
    scene.arguments = super::driver::words("lead --json --wait 2s");
    let finished = scene.with(&format!("--stock {}", job.display())).go();
    let stock = of_event(&finished.lines, "stock");
    assert_eq!(stock[0]["tags"], "P01..P02");
    assert!(
        stock[0]["sampling"][0]
            .as_str()
            .unwrap()
            .contains("of the 80 leads")
    );
    assert!(folder.path().join("loft.csv").exists(), "beside the job");
    // Each lead's record has the workshop's temperature, and the stock as its batch.
    let done = of_event(&finished.lines, "lead_done");
    for line in &done {
        let path = Path::new(line["recording"].as_str().unwrap()).with_extension("json");
        let text = std::fs::read_to_string(finished.home.path().join(path)).unwrap();
        let about = &super::json(&text)["run"]["about"];
        assert!((about["temperature_c"].as_f64().unwrap() - 190.0 / 9.0).abs() < 1e-9);
        assert_eq!(about["batch"], "loft");
    }
    assert!(done.len() >= 2);
    let taken = of_event(&finished.lines, "step_done");
    let tares = taken.iter().filter(|line| line["step"] == "tare").count();
    assert_eq!(tares, 1, "the tare is taken once");
    std::fs::write(&job, "tags = \"P01..P02\"\nlength = \"six\"\n").unwrap();
    let path = job.to_str().unwrap();
    let refused = super::ran(&["lead", "--stock", path, "--from", "tcp://127.0.0.1:1"]);
    let sentence = refused.refusal(2);
    assert!(sentence.contains("evening.toml, line 2"), "{sentence}");
}
