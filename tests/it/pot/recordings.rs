//! Golden recordings of sweeps: each replays to the verdict it was made with.
//!
//! They are made anew with `STEADYOHM_UPDATE_RECORDINGS=1 INSTA_UPDATE=always cargo test --test
//! it pot::recordings`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use steadyohm::bench::PotFault;
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::Notice;
use steadyohm::check::pot::{BenchPlan, Place, Pot};
use steadyohm::circuit::control::{Law, Wiring};
use steadyohm::protocol::find;
use steadyohm::reading::Seconds;
use steadyohm::record::{CheckKept, MeterKept, PotKept, Row, Sidecar, VerdictKept};
use steadyohm::session::{Recording, Session, Setup, events};

use super::run::{Ran, Run};
use crate::golden;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("recordings/pot")
}

fn sweeps() -> Vec<(String, Run)> {
    let mut runs = Vec::new();
    let mut add = |name: String, mut run: Run| {
        run.meter.rate = 5.0;
        run.pot.turning.pass = Seconds(18.0);
        runs.push((name, run));
    };
    for fault in PotFault::ALL {
        add(fault.word().to_owned(), Run::new(Law::Linear, fault));
    }
    let audio = Law::Exponential { mid: 0.15 };
    let mut marked = Run::new(audio, PotFault::DirtyZone);
    marked.options.place = Place::Bench(BenchPlan {
        law_marks: true,
        ..BenchPlan::default()
    });
    add("audio-dirty-zone-marked".to_owned(), marked);
    for (name, wiring) in [
        ("jack", Wiring::Standard),
        ("jack-independent", Wiring::Independent),
    ] {
        for fault in [PotFault::Good, PotFault::IntermittentTurn] {
            let run = Run::new(Law::Linear, fault).at_jack(wiring);
            add(format!("{name}-{}", fault.word()), run);
        }
    }
    runs
}

fn sidecar(run: &Run, ran: &Ran) -> Sidecar {
    let setup = run.setup();
    Sidecar {
        run: None,
        layout: Sidecar::LAYOUT,
        began: "2026-01-01T00:00:00Z".to_owned(),
        source: setup.source,
        protocol: run.protocol.id().to_owned(),
        made_by: Some(format!(
            "the simulated bench in simulated time: a {} control, {} readings/s, {} from stop to \
             stop, seed {}; all invented",
            run.pot.fault.word(),
            run.meter.rate,
            run.pot.turning.pass,
            run.seed
        )),
        meter: MeterKept::from(&setup.facts),
        patience_s: setup.patience.0,
        check: Some(CheckKept::Pot(PotKept::from(&run.options))),
        verdict: Some(VerdictKept::from(ran.result())),
    }
}

fn write(name: &str, run: &Run) {
    let ran = run.go();
    golden::write(&folder().join(name), &ran.entries, &sidecar(run, &ran));
}

fn replay(sidecar: &Sidecar, rows: Vec<Row>) -> Vec<Notice> {
    let Some(CheckKept::Pot(pot)) = &sidecar.check else {
        panic!("no sweep")
    };
    let session = Session::new(Setup {
        protocol: find(&sidecar.protocol).unwrap(),
        source: sidecar.source.clone(),
        facts: MeterFacts::from(&sidecar.meter),
        check: Some(Box::new(Pot::new(pot.options().unwrap()))),
        patience: Seconds(sidecar.patience_s),
    });
    golden::said(session, events(Recording::Rows(rows)))
}

#[test]
fn every_sweep_replays_to_its_verdict() {
    if golden::are_made_anew() {
        for (name, run) in sweeps() {
            write(&name, &run);
        }
    }
    let mut lines = String::new();
    for (name, _) in sweeps() {
        let (sidecar, rows) = golden::read(&folder().join(&name));
        let notices = replay(&sidecar, rows);
        let Some(Notice::Verdict(result)) = notices.last() else {
            panic!("{name}: no verdict")
        };
        assert_eq!(Some(VerdictKept::from(result)), sidecar.verdict, "{name}");
        let reasons = result.reasons.join("\n    ");
        writeln!(lines, "{name}: {}\n    {reasons}", result.verdict).unwrap();
    }
    insta::assert_snapshot!("sweeps", lines);
}

/// A recording gives the same events and the same verdict as the run did, the operator's marks
/// among them.
#[test]
fn a_replay_says_what_the_run_said() {
    for (name, run) in sweeps() {
        let ran = run.go();
        let rows = golden::rows(&name, &golden::table(&ran.entries));
        let text = serde_json::to_string(&sidecar(&run, &ran)).unwrap();
        let kept: Sidecar = serde_json::from_str(&text).unwrap();
        assert_eq!(replay(&kept, rows), ran.notices, "{name}");
    }
}
