//! A ledger of 100,000 runs, opened, filtered and listed by the real program:
//! `cargo bench --bench figures -- ledger`.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use rusqlite::Connection;
use steadyohm::check::lead::LeadOptions;
use steadyohm::check::meter::MeterFacts;
use steadyohm::record::ledger::{Known, Ledger, NewRun};
use steadyohm::record::{
    About, CheckKept, FindingKept, FoundKept, LeadKept, MeterKept, RunId, RunKept, Sidecar,
    StepKept, VerdictKept,
};

const RUNS: u32 = 100_000;
/// How often each question is asked.
const TIMES: usize = 20;
/// Twenty minutes between runs: some four years of stock.
const APART_MS: u64 = 20 * 60_000;
/// 1 January 2022 in milliseconds of the Unix epoch.
const FIRST_MS: u64 = 1_640_995_200_000;

pub(crate) fn measure() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.sqlite");
    fill(&path);
    let size = std::fs::metadata(&path).unwrap().len() / 1_000_000;
    println!("ledger of {RUNS} runs, {size} MB:");
    for question in [
        "list",
        "list --verdict fail",
        "list --tag L-0042",
        "list --verdict retest --kind lead --since 2023-06-01 --until 2023-06-30",
        "list --batch batch-77 --lot lot-3 --json",
        "history L-0042",
        "batch batch-77",
        "show 017e",
    ] {
        let mut took: Vec<Duration> = (0..TIMES).map(|_| ask(&path, question)).collect();
        took.sort();
        let median = took.get(TIMES / 2).unwrap();
        let longest = took.last().unwrap();
        println!(
            "  {question}: median {:.1} ms, longest of {TIMES} {:.1} ms",
            1e3 * median.as_secs_f64(),
            1e3 * longest.as_secs_f64()
        );
    }
}

fn ask(path: &Path, question: &str) -> Duration {
    let began = Instant::now();
    let status = Command::new(crate::program())
        .args(["ledger", "--ledger"])
        .arg(path)
        .args(question.split(' '))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .unwrap();
    let took = began.elapsed();
    // Several runs begin with the same letters: to be told so is an answer, too.
    assert!(
        status.success() || question.starts_with("show"),
        "{question}"
    );
    took
}

fn fill(path: &Path) {
    let mut ledger = Ledger::to_write(Connection::open(path).unwrap()).unwrap();
    let numbers: Vec<u32> = (0..RUNS).collect();
    for some in numbers.chunks(5_000) {
        let runs: Vec<NewRun> = some.iter().map(|number| run(*number)).collect();
        ledger.keep_all(&runs, Known::Stays).unwrap();
    }
}

fn run(number: u32) -> NewRun {
    let verdict = match number % 5 {
        0 => "fail",
        1 => "retest",
        _ => "pass",
    };
    let began = FIRST_MS + u64::from(number) * APART_MS;
    let name = |what: &str, of: u32| Some(format!("{what}-{:04}", number % of));
    let sidecar = Sidecar {
        layout: Sidecar::LAYOUT,
        began: jiff::Timestamp::from_millisecond(i64::try_from(began).unwrap())
            .unwrap()
            .to_string(),
        source: "serial:/dev/ttyUSB0".to_owned(),
        protocol: "lcd-segments-14".to_owned(),
        made_by: None,
        meter: MeterKept::from(&MeterFacts::default()),
        patience_s: 60.0,
        check: Some(CheckKept::Lead(LeadKept::from(&LeadOptions::of(
            std::sync::Arc::new(
                steadyohm::circuit::lead::LeadKind::find("instrument").unwrap(),
            ),
        )))),
        verdict: Some(VerdictKept {
            verdict: verdict.to_owned(),
            reasons: vec!["tip: steady through 10 bends".to_owned(); 6],
        }),
        run: Some(RunKept {
            id: RunId::of_old(began, &number.to_le_bytes()),
            about: About {
                tag: name("L", 20_000),
                batch: Some(format!("batch-{}", number / 500)),
                lot: Some(format!("lot-{}", number % 7)),
                temperature_c: Some(18.0 + f64::from(number % 9)),
                ..About::default()
            },
            found: Some(found(number, verdict)),
            recorded: None,
            undone: false,
        }),
    };
    NewRun {
        sidecar,
        recording: Some(format!("recordings/{began}-lead.csv")),
    }
}

fn found(number: u32, verdict: &str) -> FoundKept {
    let step = |name: &str| StepKept {
        step: name.to_owned(),
        verdict: verdict.to_owned(),
        ohms: Some(0.5 + f64::from(number % 17) / 100.0),
        proof: "seen".to_owned(),
        coverage: 0.95,
        reasons: vec!["closed at 0.500 Ω, at most 2.500 Ω wanted".to_owned()],
        finding: None,
        resolution_ohms: Some(0.01),
    };
    let finding = FindingKept {
        what: "break".to_owned(),
        step: Some("tip".to_owned()),
        from_s: 3.0,
        to_s: Some(3.1),
        at_least_s: Some(0.1),
        at_most_s: Some(0.3),
        ohms: None,
        text: None,
    };
    FoundKept {
        took_s: 20.0,
        steps: vec![step("tip"), step("sleeve"), step("isolation")],
        findings: if verdict == "pass" {
            Vec::new()
        } else {
            vec![finding]
        },
        blind_spot: None,
    }
}
