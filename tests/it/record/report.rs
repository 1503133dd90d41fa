//! The report: judged by parsers that are not ours, with every kind of section in it.

mod drawings; // what is drawn stands where its value is
mod injection; // any text stays text
mod sample; // a page with one of everything
mod several; // pages of a job and of a batch

use std::collections::BTreeSet;

use scraper::{Html, Selector};
use steadyohm::check::lead::{LeadOptions, Method};
use steadyohm::check::notice::{CheckResult, Proof, StepResult, Verdict};
use steadyohm::reading::{Ohms, Seconds};
use steadyohm::record::report::{
    Expected, MeasuredValue, Section, StateRow, html, label, lead_cautions, lead_unchecked,
    markdown,
};
use steadyohm::signal::BlindSpot;

use sample::{compared, single};

fn parsed(page: &str) -> Html {
    let parsed = Html::parse_document(page);
    assert!(parsed.errors.is_empty(), "{:?}", parsed.errors);
    parsed
}

fn texts(page: &Html, selector: &str) -> Vec<String> {
    page.select(&Selector::parse(selector).unwrap())
        .map(|element| element.text().collect::<String>().trim().to_owned())
        .collect()
}

/// The parser's list of errors must be able to be other than empty.
#[test]
fn a_wrong_page_would_be_seen() {
    let wrong = html(&single("x")).replace("</table>", "</table></b>");
    assert!(!Html::parse_document(&wrong).errors.is_empty());
}

#[test]
fn the_page_is_whole_and_says_what_it_must() {
    let page = html(&single("a word"));
    let parsed = parsed(&page);
    assert_eq!(texts(&parsed, "h1"), ["Lead check: a word"]);
    assert_eq!(texts(&parsed, ".verdict .word"), ["retest"]);
    let headings = texts(&parsed, "h2");
    for wanted in [
        "Readings over time",
        "Blind spot",
        "Cautions",
        "Not checked",
    ] {
        assert!(headings.iter().any(|heading| heading == wanted), "{wanted}");
    }
    let verdicts = texts(&parsed, "span.state");
    assert_eq!(verdicts, ["pass", "fail", "retest", "not reached"]);
    let rows = texts(&parsed, "tbody th");
    assert_eq!(rows.len(), 4);
    assert_eq!(texts(&parsed, "svg.trace").len(), 1);
    assert_eq!(texts(&parsed, "svg.track").len(), 1);
    // A word alone has no band.
    assert_eq!(texts(&parsed, "svg.band").len(), 3);
}

#[test]
fn before_and_after_stand_side_by_side() {
    let page = html(&compared("a word"));
    let parsed = parsed(&page);
    assert_eq!(texts(&parsed, "h1"), ["Lead, before and after: a word"]);
    assert_eq!(texts(&parsed, ".verdict .word"), ["fail", "retest"]);
    assert_eq!(
        texts(&parsed, ".verdict .of"),
        ["Before, 2026-01-01", "After, 2026-02-02"]
    );
    assert_eq!(texts(&parsed, "svg.trace").len(), 2);
    assert_eq!(texts(&parsed, "svg.track").len(), 2);
    // What only the run before measured is not lost.
    let rows = texts(&parsed, "tbody tr");
    let gone = rows
        .iter()
        .find(|row| row.starts_with("only before"))
        .unwrap();
    assert!(gone.contains("not measured"), "{gone}");
    let cautions = texts(&parsed, ".notes li");
    assert!(
        cautions.contains(&"Before: low battery.".to_owned()),
        "{cautions:?}"
    );
}

/// What is not from a meter says so before anything else, in every form.
#[test]
fn what_is_no_measurement_says_so() {
    let mut input = single("a word");
    input.run.made_by = Some("the simulated bench".to_owned());
    let told = texts(&parsed(&html(&input)), ".made-by");
    assert_eq!(
        told,
        ["Not a measurement: a word was made by the simulated bench"]
    );
    assert!(markdown(&input).contains("Not a measurement"));
    assert!(label(&input).contains("not a measurement"));
    assert!(!label(&single("a word")).contains("not a measurement"));
}

/// Nothing is loaded from anywhere: no address, no script, no picture, no font.
#[test]
fn the_page_stands_alone() {
    let of_several = [several::job("a word"), several::batch("a word")];
    for page in [html(&single("a word")), html(&compared("a word"))]
        .into_iter()
        .chain(of_several)
    {
        let parsed = parsed(&page);
        let all = Selector::parse("*").unwrap();
        let names: BTreeSet<&str> = parsed
            .select(&all)
            .map(|element| element.value().name())
            .collect();
        for loading in [
            "script", "link", "img", "iframe", "image", "use", "object", "a",
        ] {
            assert!(!names.contains(loading), "{loading}");
        }
        for element in parsed.select(&all) {
            for (name, value) in element.value().attrs() {
                let loads = name.starts_with("on") || matches!(name, "src" | "href" | "style");
                assert!(!loads, "{name}");
                let elsewhere = value.contains("//")
                    || (value.contains("url(") && !value.starts_with("url(#"));
                assert!(!elsewhere, "{name}={value}");
            }
        }
        let style = texts(&parsed, "style").concat();
        assert!(!style.contains("url(") && !style.contains("@import") && !style.contains("//"));
        let policy = Selector::parse("meta[http-equiv='Content-Security-Policy']").unwrap();
        let policy = parsed
            .select(&policy)
            .next()
            .unwrap()
            .attr("content")
            .unwrap();
        assert!(policy.starts_with("default-src 'none';"), "{policy}");
    }
}

/// One id once: two drawings must not share a hatching by name.
#[test]
fn every_id_is_given_once_and_every_reference_is_met() {
    for page in [html(&compared("a word")), several::job("a word")] {
        ids_are_met(&page);
    }
}

fn ids_are_met(page: &str) {
    let parsed = parsed(page);
    let ids: Vec<&str> = parsed
        .select(&Selector::parse("[id]").unwrap())
        .filter_map(|element| element.attr("id"))
        .collect();
    let once: BTreeSet<&&str> = ids.iter().collect();
    assert_eq!(once.len(), ids.len(), "{ids:?}");
    for reference in page.split("url(#").skip(1) {
        let name = reference.split(')').next().unwrap();
        assert!(ids.contains(&name), "{name}");
    }
}

#[test]
fn markdown_has_the_same_rows_and_notes() {
    let text = markdown(&single("a word"));
    for wanted in [
        "# Lead check: a word",
        " 0.500 Ω | ✓ pass |",
        "✗ fail",
        "not reached",
        "## Blind spot",
        "## Not checked",
        "of the track was seen",
    ] {
        assert!(text.contains(wanted), "{wanted}:\n{text}");
    }
}

#[test]
fn the_label_tells_verdict_date_tag_length_and_ohms() {
    let label = label(&single("L-0042"));
    let tree = roxmltree::Document::parse(&label).unwrap();
    let told: Vec<&str> = tree
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")))
        .filter_map(|node| node.text())
        .collect();
    assert_eq!(
        told,
        [
            "RETEST",
            "2026-02-02",
            "L-0042 · L-0042",
            "L-0042 0.500 Ω · L-0042 12.00 Ω",
            ""
        ]
        .into_iter()
        .filter(|line| !line.is_empty())
        .collect::<Vec<_>>()
    );
}

fn result(steps: Vec<StepResult>, verdict: Verdict) -> CheckResult {
    CheckResult {
        findings: Vec::new(),
        not_covered: None,
        check: "lead",
        verdict,
        reasons: Vec::new(),
        steps,
        blind_spot: Some(BlindSpot::assumed(Seconds(0.333))),
        meter_heard: true,
    }
}

fn step(name: &'static str, proof: Proof, coverage: f64) -> StepResult {
    StepResult {
        step: name.into(),
        finding: None,
        verdict: Verdict::Pass,
        ohms: Some(Ohms(0.5)),
        proof,
        coverage,
        reasons: Vec::new(),
    }
}

/// What a check leaves out is told by what it was, not by rote.
#[test]
fn what_was_not_checked_follows_from_the_run() {
    let options = crate::simulated::lead_options();
    let seen = |steps| lead_unchecked(&options, &result(steps, Verdict::Fail)).join("\n");
    let cut = seen(vec![step("tip", Proof::Seen, 0.5)]);
    assert!(cut.contains("Not reached: sleeve, isolation."), "{cut}");
    assert!(cut.contains("Not bent to the end: tip;"), "{cut}");
    let whole = seen(vec![
        step("tip", Proof::Seen, 0.96),
        step("sleeve", Proof::Seen, 0.96),
        step("isolation", Proof::Operator, 0.96),
    ]);
    assert!(
        !whole.contains("Not reached") && !whole.contains("Not bent"),
        "{whole}"
    );
    assert!(!whole.contains("they were measured in loops"), "{whole}");
    let by_loop = LeadOptions {
        method: Method::Loop,
        probes_first: true,
        ..options.clone()
    };
    let by_loop = lead_unchecked(&by_loop, &result(Vec::new(), Verdict::Retest)).join("\n");
    assert!(by_loop.contains("they were measured in loops"), "{by_loop}");
    assert!(!by_loop.contains("they were not bent alone"), "{by_loop}");
}

#[test]
fn cautions_follow_from_the_result() {
    let options = crate::simulated::lead_options();
    let told = |options: &LeadOptions, steps, verdict| {
        lead_cautions(options, &result(steps, verdict)).join("\n")
    };
    let on_word = vec![step("isolation", Proof::Operator, 0.96)];
    let passed = told(&options, on_word, Verdict::Pass);
    assert!(passed.contains("operator's word for isolation"), "{passed}");
    assert!(passed.contains("A pass says"), "{passed}");
    assert!(!passed.contains("may be theirs"), "{passed}");

    let mut broke = step("tip", Proof::Seen, 0.5);
    broke.verdict = Verdict::Fail;
    let failed = told(&options, vec![broke.clone()], Verdict::Fail);
    assert!(!failed.contains("operator's word") && !failed.contains("A pass says"));
    assert!(
        failed.contains("may be theirs") && failed.contains("speaker lead"),
        "{failed}"
    );

    // Probe leads that were bent alone first are out of question, and so is a fault at rest.
    let probes_first = LeadOptions {
        probes_first: true,
        ..options.clone()
    };
    let proven = told(&probes_first, vec![broke.clone()], Verdict::Fail);
    assert!(!proven.contains("may be theirs"), "{proven}");
    broke.coverage = 0.0;
    let at_rest = told(&options, vec![broke], Verdict::Fail);
    assert!(!at_rest.contains("may be theirs"), "{at_rest}");
}

/// A row of a selector position, as a rewire gives it.
#[test]
fn a_predicted_band_is_told_with_its_nominal() {
    let mut input = single("a word");
    let Some(Section::States(states)) = input.run.sections.first_mut() else {
        panic!("no table")
    };
    states.rows = vec![StateRow {
        name: "position 2".to_owned(),
        expected: Expected::Between {
            low: Ohms(3_400.0),
            nominal: Ohms(3_700.0),
            high: Ohms(4_000.0),
        },
        measured: MeasuredValue::Value(Ohms(3_820.0)),
        verdict: Some(Verdict::Pass),
        proof: None,
        coverage: None,
        reasons: Vec::new(),
    }];
    let cells = texts(&parsed(&html(&input)), "tbody td");
    assert_eq!(cells[0], "3.7\u{A0}kΩ, 3.4\u{A0}kΩ to 4\u{A0}kΩ");
    assert_eq!(cells[2], "3.820 kΩ");
}
