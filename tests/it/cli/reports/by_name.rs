//! Pages asked for by tag, instrument, batch or run: what the ledger finds, several checks on
//! one page, and what is said of a recording that is gone.

use std::fs;
use std::path::Path;

use scraper::{Html, Selector};
use serde_json::{Value, json};

use super::{folder, report_in};
use crate::cli::{Ran, ran_in};

/// A bench with these recordings in its ledger, one a day from 2 March 2026 on: file in the
/// folder of recordings, its new name, what was said of it.
fn bench(runs: &[(&str, &str, Value)]) -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    let kept = home.path().join("kept");
    fs::create_dir(&kept).unwrap();
    for (number, (golden, name, about)) in (1_u32..).zip(runs) {
        let from = folder().join(golden);
        let to = kept.join(name);
        fs::copy(from.with_extension("csv"), to.with_extension("csv")).unwrap();
        let text = fs::read_to_string(from.with_extension("json")).unwrap();
        let mut sidecar: Value = serde_json::from_str(&text).unwrap();
        sidecar["began"] = format!("2026-03-{:02}T10:00:00Z", number + 1).into();
        sidecar["source"] = "serial:/dev/serial/by-id/board_4711".into();
        sidecar.as_object_mut().unwrap().remove("made_by");
        let verdict = sidecar["verdict"]["verdict"].clone();
        let step = json!({"step": "tip", "verdict": verdict, "ohms": 0.5, "proof": "seen",
            "coverage": 1.0, "reasons": ["closed at 0.500 Ω"]});
        sidecar["run"] = json!({
            "id": format!("01{number:06x}-0000-7000-8000-000000000000"),
            "about": about,
            "found": {"took_s": 9.0, "findings": [], "steps": [step]},
        });
        fs::write(to.with_extension("json"), sidecar.to_string()).unwrap();
    }
    let line = [
        "ledger",
        "rebuild",
        "--ledger",
        "own.sqlite",
        "--from",
        "kept",
    ];
    let ran = ran_in(home.path(), &line, "");
    assert_eq!((ran.status, &*ran.complaint), (Some(0), ""), "{ran:?}");
    home
}

fn asked(home: &Path, arguments: &[&str]) -> Ran {
    report_in(home, &[&["--ledger", "own.sqlite"], arguments].concat())
}

fn page(home: &Path, arguments: &[&str]) -> String {
    let ran = asked(home, arguments);
    assert_eq!((ran.status, &*ran.complaint), (Some(0), ""), "{ran:?}");
    let parsed = Html::parse_document(&ran.said);
    assert!(parsed.errors.is_empty(), "{:?}", parsed.errors);
    ran.said
}

fn texts(page: &str, selector: &str) -> Vec<String> {
    let page = Html::parse_document(page);
    let selector = Selector::parse(selector).unwrap();
    let all = page.select(&selector);
    all.map(|element| element.text().collect()).collect()
}

/// One instrument: its lead, a control swept before and after cleaning, another control.
fn one_instrument() -> tempfile::TempDir {
    let of = |tag: &str| {
        json!({"tag": tag, "instrument": "the blue one", "temperature_c": 21.5,
        "note": "owes me for the last one"})
    };
    bench(&[
        ("lead-tip-opens-when-flexed", "a", of("L-014")),
        ("speaker-good", "b", json!({"tag": "S-1"})),
        ("balanced-good", "c", of("snake")),
        ("lead-good", "d", of("L-014")),
    ])
}

#[test]
fn the_newest_run_of_a_tag_is_found_by_its_tag() {
    let home = one_instrument();
    let home = home.path();
    let by_tag = page(home, &["L-014"]);
    assert_eq!(texts(&by_tag, "h1"), ["Lead check: L-014"]);
    assert_eq!(texts(&by_tag, "h2.word"), ["pass"]);
    // What was said with the check is on the page, but for the workshop's own note.
    let facts = texts(&by_tag, "dl.facts").concat();
    for told in [
        "Instrumentthe blue one",
        "Workshop21.5 °C",
        "Fromserial port",
    ] {
        assert!(facts.contains(told), "{told} is not in {facts}");
    }
    assert!(!by_tag.contains("owes me") && !by_tag.contains("4711"));
    assert_eq!(page(home, &["--tag", "L-014"]), by_tag);
    assert_eq!(page(home, &["01000004"]), by_tag);
    assert_eq!(page(home, &["kept/d.csv"]), by_tag);
    // The newest of all, when nothing is named.
    assert_eq!(page(home, &[]), by_tag);
    let older = page(home, &["01000001", "--tag", "another"]);
    assert_eq!(texts(&older, "h1"), ["Lead check: another"]);
    assert_eq!(texts(&older, "h2.word"), ["fail"]);
    let label = asked(home, &["L-014", "--format", "label"]).said;
    assert!(label.contains("L-014") && label.contains("PASS"), "{label}");
}

#[test]
fn an_instruments_checks_are_on_one_page() {
    let home = one_instrument();
    let home = home.path();
    let job = page(
        home,
        &["the blue one", "--job", "New plug", "--by", "Bench 2"],
    );
    assert_eq!(
        page(
            home,
            &[
                "--instrument",
                "the blue one",
                "--job",
                "New plug",
                "--by",
                "Bench 2"
            ]
        ),
        job
    );
    assert_eq!(texts(&job, "h1"), ["Work and checks: the blue one"]);
    assert_eq!(texts(&job, "header p"), ["2026-03-02 to 2026-03-05"]);
    assert_eq!(texts(&job, ".verdict .word"), ["pass"]);
    let rows = texts(&job, ".checks tbody tr");
    assert_eq!(rows.len(), 3, "{rows:?}");
    assert!(
        rows[0].starts_with("Lead snake2026-03-04") && rows[0].contains("All 6 steps passed")
    );
    assert!(rows[1].starts_with("Lead L-014, before2026-03-02") && rows[1].contains("fail"));
    assert!(
        rows[2].starts_with("Lead L-0142026-03-05") && rows[2].contains("All 3 steps passed")
    );
    // Each value with its band, the traces, the blind spot once, what was not checked.
    assert_eq!(job.matches("class=\"band\" viewBox").count(), 9);
    assert!(job.matches("class=\"trace\"").count() >= 3);
    let notes = texts(&job, ".notes").concat();
    for heading in ["Blind spot", "Not checked"] {
        assert!(notes.contains(heading), "{notes}");
    }
    assert!(!job.contains("S-1") && !job.contains("owes me") && !job.contains("4711"));
}

#[test]
fn an_instruments_page_is_the_same_from_files_and_as_text() {
    let home = one_instrument();
    let home = home.path();
    let told = ["--job", "New plug", "--by", "Bench 2"];
    let job = page(home, &[&["the blue one"][..], &told].concat());
    // From a day on there is no run before.
    let since = page(home, &["the blue one", "--since", "2026-03-03"]);
    assert_eq!(texts(&since, ".checks tbody tr").len(), 2);
    // The same as files, in the order given.
    let files = page(
        home,
        &[
            "kept/c.csv",
            "kept/a.csv",
            "kept/d.csv",
            "--job",
            "New plug",
            "--by",
            "Bench 2",
        ],
    );
    assert_eq!(files, job);
    let markdown = asked(home, &["the blue one", "--format", "markdown"]).said;
    assert!(
        markdown.starts_with("# Work and checks: the blue one\n"),
        "{markdown}"
    );
    assert!(
        markdown.contains("## Lead L-014 before: ✗ fail"),
        "{markdown}"
    );
    let label = asked(home, &["the blue one", "--format", "label"]);
    assert!(
        label
            .refusal(2)
            .contains("a label tells how one lead is now")
    );
}

#[test]
fn a_batch_has_its_yield_and_its_list() {
    let of = |tag: &str| json!({"tag": tag, "batch": "spring", "lot": "A7"});
    let home = bench(&[
        ("lead-tip-opens-when-flexed", "a", of("L-1")),
        ("lead-good", "b", of("L-2")),
        ("lead-good", "c", of("L-1")),
        ("lead-good-by-loop", "d", of("L-3")),
        ("lead-good-probe-slips", "e", of("L-4")),
        ("lead-sleeve-open", "f", of("<b>L-5")),
    ]);
    let home = home.path();
    let batch = page(home, &["spring"]);
    assert_eq!(page(home, &["--batch", "spring"]), batch);
    assert_eq!(texts(&batch, "h1"), ["Batch: spring"]);
    assert_eq!(texts(&batch, "h2.word"), ["3 of 5 pass"]);
    let pieces = texts(&batch, ".pieces li");
    assert_eq!(pieces.len(), 5);
    assert!(
        pieces[0].starts_with("L-1") && pieces[0].contains("mended"),
        "{pieces:?}"
    );
    assert!(pieces[3].starts_with("L-4retest"), "{pieces:?}");
    assert!(pieces[4].starts_with("<b>L-5fail tip"), "{pieces:?}");
    let all = texts(&batch, "main").concat();
    for told in [
        "2 passed at the first go (40.0 %)",
        "1 failed in a run and do not any more",
        "1 of 6 runs ended in retest",
        // Four decided pieces, two of them failed at some time: the sample is of what came.
        "4 leads tested, 2 failed",
        "drawn blindly",
        "What did not pass, by cause",
    ] {
        assert!(all.contains(told), "{told:?} is not in {all}");
    }
    assert_eq!(texts(&batch, "svg.bars").len(), 1);
    let markdown = asked(home, &["spring", "--format", "markdown"]).said;
    assert!(markdown.contains("| \\<b\\>L-5 | ✗ fail |"), "{markdown}");
    assert!(
        asked(home, &["spring", "--format", "label"])
            .refusal(2)
            .contains("for one lead")
    );
    assert!(
        asked(home, &["spring", "L-1"])
            .refusal(2)
            .contains("a page of its own")
    );
}

#[test]
fn a_run_whose_recording_is_gone_is_told_as_the_ledger_knows_it() {
    let home = one_instrument();
    let home = home.path();
    fs::remove_file(home.join("kept/d.csv")).unwrap();
    let ran = asked(home, &["L-014"]);
    assert_eq!(ran.status, Some(0), "{ran:?}");
    for told in [
        "run 01000004-0000",
        "kept/d.csv is not there",
        "what the ledger knows",
    ] {
        assert!(
            ran.complaint.contains(told),
            "{told:?} is not in {}",
            ran.complaint
        );
    }
    assert_eq!(texts(&ran.said, "h2.word"), ["pass"]);
    assert_eq!(texts(&ran.said, "tbody tr").len(), 2);
    let notes = texts(&ran.said, ".notes").concat();
    assert!(
        notes.contains("The recording d.csv is not there any more"),
        "{notes}"
    );
    assert!(!ran.said.contains("class=\"trace\""));
    // On the instrument's page it stands among the others.
    let job = asked(home, &["the blue one"]);
    assert_eq!(texts(&job.said, ".checks tbody tr").len(), 3, "{job:?}");
    // Another run's recording in its place is not taken for it.
    for ending in ["csv", "json"] {
        let from = home.join("kept/a").with_extension(ending);
        fs::copy(from, home.join("kept/d").with_extension(ending)).unwrap();
    }
    assert_eq!(asked(home, &["L-014"]).said, ran.said);
}

#[test]
fn what_names_nothing_or_too_much_is_refused_in_a_sentence() {
    let home = bench(&[
        (
            "lead-good",
            "a",
            json!({"tag": "spring", "batch": "spring"}),
        ),
        ("lead-good", "b", json!({"tag": "L-2", "batch": "spring"})),
    ]);
    let home = home.path();
    for (arguments, told) in [
        (
            &["nobody"][..],
            "has no tag, instrument, batch or run of that name",
        ),
        (
            &["spring"],
            "`spring` is a tag and a batch: say which, with --tag",
        ),
        (&["0100"], "several runs begin with `0100`"),
        (&["--tag", "'; DROP TABLE run;--"], "no run of tag"),
        (&["--instrument", "nobody"], "no run of instrument `nobody`"),
        (&["--batch", "nobody"], "no run of batch `nobody`"),
        (
            &["--tag", "L-2", "--since", "2030-01-01"],
            "from that day on",
        ),
        (&["L-2", "--out", "kept/b.json"], "belongs to the recording"),
        (&["L-2", "--out", "own.sqlite"], "belongs to the ledger"),
        (
            &["kept/a.csv", "kept/a.csv", "kept/a.csv"],
            "more than two runs of `spring`",
        ),
    ] {
        let refused = asked(home, arguments);
        assert!(
            refused.refusal(2).contains(told),
            "{arguments:?}: {refused:?}"
        );
    }
    assert_eq!(
        texts(&page(home, &["--tag", "spring"]), "h1"),
        ["Lead check: spring"]
    );
    let none = report_in(home, &["--ledger", "none.sqlite"]);
    assert!(
        none.refusal(2)
            .contains("there is no ledger at none.sqlite")
    );
}
