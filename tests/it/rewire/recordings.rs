//! Golden recordings of instruments: each replays to the verdict it was made with.
//!
//! They are made anew with `STEADYOHM_UPDATE_RECORDINGS=1 INSTA_UPDATE=always cargo test --test
//! it rewire::recordings`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use steadyohm::bench::Instrument;
use steadyohm::check::notice::{CheckResult, Notice};
use steadyohm::check::rewire::RewireOptions;
use steadyohm::circuit::{Job, LAYOUTS};
use steadyohm::record::{CheckKept, MeterKept, RewireKept, Row, Sidecar, VerdictKept};
use steadyohm::session::{Recording, Session, events};

use super::{driven, setup};
use crate::golden;
use crate::simulated::Driven;

/// Name, layout, what is wrong, and whether it may be opened.
type Golden = (&'static str, &'static str, &'static str, bool);

const GOLDEN: &[Golden] = &[
    ("good", "two-pickups-three-way", "good", false),
    (
        "one-position-dead",
        "two-pickups-three-way",
        "neck pickup's hot wire and the selector's neck lug is open",
        false,
    ),
    (
        "one-position-dead-opened",
        "two-pickups-three-way",
        "neck pickup's hot wire and the selector's neck lug is open",
        true,
    ),
    (
        "every-position-dead",
        "two-pickups-three-way",
        "the volume control's wiper and the jack's tip is open",
        false,
    ),
    (
        "jack-shorted",
        "master-volume",
        "the jack's tip touches",
        false,
    ),
    (
        "two-faults",
        "two-pickups-three-way",
        "neck pickup's hot wire and the selector's neck lug is open + bottom lug and ground is open",
        false,
    ),
    (
        "comes-and-goes",
        "one-pickup",
        "the bridge pickup's ground wire and ground is open at times",
        false,
    ),
    ("wrong-pickup", "stereo-jack", "pickup has about", false),
    ("five-way-good", "three-pickups-five-way", "good", false),
    (
        "coil-split-joint",
        "coil-split",
        "selector's common and the volume control's top lug is open",
        false,
    ),
    ("stereo-good", "stereo-jack", "good", false),
    (
        "strings-not-grounded",
        "one-pickup",
        "strings and ground is open",
        false,
    ),
];

const SEED: u64 = 11;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("recordings/rewire")
}

fn text((_, layout, _, _): Golden) -> &'static str {
    LAYOUTS
        .iter()
        .find(|known| known.id == layout)
        .unwrap()
        .text
}

fn options(golden: Golden) -> RewireOptions {
    let job = Job::from_text(text(golden), golden.1).unwrap();
    RewireOptions {
        open: golden.3,
        ..RewireOptions::of(Arc::new(job))
    }
}

fn go(golden: Golden) -> Driven {
    let options = options(golden);
    let circuit = options.job.circuit().clone();
    let faults = Instrument::faults_of(&circuit, golden.2).unwrap();
    driven(options, Instrument::drawn(circuit, faults, SEED), SEED)
}

fn result(notices: &[Notice]) -> &CheckResult {
    match notices.last() {
        Some(Notice::Verdict(result)) => result,
        other => panic!("no verdict: {other:?}"),
    }
}

fn sidecar(golden: Golden, ran: &Driven) -> Sidecar {
    let setup = setup(options(golden));
    Sidecar {
        run: None,
        layout: Sidecar::LAYOUT,
        began: "2026-01-01T00:00:00Z".to_owned(),
        source: setup.source,
        protocol: setup.protocol.id().to_owned(),
        made_by: Some(format!(
            "the simulated bench in simulated time: {}, {}, 10 readings/s, seed {SEED}; all \
             invented",
            golden.1, golden.2
        )),
        meter: MeterKept::from(&setup.facts),
        patience_s: setup.patience.0,
        check: Some(CheckKept::Rewire(RewireKept::new(
            &options(golden),
            text(golden),
            golden.1,
        ))),
        verdict: Some(VerdictKept::from(result(&ran.notices))),
    }
}

fn write(golden: Golden) {
    let ran = go(golden);
    golden::write(
        &folder().join(golden.0),
        &ran.entries,
        &sidecar(golden, &ran),
    );
}

fn replay(sidecar: &Sidecar, rows: Vec<Row>) -> Vec<Notice> {
    let Some(CheckKept::Rewire(kept)) = &sidecar.check else {
        panic!("no rewire")
    };
    let session = Session::new(setup(kept.options().unwrap()));
    golden::said(session, events(Recording::Rows(rows)))
}

#[test]
fn every_recording_replays_to_its_verdict() {
    if golden::are_made_anew() {
        for golden in GOLDEN {
            write(*golden);
        }
    }
    let mut lines = String::new();
    for (name, ..) in GOLDEN {
        let (sidecar, rows) = golden::read(&folder().join(name));
        let notices = replay(&sidecar, rows);
        let result = result(&notices);
        assert_eq!(Some(VerdictKept::from(result)), sidecar.verdict, "{name}");
        let reasons = result.reasons.join("\n    ");
        writeln!(lines, "{name}: {}\n    {reasons}", result.verdict).unwrap();
    }
    insta::assert_snapshot!("instruments", lines);
}

/// A recording gives the same events and the same verdict as the run did, the operator's marks
/// among them: one of each way a run goes.
#[test]
fn a_replay_says_what_the_run_said() {
    let ways = [
        "good",
        "one-position-dead-opened",
        "comes-and-goes",
        "wrong-pickup",
    ];
    for golden in GOLDEN.iter().filter(|golden| ways.contains(&golden.0)) {
        let ran = go(*golden);
        let rows = golden::rows(golden.0, &golden::table(&ran.entries));
        let text = serde_json::to_string(&sidecar(*golden, &ran)).unwrap();
        let kept: Sidecar = serde_json::from_str(&text).unwrap();
        assert_eq!(replay(&kept, rows), ran.notices, "{}", golden.0);
    }
}
