//! The golden recordings: each replays to the verdict it was made with, from its table and from
//! its raw bytes, and says what it said before.
//!
//! A new recording in `recordings/` is a new test. Those of the simulated bench are made anew
//! with `STEADYOHM_UPDATE_RECORDINGS=1 INSTA_UPDATE=always cargo test --test it recordings`.
#![expect(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "recordings are files"
)]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

use steadyohm::bench::LeadFault;
use steadyohm::check::lead::{Lead, Method};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::Notice;
use steadyohm::protocol::find;
use steadyohm::reading::Seconds;
use steadyohm::record::{
    CheckKept, Entry, LeadKept, MeterKept, RawWriter, Sidecar, VerdictKept, read_raw,
};
use steadyohm::session::{Event, Recording, Session, Setup, events};

use crate::golden;
use crate::simulated::Run;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("recordings")
}

/// One run of the simulated bench and the name of its recording: an instrument lead with
/// every fault by both methods, and what the hands may do.
fn instrument_leads() -> Vec<(String, Run)> {
    let mut runs = of_kind("instrument", &BOTH, "lead");
    let mut slips = Run::new(LeadFault::Good, 5.0, 2);
    slips.bench.hands.slips_at = Some(4);
    runs.push(("lead-good-probe-slips".to_owned(), slips));
    let mut probes = Run::new(LeadFault::ProbeLeadOpensWhenFlexed, 5.0, 3);
    probes.options.probes_first = true;
    runs.push(("lead-probe-leads-bent-first".to_owned(), probes));
    runs
}

const BOTH: [Method; 2] = [Method::EndToEnd, Method::Loop];

/// The other kinds with every fault. A patch and a speaker lead are wired as an instrument
/// lead is, and only their limits differ: one method each.
fn other_kinds() -> Vec<(String, Run)> {
    [
        of_kind("patch", &[Method::Loop], "patch"),
        of_kind("balanced", &BOTH, "balanced"),
        of_kind("speaker", &[Method::EndToEnd], "speaker"),
        of_kind("insert", &BOTH, "insert"),
    ]
    .concat()
}

fn of_kind(id: &str, methods: &[Method], prefix: &str) -> Vec<(String, Run)> {
    let kind = crate::simulated::kind(id);
    let mut runs = Vec::new();
    for fault in LeadFault::all(&kind) {
        for method in methods {
            let mut run = Run::of(&kind, fault, 3.0, 1);
            run.options.pace.wait = Seconds(10.0);
            let mut name = format!("{prefix}-{}", fault.word(&kind));
            if *method == Method::Loop {
                run = run.by_loop();
                name.push_str("-by-loop");
            }
            runs.push((name, run));
        }
    }
    runs
}

fn write(name: &str, run: &Run, with_bytes: bool) {
    let ran = run.go();
    let setup = run.setup();
    let sidecar = Sidecar {
        layout: Sidecar::LAYOUT,
        began: "2026-01-01T00:00:00Z".to_owned(),
        source: setup.source,
        protocol: run.protocol.id().to_owned(),
        made_by: Some(format!(
            "the simulated bench in simulated time: {}, {} readings/s, seed {}; all invented",
            crate::simulated::fault_word(&run.bench),
            run.bench.meter.rate,
            run.bench.seed
        )),
        meter: MeterKept::from(&setup.facts),
        patience_s: setup.patience.0,
        check: Some(CheckKept::Lead(LeadKept::from(&run.options))),
        verdict: Some(VerdictKept::from(ran.result())),
        run: None,
    };
    let path = folder().join(name);
    golden::write(&path, &ran.entries, &sidecar);
    if with_bytes {
        let mut raw =
            RawWriter::new(File::create(path.with_extension("bin")).unwrap()).unwrap();
        for entry in &ran.entries {
            raw.write(entry).unwrap();
        }
        raw.flush().unwrap();
    }
}

fn names() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "csv"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    names.sort();
    names
}

fn replay(sidecar: &Sidecar, events: Vec<Event>) -> Vec<Notice> {
    let Some(CheckKept::Lead(lead)) = &sidecar.check else {
        panic!("no check")
    };
    let session = Session::new(Setup {
        protocol: find(&sidecar.protocol).unwrap(),
        source: sidecar.source.clone(),
        facts: MeterFacts::from(&sidecar.meter),
        check: Some(Box::new(Lead::new(lead.options().unwrap()))),
        patience: Seconds(sidecar.patience_s),
    });
    golden::said(session, events)
}

/// The story of a run in short lines.
fn story(notices: &[Notice]) -> String {
    let mut lines = Vec::new();
    for notice in notices {
        lines.push(match notice {
            Notice::Step(step) => format!("{} wants {}", step.step, step.wants),
            Notice::Phase { step, phase } => format!("  {step}: {phase}"),
            Notice::Disturbance(seen) => format!(
                "  {} {} at {:.2} s, {:.2} to {:.2} s",
                seen.step,
                seen.kind,
                seen.from.seconds(),
                seen.at_least.0,
                seen.at_most.0
            ),
            Notice::Trouble { what, text } => format!("  trouble {what}: {text}"),
            Notice::StepDone(result) => format!(
                "{} {} (proof {}, coverage {:.2})\n    {}",
                result.step,
                result.verdict,
                result.proof,
                result.coverage,
                result.reasons.join("\n    ")
            ),
            Notice::Verdict(result) => {
                format!(
                    "{} {}\n    {}",
                    result.check,
                    result.verdict,
                    result.reasons.join("\n    ")
                )
            }
            Notice::Opened(_) | Notice::Tick(_) | Notice::Reading(_) => continue,
        });
    }
    lines.join("\n")
}

#[test]
fn every_recording_replays_to_its_verdict() {
    if golden::are_made_anew() {
        for (name, run) in instrument_leads() {
            write(&name, &run, true);
        }
        for (name, run) in other_kinds() {
            write(&name, &run, false);
        }
    }
    let names = names();
    assert!(
        names.len() >= instrument_leads().len() + other_kinds().len(),
        "a golden recording is missing"
    );
    let mut kinds: BTreeMap<String, String> = BTreeMap::new();
    for name in names {
        let path = folder().join(&name);
        let (sidecar, rows) = golden::read(&path);

        let from_table = replay(&sidecar, events(Recording::Rows(rows.clone())));
        let Some(Notice::Verdict(result)) = from_table.last() else {
            panic!("{name}: no verdict")
        };
        assert_eq!(Some(VerdictKept::from(result)), sidecar.verdict, "{name}");

        if !path.with_extension("bin").exists() {
            let (kind, rest) = name.split_once('-').unwrap();
            let line = format!(
                "{rest}: {} {:?}\n    {}\n",
                result.verdict,
                result.findings,
                result.reasons.first().unwrap()
            );
            kinds.entry(kind.to_owned()).or_default().push_str(&line);
            continue;
        }
        let chunks = read_raw(&fs::read(path.with_extension("bin")).unwrap()).unwrap();
        let events = events(Recording::Raw(chunks, rows));
        assert_eq!(
            replay(&sidecar, events),
            from_table,
            "{name}: from the raw bytes"
        );

        insta::assert_snapshot!(name, story(&from_table));
    }
    for (kind, lines) in kinds {
        insta::assert_snapshot!(format!("every-fault-of-{kind}"), lines);
    }
}

/// What a run writes now is what was written then: the format of a recording is a promise.
#[test]
fn a_run_still_writes_the_same_recording() {
    let (name, run) = instrument_leads().swap_remove(2);
    let ran = run.go();
    let table = golden::table(&ran.entries);
    let kept = fs::read(folder().join(name).with_extension("csv")).unwrap();
    assert!(table == kept, "the table differs");
    assert!(
        ran.entries
            .iter()
            .any(|entry| matches!(entry, Entry::Bytes { .. }))
    );
}
