//! The page of every golden recording, by the program itself: whole, the same as ever, and
//! nothing of the recording lost to it.

mod by_name; // by tag, instrument, batch or run

use std::fs;
use std::path::{Path, PathBuf};

use scraper::Html;

use super::{Ran, steadyohm};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("recordings")
}

fn golden(name: &str) -> String {
    let path = folder().join(name).with_extension("csv");
    path.to_str().unwrap().to_owned()
}

fn names() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "csv"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    // Of the other kinds a few stand for all: their pages differ in names and numbers only.
    names.retain(|name| name.starts_with("lead-") || OTHERS.contains(&name.as_str()));
    names.sort();
    names
}

const OTHERS: [&str; 4] = [
    "balanced-good",
    "balanced-tip-ring-crossed",
    "insert-good-by-loop",
    "speaker-tip-open",
];

/// `steadyohm report`, on a clock that shows universal time.
fn report_in(home: &Path, arguments: &[&str]) -> Ran {
    let output = steadyohm(home)
        .env("TZ", "UTC")
        .arg("report")
        .args(arguments)
        .output()
        .unwrap();
    Ran::of(output)
}

fn report(arguments: &[&str]) -> String {
    let home = tempfile::tempdir().unwrap();
    let ran = report_in(home.path(), arguments);
    assert_eq!((ran.status, ran.complaint.as_str()), (Some(0), ""));
    ran.said
}

#[test]
fn every_golden_recording_has_its_page() {
    let names = names();
    assert!(names.len() >= 22, "{names:?}");
    for name in &names {
        let text = report(&[&golden(name), "--format", "markdown", "--tag", "L-0042"]);
        insta::assert_snapshot!(format!("report-{name}"), text);
        let page = report(&[&golden(name), "--tag", "L-0042"]);
        let parsed = Html::parse_document(&page);
        assert!(parsed.errors.is_empty(), "{name}: {:?}", parsed.errors);
    }
}

/// A new version of the program is no new page.
fn versionless(page: &str) -> String {
    let version = concat!("steadyohm ", env!("CARGO_PKG_VERSION"));
    assert!(page.contains(version));
    page.replace(version, "steadyohm VERSION")
}

/// The pages themselves, of a pass, a fail and a retest.
#[test]
fn the_pages_are_as_they_were() {
    for name in [
        "lead-good",
        "lead-tip-opens-when-flexed",
        "lead-good-probe-slips",
    ] {
        let page = report(&[&golden(name), "--tag", "L-0042", "--by", "Bench 2"]);
        insta::assert_snapshot!(format!("page-{name}"), versionless(&page));
        let label = report(&[&golden(name), "--tag", "L-0042", "--format", "label"]);
        insta::assert_snapshot!(format!("label-{name}"), label);
    }
}

#[test]
fn before_and_after_are_two_recordings() {
    let (before, after) = (golden("lead-tip-opens-when-flexed"), golden("lead-good"));
    let page = report(&[&before, &after, "--job", "New plug"]);
    let parsed = Html::parse_document(&page);
    assert!(parsed.errors.is_empty(), "{:?}", parsed.errors);
    insta::assert_snapshot!("page-before-and-after", versionless(&page));
}

/// A page tells of ticks at their own time: evenly, as the operator heard them.
#[test]
fn bends_are_drawn_when_they_were_called_for() {
    let page = report(&[&golden("lead-good")]);
    let lines = page.split("stroke=\"#999\"").next().unwrap();
    let path = lines
        .rsplit("d=\"")
        .next()
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let places: Vec<f64> = path
        .split('M')
        .filter_map(|line| line.split(' ').next()?.parse().ok())
        .collect();
    assert_eq!(places.len(), 10);
    let steps: Vec<f64> = places.windows(2).map(|pair| pair[1] - pair[0]).collect();
    // Readings come every 0.34 s and the period is 1.4 s: taken at readings they would differ
    // by a fifth.
    let (least, most) = steps
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(l, m), s| (l.min(*s), m.max(*s)));
    assert!(most - least < 0.1, "{steps:?}");
}

#[test]
fn the_ending_of_out_tells_what_is_made() {
    let home = tempfile::tempdir().unwrap();
    for (file, begins) in [
        ("page.html", "<!DOCTYPE html>"),
        ("page.md", "# Lead check"),
        ("label.svg", "<?xml"),
    ] {
        let ran = report_in(home.path(), &[&golden("lead-good"), "--out", file]);
        assert_eq!((ran.status, ran.said.as_str()), (Some(0), ""));
        assert!(
            ran.complaint.contains(&format!("wrote {file}")),
            "{}",
            ran.complaint
        );
        let made = fs::read_to_string(home.path().join(file)).unwrap();
        assert!(made.starts_with(begins), "{file}");
    }
}

#[test]
fn a_page_is_no_pdf_whatever_it_is_called() {
    let home = tempfile::tempdir().unwrap();
    for file in ["page.pdf", "page.PDF"] {
        let ran = report_in(home.path(), &[&golden("lead-good"), "--out", file]);
        let sentence = ran.refusal(2);
        assert!(
            sentence.contains("make page.html") && sentence.contains("print it"),
            "{sentence}"
        );
        assert!(!home.path().join(file).exists());
    }
}

/// Recordings of two tags in a folder, and nothing in any ledger.
fn two_tags(home: &Path) {
    for (name, tag) in [("lead-3", "L-003"), ("lead-2", "L-001")] {
        let from = folder().join("lead-good");
        let to = home.join(name);
        fs::copy(from.with_extension("csv"), to.with_extension("csv")).unwrap();
        let text = fs::read_to_string(from.with_extension("json")).unwrap();
        let mut sidecar: serde_json::Value = serde_json::from_str(&text).unwrap();
        sidecar["run"] = serde_json::json!({
            "id": "01900000-0000-7000-8000-000000000000",
            "about": {"tag": tag},
        });
        fs::write(to.with_extension("json"), sidecar.to_string()).unwrap();
    }
}

#[test]
fn the_tag_is_the_recordings_unless_another_is_given() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    two_tags(home);
    let label = |more: &[&str]| {
        let line = [&["lead-3.csv", "--format", "label"], more].concat();
        report_in(home, &line).said
    };
    assert!(label(&[]).contains("L-003") && !label(&[]).contains("no tag"));
    let other = label(&["--tag", "X-9"]);
    assert!(other.contains("X-9") && !other.contains("L-003"), "{other}");
    assert!(report_in(home, &["lead-3.csv"]).said.contains("L-003"));
}

#[test]
fn two_recordings_of_different_tags_are_told_to_be_so() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    two_tags(home);
    let ran = report_in(home, &["lead-3.csv", "lead-2.csv"]);
    assert_eq!(ran.status, Some(0), "{ran:?}");
    let sentence = "The tags differ, L-003 and L-001";
    assert!(ran.complaint.contains(sentence), "{}", ran.complaint);
    assert!(ran.said.contains(sentence), "{}", ran.said);
    assert!(!ran.said.contains("Before and after"));
}

/// Every free text given on the command line stays text, and the file's own name too.
#[test]
fn what_is_typed_stays_text() {
    let home = tempfile::tempdir().unwrap();
    let spite = "<img src=x onerror=alert(1)>\"'";
    let copy = home.path().join("a<b>&\".csv");
    for ending in ["csv", "json", "bin"] {
        let from = folder().join("lead-good").with_extension(ending);
        fs::copy(from, copy.with_extension(ending)).unwrap();
    }
    let mut arguments = vec![copy.to_str().unwrap()];
    for option in [
        "--job",
        "--instrument",
        "--batch",
        "--tag",
        "--by",
        "--note",
    ] {
        arguments.extend([option, spite]);
    }
    let page = report_in(home.path(), &arguments).said;
    assert_eq!(
        page.matches("&lt;img src=x onerror=alert(1)&gt;").count(),
        8
    );
    assert!(!page.contains("<img") && !page.contains("a<b>"));
    let parsed = Html::parse_document(&page);
    assert!(parsed.errors.is_empty(), "{:?}", parsed.errors);
}

#[test]
fn what_cannot_be_reported_is_refused_in_a_sentence() {
    let home = tempfile::tempdir().unwrap();
    let copy = home.path().join("lead.csv");
    for ending in ["csv", "json", "bin"] {
        let from = folder().join("lead-good").with_extension(ending);
        fs::copy(from, copy.with_extension(ending)).unwrap();
    }
    let refused = |arguments: &[&str], sentence: &str| {
        let ran = report_in(home.path(), arguments);
        assert_eq!(
            (ran.status, ran.said.as_str()),
            (Some(2), ""),
            "{arguments:?}"
        );
        assert!(ran.complaint.contains(sentence), "{}", ran.complaint);
    };
    refused(&["none.csv"], "cannot read none.csv");
    refused(
        &["lead.csv", "--out", "none/page.html"],
        "cannot write none/page.html",
    );
    // Over its own table, by another name for it.
    refused(
        &["lead.csv", "--format", "html", "--out", "./lead.json"],
        "belongs to the recording",
    );
    refused(
        &["lead.csv", "lead.csv", "--format", "label"],
        "give one recording",
    );
    let sidecar = copy.with_extension("json");
    let text = fs::read_to_string(&sidecar).unwrap();
    let mut kept: serde_json::Value = serde_json::from_str(&text).unwrap();
    kept["check"] = serde_json::Value::Null;
    fs::write(&sidecar, kept.to_string()).unwrap();
    refused(&["lead.csv"], "a watch has no verdict to report");
}

/// A verdict that is not the day's own is told as such.
#[test]
fn a_verdict_that_differs_from_the_days_is_told() {
    let home = tempfile::tempdir().unwrap();
    let copy = home.path().join("lead.csv");
    for ending in ["csv", "json", "bin"] {
        let from = folder().join("lead-good").with_extension(ending);
        fs::copy(from, copy.with_extension(ending)).unwrap();
    }
    let of_the_day = report_in(home.path(), &["lead.csv"]).said;
    assert!(!of_the_day.contains("Judged anew"));
    let sidecar = copy.with_extension("json");
    let text = fs::read_to_string(&sidecar).unwrap();
    fs::write(
        &sidecar,
        text.replace("\"verdict\": \"pass\"", "\"verdict\": \"fail\""),
    )
    .unwrap();
    let anew = report_in(home.path(), &["lead.csv"]).said;
    assert!(anew.contains("on the day the verdict was fail"), "{anew}");
}

/// How many elements of a page a selector finds.
fn count(page: &Html, selector: &str) -> usize {
    let selector = scraper::Selector::parse(selector).unwrap();
    page.select(&selector).count()
}

/// A control's page: expected against measured, the turning with what happened in it marked, the
/// track from end to end, and what the sweep could not have shown.
#[test]
fn a_control_has_its_page() {
    for name in [
        "good",
        "dirty-zone",
        "dead-spot",
        "cracked",
        "audio-dirty-zone-marked",
        "jack-good",
        "jack-independent-intermittent-turn",
    ] {
        let path = golden(&format!("pot/{name}"));
        let text = report(&[&path, "--format", "markdown", "--tag", "P-7"]);
        insta::assert_snapshot!(format!("report-pot-{name}"), text);
        let page = Html::parse_document(&report(&[&path, "--tag", "P-7"]));
        assert!(page.errors.is_empty(), "{name}: {:?}", page.errors);
        assert_eq!(count(&page, "svg.trace"), 1, "{name}");
        assert_eq!(count(&page, "svg.track"), 1, "{name}");
        for told in ["smallest zone", "track residual", "Not checked", "borrowed"] {
            assert!(text.contains(told), "{name}: {told} is not in\n{text}");
        }
    }
    let page = report(&[&golden("pot/dirty-zone")]);
    let parsed = Html::parse_document(&page);
    // One area for each zone in the caption.
    let marked = count(&parsed, "svg.trace rect");
    assert!(marked >= 4, "{marked}");
    assert!(page.contains("4: noisy zone at"), "{page}");
    assert!(page.contains("noisy at 60 to 62 %"), "{page}");
}

#[test]
fn a_control_is_compared_before_and_after_cleaning() {
    let (before, after) = (golden("pot/dirty-zone"), golden("pot/good"));
    let page = report(&[&before, &after, "--job", "Volume cleaned"]);
    let parsed = Html::parse_document(&page);
    assert!(parsed.errors.is_empty(), "{:?}", parsed.errors);
    assert_eq!(count(&parsed, "svg.track"), 2);
    assert_eq!(count(&parsed, "svg.trace"), 2);
    assert!(page.contains("The track</bdi>, before"), "{page}");
    assert!(
        page.contains("more are on the page of dirty-zone.csv alone"),
        "{page}"
    );
    let text = report(&[&before, &after, "--format", "markdown"]);
    insta::assert_snapshot!("report-pot-before-and-after", text);
}
