//! Which runs count, what is said to be wrong with them, and what their resistances are one of.

use rusqlite::Connection;
use steadyohm::check::lead::{LeadOptions, Tare};
use steadyohm::reading::Ohms;
use steadyohm::record::ledger::{
    BatchFigures, Drift, Filter, Known, Ledger, Matter, NewRun, STOPPED, UNDONE,
};
use steadyohm::record::{About, CheckKept, LeadKept, STOPPED_BY_OPERATOR, VerdictKept};

use super::{checked, open, tagged};

fn kept(runs: &[NewRun]) -> Ledger {
    let mut ledger = Ledger::to_write(Connection::open_in_memory().unwrap()).unwrap();
    ledger.keep_all(runs, Known::Stays).unwrap();
    ledger
}

fn stopped(mut run: NewRun, verdict: &str) -> NewRun {
    run.sidecar.verdict = Some(VerdictKept {
        verdict: verdict.to_owned(),
        reasons: vec!["tip: closed".to_owned(), STOPPED_BY_OPERATOR.to_owned()],
    });
    run
}

/// Worked by hand: of six runs one was stopped and one undone; a fail that was seen before the
/// operator stopped is a fail.
#[test]
fn what_was_stopped_or_undone_is_in_no_figure() {
    let tip = |verdict| [("tip", verdict, Some(0.5), &[][..])];
    let mut undone = checked(3, "fail", tagged("C"), &tip("fail"));
    undone.sidecar.run.as_mut().unwrap().undone = true;
    let runs = [
        checked(1, "pass", tagged("A"), &tip("pass")),
        stopped(checked(2, "retest", tagged("B"), &tip("pass")), "retest"),
        undone,
        checked(4, "pass", tagged("C"), &tip("pass")),
        checked(5, "retest", tagged("D"), &tip("retest")),
        stopped(checked(6, "fail", tagged("E"), &tip("fail")), "fail"),
    ];
    let ledger = kept(&runs);
    assert_eq!(ledger.doubts().unwrap(), []);
    let lines = ledger.list(&Filter::default(), None).unwrap();
    let words: Vec<&str> = lines.iter().rev().map(|line| &*line.verdict).collect();
    assert_eq!(words, ["pass", STOPPED, UNDONE, "pass", "retest", "fail"]);
    let figures = BatchFigures::of(&ledger.pasts(&Filter::default()).unwrap());
    let all = &figures.all;
    assert_eq!((all.pieces, all.runs, all.retests), (4, 4, 1));
    assert_eq!((all.passed_first, all.failed_ever), (2, 1));
    assert_eq!((figures.stopped, figures.undone), (1, 1));
    assert_eq!(
        figures.left_out().unwrap(),
        "Left out of all figures: 1 stopped by the operator and 1 undone runs."
    );
    assert_eq!(
        figures.causes.iter().map(|cause| cause.runs).sum::<u64>(),
        2
    );
    let standing = Filter {
        not_undone: true,
        ..Filter::default()
    };
    assert_eq!(ledger.list(&standing, None).unwrap().len(), 5);
}

#[test]
fn a_cause_has_the_words_of_the_check() {
    let mut run = checked(
        1,
        "retest",
        tagged("A"),
        &[("tip", "retest", Some(3e6), &["break"])],
    );
    let found = run.sidecar.run.as_mut().unwrap().found.as_mut().unwrap();
    found.steps[0].finding = Some("opens_when_bent".to_owned());
    let figures = BatchFigures::of(&kept(&[run]).pasts(&Filter::default()).unwrap());
    assert_eq!(figures.causes[0].seen, "tip: opens when bent");
}

/// A file as the second layout left it: written by Python's `sqlite3` module with that layout's
/// own statements; a pass, a run that was stopped, and a fail.
const LAYOUT_2: &[u8] = include_bytes!("../ledger-of-layout-2.sqlite");

#[test]
fn a_file_of_the_second_layout_is_brought_forward() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.sqlite");
    std::fs::write(&path, LAYOUT_2).unwrap();
    let ledger = open(&path);
    assert_eq!(ledger.doubts().unwrap(), []);
    let lines = ledger.list(&Filter::default(), None).unwrap();
    let words: Vec<&str> = lines.iter().map(|line| &*line.verdict).collect();
    assert_eq!(words, ["fail", STOPPED, "pass"]);
    let pasts = ledger.pasts(&Filter::default()).unwrap();
    assert_eq!(pasts[0].steps[0].ohms, Some(0.5));
    assert_eq!(pasts[0].steps[0].finding, None);
}

/// 10 K change copper by 3.93 % (IEC 60028); carbon and probe leads are left as they were read.
#[test]
fn only_copper_is_reckoned_to_20_degrees() {
    let warm = About {
        temperature_c: Some(30.0),
        ..tagged("L-1")
    };
    let steps: &[(&str, &str, Option<f64>, &[&str])] = &[
        ("probes", "pass", Some(0.2), &[]),
        ("tip", "pass", Some(0.519_65), &[]),
        ("isolation", "retest", Some(3e6), &[]),
    ];
    let of = |tare| {
        let mut run = checked(1, "pass", warm.clone(), steps);
        let options = LeadOptions {
            tare,
            ..crate::simulated::lead_options()
        };
        run.sidecar.check = Some(CheckKept::Lead(LeadKept::from(&options)));
        Drift::of(&kept(&[run]).pasts(&Filter::default()).unwrap())
    };
    let by_touch = of(Tare::Touch);
    let matters: Vec<Matter> = by_touch
        .iter()
        .map(|drift| drift.points[0].matter)
        .collect();
    assert_eq!(matters, [Matter::Other, Matter::Copper, Matter::Other]);
    let tip = by_touch[1].points[0].at_20.unwrap();
    assert!((tip.0 - 0.5).abs() < 1e-9);
    assert_eq!(by_touch[0].points[0].at_20, None);
    assert!(by_touch[0].cautions()[0].contains("no copper"));
    let with_probes = of(Tare::None);
    assert_eq!(with_probes[1].points[0].matter, Matter::WithProbes);
    assert_eq!(with_probes[1].points[0].best(), Ohms(0.519_65));
    assert!(with_probes[1].cautions()[0].contains("probe leads were not taken off"));
}
