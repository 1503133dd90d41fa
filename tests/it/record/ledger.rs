//! The ledger on real SQLite files: what is kept is read back equal, and nothing that was kept
//! is lost.
#![expect(
    clippy::disallowed_methods,
    reason = "a file is compared before and after"
)]

mod counted; // which runs count, and what they are one of

use std::path::Path;
use std::thread;

use proptest::prelude::*;
use rusqlite::Connection;
use steadyohm::check::lead::{LeadOptions, Tare};
use steadyohm::circuit::Celsius;
use steadyohm::reading::Ohms;
use steadyohm::record::ledger::{
    BatchFigures, Drift, Filter, Kept, Known, Ledger, LedgerError, NewRun, RunLine,
    at_reference,
};
use steadyohm::record::{
    About, AccuracyKept, BlindSpotKept, CheckKept, FindingKept, FoundKept, LeadKept, MeterKept,
    RunId, RunKept, Sidecar, StepKept, VerdictKept,
};

/// Free text as a person, or one who means harm, may type it.
pub(crate) const HARMFUL: [&str; 7] = [
    "'; DROP TABLE run; --",
    "\" OR \"\"=\"",
    "x' OR '1'='1",
    "%_\\%",
    "Robert\u{0}; DELETE FROM document",
    "<script>alert(1)</script>",
    "?1 :tag @x $y",
];

fn open(path: &Path) -> Ledger {
    Ledger::to_write(Connection::open(path).unwrap()).unwrap()
}

fn id(number: u128) -> RunId {
    let text = format!("{:032x}", (0x019b_0000_0000_7000_8000_u128 << 48) | number);
    text.parse().unwrap()
}

fn sidecar(number: u128, verdict: &str, about: About) -> Sidecar {
    Sidecar {
        layout: Sidecar::LAYOUT,
        began: format!("2026-01-{:02}T10:00:00Z", 1 + number % 28),
        source: "a port".to_owned(),
        protocol: "lcd-segments-14".to_owned(),
        made_by: None,
        meter: MeterKept {
            interval_s: Some(0.1),
            aperture_s: None,
            counts: Some(4000),
            range_ohms: None,
            accuracy: Vec::new(),
            tried: None,
        },
        patience_s: 60.0,
        check: Some(CheckKept::Lead(LeadKept::from(
            &crate::simulated::lead_options(),
        ))),
        verdict: Some(VerdictKept {
            verdict: verdict.to_owned(),
            reasons: Vec::new(),
        }),
        run: Some(RunKept {
            id: id(number),
            about,
            found: None,
            recorded: None,
            undone: false,
        }),
    }
}

fn new_run(sidecar: Sidecar) -> NewRun {
    NewRun {
        sidecar,
        recording: None,
    }
}

fn tagged(tag: &str) -> About {
    About {
        tag: Some(tag.to_owned()),
        ..About::default()
    }
}

/// Everything a ledger holds.
fn all(ledger: &Ledger) -> Vec<(RunLine, Sidecar)> {
    let mut all = Vec::new();
    ledger
        .each_sidecar(&mut |line, sidecar| all.push((line, sidecar)))
        .unwrap();
    all
}

fn any_text() -> impl Strategy<Value = Option<String>> {
    prop::option::of(prop_oneof![
        prop::sample::select(HARMFUL.as_slice()).prop_map(str::to_owned),
        "\\PC{0,12}",
    ])
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        0.0..1e9_f64,
        prop::sample::select(vec![0.1, 1.0 / 3.0, 5e-324, -0.0])
    ]
}

prop_compose! {
    fn any_about()(
        tag in any_text(), instrument in any_text(), batch in any_text(), lot in any_text(),
        note in any_text(), temperature_c in prop::option::of(-40.0..60.0_f64),
    ) -> About {
        About { tag, instrument, batch, lot, note, temperature_c, accuracy: None }
    }
}

prop_compose! {
    fn any_found()(
        took_s in any_number(),
        steps in prop::collection::vec(
            (any_text(), prop::option::of(any_number()), 0.0..1.0_f64), 0..4),
        findings in prop::collection::vec(
            (any_text(), any_number(), prop::option::of(any_number())), 0..4),
        blind in prop::option::of(any_number()),
    ) -> FoundKept {
        FoundKept {
            took_s,
            steps: steps.into_iter().map(|(step, ohms, coverage)| StepKept {
                step: step.unwrap_or_default(),
                verdict: "fail".to_owned(),
                ohms,
                proof: "seen".to_owned(),
                coverage,
                reasons: vec!["it was so".to_owned()],
                finding: Some("leakage".to_owned()),
                resolution_ohms: ohms,
            }).collect(),
            findings: findings.into_iter().map(|(text, from_s, ohms)| FindingKept {
                what: "break".to_owned(),
                step: text.clone(),
                from_s,
                to_s: ohms,
                at_least_s: None,
                at_most_s: ohms,
                ohms,
                text,
            }).collect(),
            blind_spot: blind.map(|interval_s| BlindSpotKept {
                interval_s,
                aperture_s: 0.0,
                fraction: None,
                basis: "assumed".to_owned(),
            }),
        }
    }
}

prop_compose! {
    fn any_run()(
        about in any_about(),
        found in prop::option::of(any_found()),
        verdict in prop::sample::select(vec!["pass", "fail", "retest"]),
        recording in any_text(),
    ) -> (About, Option<FoundKept>, &'static str, Option<String>) {
        (about, found, verdict, recording)
    }
}

/// Runs with identities of their own.
fn any_runs() -> impl Strategy<Value = Vec<NewRun>> {
    prop::collection::vec(any_run(), 1..8).prop_map(|runs| {
        (0_u128..)
            .zip(runs)
            .map(|(number, (about, found, verdict, recording))| {
                let mut sidecar = sidecar(number, verdict, about);
                sidecar.run.as_mut().unwrap().found = found;
                NewRun { sidecar, recording }
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Kept one by one as runs end, or all at once and in another order from what their
    /// recordings say: the same ledger.
    #[test]
    fn rebuilt_is_as_written_live(runs in any_runs()) {
        let folder = tempfile::tempdir().unwrap();
        let mut live = open(&folder.path().join("live.sqlite"));
        for run in &runs {
            prop_assert_eq!(live.keep(run).unwrap(), Kept::New);
        }
        // As a recording's sidecar stands on the disk.
        let mut read_back: Vec<NewRun> = runs.iter().map(|run| {
            let text = serde_json::to_string_pretty(&run.sidecar).unwrap();
            NewRun { sidecar: serde_json::from_str(&text).unwrap(), ..run.clone() }
        }).collect();
        read_back.reverse();
        let mut rebuilt = open(&folder.path().join("rebuilt.sqlite"));
        rebuilt.keep_all(&read_back, Known::Replaced).unwrap();
        prop_assert_eq!(all(&live), all(&rebuilt));
        prop_assert_eq!(
            live.pasts(&Filter::default()).unwrap(),
            rebuilt.pasts(&Filter::default()).unwrap()
        );
        prop_assert_eq!(rebuilt.doubts().unwrap(), []);
        // And each is what was given.
        let given: Vec<Sidecar> = runs.iter().map(|run| run.sidecar.clone()).collect();
        let kept: Vec<Sidecar> = all(&live).into_iter().map(|(_, sidecar)| sidecar).collect();
        prop_assert_eq!(kept, given);
        let again = live.keep_all(&read_back, Known::Replaced).unwrap();
        prop_assert!(again.iter().all(|kept| *kept == Kept::Same), "{:?}", again);
    }

    /// Whatever stands in a free-text field, asking for it finds its runs and no other.
    #[test]
    fn filters_find_just_what_was_typed(runs in any_runs()) {
        let mut ledger = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
        ledger.keep_all(&runs, Known::Stays).unwrap();
        for wanted in runs.iter().map(|run| &run.sidecar.run.as_ref().unwrap().about) {
            let filter = Filter {
                tag: wanted.tag.clone(),
                batch: wanted.batch.clone(),
                lot: wanted.lot.clone(),
                instrument: wanted.instrument.clone(),
                ..Filter::default()
            };
            let fits = |asked: &Option<String>, has: &Option<String>| asked.is_none() || asked == has;
            let by_hand = runs.iter().filter(|run| {
                let about = &run.sidecar.run.as_ref().unwrap().about;
                fits(&wanted.tag, &about.tag) && fits(&wanted.batch, &about.batch)
                    && fits(&wanted.lot, &about.lot) && fits(&wanted.instrument, &about.instrument)
            }).count();
            prop_assert_eq!(ledger.list(&filter, None).unwrap().len(), by_hand);
            prop_assert_eq!(ledger.count(&filter).unwrap(), by_hand as u64);
        }
    }

    /// Two benches' ledgers, with some runs in both: every run once, whichever way round.
    #[test]
    fn merged_ledgers_have_no_doubles(runs in any_runs(), cut in 0_usize..8, from in 0_usize..8) {
        let mut one = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
        let mut other = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
        let (cut, from) = (cut.min(runs.len()), from.min(cut).min(runs.len()));
        one.keep_all(&runs[..cut], Known::Stays).unwrap();
        other.keep_all(&runs[from..], Known::Stays).unwrap();
        let (of_one, of_other) = (taken(&one), taken(&other));
        let came = one.keep_all(&of_other, Known::Stays).unwrap();
        let doubles = came.iter().filter(|kept| **kept == Kept::Same).count();
        prop_assert_eq!(doubles, cut - from);
        other.keep_all(&of_one, Known::Stays).unwrap();
        prop_assert_eq!(all(&one), all(&other));
        prop_assert_eq!(all(&one).len(), runs.len());
        prop_assert_eq!(one.doubts().unwrap(), []);
    }
}

fn taken(ledger: &Ledger) -> Vec<NewRun> {
    all(ledger)
        .into_iter()
        .map(|(line, sidecar)| NewRun {
            sidecar,
            recording: line.recording,
        })
        .collect()
}

/// A file as the first layout left it: written by Python's `sqlite3` module with that layout's
/// own statements; three runs, two of one lead.
const LAYOUT_1: &[u8] = include_bytes!("ledger-of-layout-1.sqlite");

#[test]
fn a_stored_older_file_is_brought_forward() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.sqlite");
    std::fs::write(&path, LAYOUT_1).unwrap();
    let before = Ledger::to_read(Connection::open(&path).unwrap());
    assert!(matches!(before, Err(LedgerError::Older { found: 1 })));

    let ledger = open(&path);
    assert_eq!(ledger.doubts().unwrap(), []);
    let lines = ledger.list(&Filter::default(), None).unwrap();
    let told: Vec<(&str, &str, Option<&str>, Option<f64>)> = lines
        .iter()
        .map(|line| {
            let tag = line.tag.as_deref().unwrap();
            (tag, &*line.verdict, line.batch.as_deref(), line.length_m)
        })
        .collect();
    let harmful = "B-2'; DROP TABLE run;--";
    assert_eq!(
        told,
        [
            (harmful, "retest", None, Some(6.0)),
            ("L-014", "fail", Some("winter"), Some(6.0)),
            ("L-014", "pass", Some("winter"), Some(6.0)),
        ]
    );
    // What the older layout had no place for comes from the descriptions.
    let filter = Filter {
        tag: Some("L-014".to_owned()),
        ..Filter::default()
    };
    let pasts = ledger.pasts(&filter).unwrap();
    assert_eq!(pasts[1].seen[0].what, "break");
    assert_eq!(pasts[1].steps[0].ohms, Some(0.55));
    assert_eq!(
        lines[1].recording.as_deref(),
        Some("recordings/019b9b00-0000-7000-8000-000000000002.csv")
    );
    // Once forward, it stays; and it takes new runs.
    drop(ledger);
    let mut ledger = open(&path);
    let run = new_run(sidecar(9, "pass", tagged("L-014")));
    assert_eq!(ledger.keep(&run).unwrap(), Kept::New);
    let layout: u32 = Connection::open(&path)
        .unwrap()
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    assert_eq!(layout, Ledger::layout());
}

#[test]
fn files_that_are_no_ledgers_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let foreign = Connection::open(at("foreign.sqlite")).unwrap();
    foreign.execute_batch("CREATE TABLE parts (name)").unwrap();
    let before = std::fs::read(at("foreign.sqlite")).unwrap();
    let refused = Ledger::to_write(foreign).unwrap_err();
    assert!(matches!(refused, LedgerError::NotALedger), "{refused}");
    assert_eq!(std::fs::read(at("foreign.sqlite")).unwrap(), before);

    std::fs::write(at("text.sqlite"), "part,count\nplug,2\n".repeat(50)).unwrap();
    let refused = Ledger::to_write(Connection::open(at("text.sqlite")).unwrap()).unwrap_err();
    assert!(matches!(refused, LedgerError::NotALedger), "{refused}");

    drop(open(&at("newer.sqlite")));
    let newer = Connection::open(at("newer.sqlite")).unwrap();
    newer.pragma_update(None, "user_version", 99).unwrap();
    let refused = Ledger::to_write(newer).unwrap_err();
    assert!(
        matches!(refused, LedgerError::Newer { found: 99 }),
        "{refused}"
    );
}

/// A disk that takes no more, as SQLite itself meets it: the file may not grow.
#[test]
fn a_full_disk_loses_nothing_that_was_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.sqlite");
    let connection = Connection::open(&path).unwrap();
    drop(Ledger::to_write(connection).unwrap());
    let connection = Connection::open(&path).unwrap();
    let pages: u32 = connection
        .pragma_query_value(None, "page_count", |row| row.get(0))
        .unwrap();
    connection
        .pragma_update(None, "max_page_count", pages + 6)
        .unwrap();
    let mut ledger = Ledger::to_write(connection).unwrap();
    let mut kept = 0;
    let error = loop {
        let run = new_run(sidecar(kept, "pass", tagged("L-1")));
        match ledger.keep(&run) {
            Ok(Kept::New) => kept += 1,
            Ok(other) => panic!("{other:?}"),
            Err(error) => break error,
        }
    };
    assert!(matches!(error, LedgerError::Full(_)), "{error}");
    assert!(error.to_string().contains("make room"), "{error}");
    assert!(kept > 3, "{kept}");
    assert_eq!(ledger.doubts().unwrap(), []);
    assert_eq!(u128::from(ledger.count(&Filter::default()).unwrap()), kept);
    // With room again, the run goes in.
    drop(ledger);
    let mut ledger = open(&path);
    let run = new_run(sidecar(kept, "pass", tagged("L-1")));
    assert_eq!(ledger.keep(&run).unwrap(), Kept::New);
}

#[test]
fn two_writers_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.sqlite");
    let writers: Vec<_> = (0..2_u128)
        .map(|writer| {
            let path = path.clone();
            thread::spawn(move || {
                // Both may be the one that makes the file.
                let mut ledger = open(&path);
                for number in 0..100 {
                    let run = new_run(sidecar(1_000 * writer + number, "pass", tagged("L-1")));
                    assert_eq!(ledger.keep(&run).unwrap(), Kept::New);
                }
            })
        })
        .collect();
    for writer in writers {
        writer.join().unwrap();
    }
    let ledger = open(&path);
    assert_eq!(ledger.count(&Filter::default()).unwrap(), 200);
    assert_eq!(ledger.doubts().unwrap(), []);
}

#[test]
fn what_was_changed_by_hand_is_seen() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.sqlite");
    let mut ledger = open(&path);
    for number in 0..3 {
        ledger
            .keep(&new_run(sidecar(number, "fail", tagged("L-1"))))
            .unwrap();
    }
    let hand = Connection::open(&path).unwrap();
    hand.execute(
        "UPDATE run SET verdict = 'pass' WHERE id = ?1",
        [id(1).to_string()],
    )
    .unwrap();
    let doubts = ledger.doubts().unwrap();
    assert_eq!(doubts.len(), 1, "{doubts:?}");
    assert!(doubts[0].to_string().contains(&id(1).to_string()));
    // The run's own description puts it right.
    let run = new_run(sidecar(1, "fail", tagged("L-1")));
    ledger.keep_all(&[run], Known::Replaced).unwrap();
    hand.execute("DELETE FROM document WHERE run = ?1", [id(2).to_string()])
        .unwrap();
    assert_eq!(ledger.doubts().unwrap().len(), 2);
}

#[test]
fn dates_and_verdicts_are_asked_for() {
    let mut ledger = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
    for number in 0..28 {
        let verdict = if number % 2 == 0 { "pass" } else { "fail" };
        ledger
            .keep(&new_run(sidecar(number, verdict, tagged("L-1"))))
            .unwrap();
    }
    let filter = Filter {
        verdict: Some("fail".to_owned()),
        kind: Some("lead".to_owned()),
        since: Some("2026-01-10T00:00:00Z".to_owned()),
        until: Some("2026-01-20T10:00:00Z".to_owned()),
        ..Filter::default()
    };
    let days: Vec<String> = ledger
        .list(&filter, None)
        .unwrap()
        .into_iter()
        .map(|line| line.began.chars().skip(8).take(2).collect())
        .collect();
    // The last, at ten o'clock of the 20th, is outside; the newest comes first.
    assert_eq!(days, ["18", "16", "14", "12", "10"]);
}

/// Identities: RFC 9562, section 4 (version and variant), 5.7 (time in front), 5.8.
#[test]
fn identities_sort_by_time_and_are_made_again_alike() {
    let old = |time| RunId::of_old(time, b"a description");
    assert_eq!(old(5), old(5));
    assert_ne!(old(5), RunId::of_old(5, b"another description"));
    assert!(old(1_700_000_000_000) < old(1_700_000_000_001));
    let text = old(0x0123_4567_89ab).to_string();
    assert!(text.starts_with("01234567-89ab-8"), "{text}");
    assert!(
        matches!(text.as_bytes()[19], b'8' | b'9' | b'a' | b'b'),
        "{text}"
    );
    let new = RunId::new(uuid::Uuid::now_v7()).to_string();
    assert_eq!(new.as_bytes()[14], b'7');
    // 19 January 2026 in milliseconds of the Unix epoch stands between.
    assert!(RunId::new(uuid::Uuid::now_v7()) > old(1_768_780_800_000));
}

/// IEC 60028: the coefficient of annealed copper at 20 °C is 0.003 93 for each kelvin, so that
/// a winding of 6 k ohms at 20 °C reads 6 235.8 at 30 °C.
#[test]
fn resistances_are_reckoned_to_20_degrees() {
    let at_20 = at_reference(Ohms(6_235.8), Celsius(30.0));
    assert!((at_20.0 - 6_000.0).abs() < 0.01, "{at_20}");
    let at_20 = at_reference(Ohms(0.5), Celsius(20.0));
    assert!((at_20.0 - 0.5).abs() < 1e-12);
}

/// A run with its steps: name, verdict, ohms, and what was seen in it.
fn checked(
    number: u128,
    verdict: &str,
    about: About,
    steps: &[(&str, &str, Option<f64>, &[&str])],
) -> NewRun {
    let mut sidecar = sidecar(number, verdict, about);
    let mut found = FoundKept {
        took_s: 20.0,
        steps: Vec::new(),
        findings: Vec::new(),
        blind_spot: None,
    };
    for (step, verdict, ohms, seen) in steps {
        found.steps.push(StepKept {
            step: (*step).to_owned(),
            verdict: (*verdict).to_owned(),
            ohms: *ohms,
            proof: "seen".to_owned(),
            coverage: 1.0,
            reasons: Vec::new(),
            finding: None,
            resolution_ohms: None,
        });
        found.findings.extend(seen.iter().map(|what| FindingKept {
            what: (*what).to_owned(),
            step: Some((*step).to_owned()),
            from_s: 1.0,
            to_s: Some(1.1),
            at_least_s: Some(0.1),
            at_most_s: Some(0.2),
            ohms: None,
            text: None,
        }));
    }
    sidecar.run.as_mut().unwrap().found = Some(found);
    new_run(sidecar)
}

/// Five leads in seven runs: one passes at the second go, one never does.
fn a_batch() -> [NewRun; 7] {
    let lead = |tag: &str, lot: &str| About {
        tag: Some(tag.to_owned()),
        batch: Some("spring".to_owned()),
        lot: Some(lot.to_owned()),
        ..About::default()
    };
    let good: &[(&str, &str, Option<f64>, &[&str])] = &[
        ("tip", "pass", Some(0.5), &[]),
        ("sleeve", "pass", Some(0.3), &[]),
    ];
    let broken: &[(&str, &str, Option<f64>, &[&str])] = &[
        ("tip", "fail", Some(0.7), &["break", "break", "jump"]),
        ("sleeve", "pass", Some(0.3), &[]),
    ];
    let high: &[(&str, &str, Option<f64>, &[&str])] = &[("tip", "fail", Some(9.0), &[])];
    let once: &[(&str, &str, Option<f64>, &[&str])] =
        &[("tip", "retest", Some(0.5), &["break"])];
    [
        checked(1, "pass", lead("A", "x"), good),
        checked(2, "pass", lead("B", "x"), good),
        checked(3, "retest", lead("C", "x"), once),
        checked(4, "pass", lead("C", "x"), good),
        checked(5, "fail", lead("D", "y"), broken),
        checked(6, "fail", lead("D", "y"), broken),
        checked(7, "fail", lead("E", "y"), high),
    ]
}

/// Worked by hand.
#[test]
fn a_batch_is_summed_up() {
    let mut ledger = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
    ledger.keep_all(&a_batch(), Known::Stays).unwrap();
    let filter = Filter {
        batch: Some("spring".to_owned()),
        ..Filter::default()
    };
    let figures = BatchFigures::of(&ledger.pasts(&filter).unwrap());
    let all = &figures.all;
    assert_eq!((all.pieces, all.runs, all.retests), (5, 7, 1));
    assert_eq!(
        (all.passed_first, all.passed_last, all.failed_last),
        (2, 3, 2)
    );
    // C passed after a retest, D and E failed; none is undecided.
    assert_eq!((all.failed_ever, all.undecided), (2, 0));
    let tested = all.tested().unwrap();
    assert_eq!((tested.tested(), tested.failed()), (5, 2));
    assert_eq!(all.share_of_pieces(all.passed_last), Some(0.6));
    let causes: Vec<(&str, u64, u64)> = figures
        .causes
        .iter()
        .map(|cause| (&*cause.seen, cause.runs, cause.up_to_here))
        .collect();
    assert_eq!(causes, [("tip: break", 3, 3), ("tip: at rest", 1, 4)]);
    let lots: Vec<(Option<&str>, u64, u64)> = figures
        .groups
        .iter()
        .map(|group| (group.lot.as_deref(), group.pieces, group.passed_last))
        .collect();
    assert_eq!(lots, [(Some("x"), 3, 3), (Some("y"), 2, 0)]);
    // Last readings of the tip: 0.5, 0.5, 0.5, 0.7, 9.0.
    let tip = &figures.histograms[0];
    assert_eq!(tip.step, "tip");
    assert!((tip.median_ohms - 0.5).abs() < 1e-12);
    assert_eq!(tip.bars.iter().map(|bar| bar.pieces).sum::<u64>(), 5);
    assert_eq!(tip.bars[0].pieces, 4);
    assert!(tip.bars.iter().all(|bar| bar.from_ohms < bar.to_ohms));
}

proptest! {
    /// Every resistance stands in one bar, between its foot and its end.
    #[test]
    fn every_resistance_is_in_a_bar(values in prop::collection::vec(0.0..2e4_f64, 1..60)) {
        let runs: Vec<NewRun> = (0..).zip(&values).map(|(number, ohms)| {
            checked(number, "pass", About::default(), &[("tip", "pass", Some(*ohms), &[])])
        }).collect();
        let mut ledger = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
        ledger.keep_all(&runs, Known::Stays).unwrap();
        let figures = BatchFigures::of(&ledger.pasts(&Filter::default()).unwrap());
        let bars = &figures.histograms[0].bars;
        prop_assert!(bars.len() <= 14, "{}", bars.len());
        for bar in bars {
            // A rounding error at a bar's end may fall either way.
            let near = 1e-9 * bar.to_ohms;
            let most = values.iter()
                .filter(|ohms| (bar.from_ohms - near..=bar.to_ohms + near).contains(*ohms)).count();
            prop_assert!(bar.pieces <= most as u64, "{bar:?}");
        }
        prop_assert_eq!(bars.iter().map(|bar| bar.pieces).sum::<u64>(), values.len() as u64);
    }
}

#[test]
fn what_stands_in_the_way_of_a_comparison_is_said() {
    let warm = About {
        temperature_c: Some(30.0),
        ..tagged("L-1")
    };
    let tip = |ohms| [("tip", "pass", Some(ohms), &[][..])];
    let by = |tare, mut run: NewRun| {
        let options = LeadOptions {
            tare,
            ..crate::simulated::lead_options()
        };
        run.sidecar.check = Some(CheckKept::Lead(LeadKept::from(&options)));
        run
    };
    let given = Tare::Given(Ohms(0.2));
    let mut ledger = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
    let runs = [
        by(given, checked(1, "pass", warm.clone(), &tip(0.519_65))),
        by(Tare::Touch, checked(2, "pass", warm, &tip(0.51))),
        by(given, checked(3, "pass", tagged("L-1"), &tip(0.5))),
    ];
    ledger.keep_all(&runs, Known::Stays).unwrap();
    let drifts = Drift::of(&ledger.pasts(&Filter::default()).unwrap());
    assert_eq!(drifts.len(), 1);
    assert!((drifts[0].points[0].best().0 - 0.5).abs() < 1e-9);
    assert_eq!(drifts[0].points[2].at_20, None);
    let cautions = drifts[0].cautions();
    assert!(
        cautions[0].starts_with("1 of 3 have no temperature"),
        "{cautions:?}"
    );
    assert!(cautions[1].contains("given, touch"), "{cautions:?}");
}

#[test]
fn an_accuracy_file_is_judged_once() {
    let good = "source = \"manual, page 12\"\ncalibrated = \"2026-03-01\"\n\
        [[range]]\nup_to_ohms = 400.0\nresolution_ohms = 0.1\npercent = 0.8\ncounts = 5\n\
        [[range]]\nup_to_ohms = 4e3\nresolution_ohms = 1\npercent = 0.5\ncounts = 2\n";
    let read = AccuracyKept::from_text(good).unwrap();
    assert_eq!(read.ranges.len(), 2);
    assert!((read.ranges[1].up_to_ohms - 4_000.0).abs() < 1e-9);
    let text = serde_json::to_string(&read).unwrap();
    assert_eq!(serde_json::from_str::<AccuracyKept>(&text).unwrap(), read);
    for (from, to, words) in [
        ("manual, page 12", " ", "source is empty"),
        (
            "up_to_ohms = 4e3",
            "up_to_ohms = 4e2",
            "range 2: up_to_ohms = 400",
        ),
        ("percent = 0.8", "percent = -1", "range 1: percent = -1"),
        ("counts = 5", "counts = nan", "range 1: counts"),
        (
            "resolution_ohms = 0.1",
            "resolution_ohms = 400.0",
            "range 1: resolution_ohms",
        ),
        ("percent = 0.5", "per_cent = 0.5", "per_cent"),
    ] {
        let error = AccuracyKept::from_text(&good.replacen(from, to, 1)).unwrap_err();
        assert!(error.to_string().contains(words), "{words}: {error}");
    }
    assert!(AccuracyKept::from_text("source = \"x\"\nrange = []\n").is_err());
}
