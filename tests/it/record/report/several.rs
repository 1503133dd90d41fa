//! The pages of a job and of a batch: any text stays text, one sheet whatever there is to show,
//! and the verdict no better than the worst.

use std::collections::BTreeSet;

use scraper::{Html, Selector};
use steadyohm::check::notice::Verdict::{self, Fail, Pass, Retest};
use steadyohm::reading::Ohms;
use steadyohm::record::ledger::{Bar, BatchFigures, Cause, Group, Histogram};
use steadyohm::record::report::{
    BatchInput, JobInput, JobPart, PieceLine, RunReport, Section, batch_html, batch_markdown,
    job_html, job_markdown,
};

use super::injection::{SPITEFUL, means_nothing, skeleton};
use super::sample::{run, single};

fn part(name: &str, run: RunReport, before: Option<RunReport>) -> JobPart {
    JobPart {
        name: name.to_owned(),
        before,
        run,
    }
}

/// A job of two checks, one of them made before too.
fn job_of(text: &str) -> JobInput {
    JobInput {
        subject: single(text).subject,
        parts: vec![
            part(text, run(text), None),
            part("Control", run(text), Some(run(text))),
        ],
    }
}

pub(super) fn job(text: &str) -> String {
    job_html(&job_of(text))
}

fn piece(tag: &str, verdict: &str) -> PieceLine {
    PieceLine {
        tag: Some(tag.to_owned()),
        verdict: verdict.to_owned(),
        attempts: 1,
        failed_before: false,
        ohms: vec![
            ("tip".to_owned(), Ohms(0.512)),
            ("sleeve".to_owned(), Ohms(0.4)),
        ],
        wrong: Vec::new(),
    }
}

fn batch_of(text: &str, pieces: Vec<PieceLine>) -> BatchInput {
    let count = u64::try_from(pieces.len()).unwrap();
    let group = Group {
        kind: Some(text.to_owned()),
        lot: Some(text.to_owned()),
        runs: count,
        pieces: count,
        ..Group::default()
    };
    BatchInput {
        subject: single(text).subject,
        from: "2026-03-01".to_owned(),
        to: "2026-03-02".to_owned(),
        figures: BatchFigures {
            all: group.clone(),
            causes: vec![Cause {
                seen: text.to_owned(),
                runs: 3,
                up_to_here: 3,
            }],
            histograms: vec![Histogram {
                kind: text.to_owned(),
                step: text.to_owned(),
                median_ohms: 0.5,
                bars: vec![Bar {
                    from_ohms: 0.4,
                    to_ohms: 0.6,
                    pieces: 3,
                }],
            }],
            groups: vec![group.clone(), group],
            invented: 1,
            stopped: 1,
            undone: 2,
        },
        proof: vec![text.to_owned()],
        pieces,
    }
}

fn pieces_of(text: &str) -> Vec<PieceLine> {
    let wrong = PieceLine {
        wrong: vec![text.to_owned()],
        ..piece(text, text)
    };
    vec![piece(text, "pass"), piece(text, "fail"), wrong]
}

pub(super) fn batch(text: &str) -> String {
    batch_html(&batch_of(text, pieces_of(text)))
}

#[test]
fn spiteful_texts_stay_text_on_pages_of_several() {
    // How much is drawn depends on how long the texts are: no element may be of another kind.
    let kinds = |page: &str| skeleton(page).into_iter().collect::<BTreeSet<String>>();
    let plain = [job("x"), batch("x")].map(|page| kinds(&page));
    for text in SPITEFUL {
        for (page, plain) in [job(text), batch(text)].iter().zip(&plain) {
            let more: Vec<String> = kinds(page).difference(plain).cloned().collect();
            assert_eq!(more, [""; 0], "{text:?}");
        }
        means_nothing(&job_markdown(&job_of(text)));
        means_nothing(&batch_markdown(&batch_of(text, pieces_of(text))));
    }
    let slipped = job("x").replacen("<bdi>x</bdi>", "<bdi><b onclick>x</b></bdi>", 1);
    assert!(!kinds(&slipped).is_subset(&plain[0]));
}

fn count(page: &str, selector: &str) -> usize {
    let page = Html::parse_document(page);
    page.select(&Selector::parse(selector).unwrap()).count()
}

fn text_of(page: &str, selector: &str) -> String {
    let page = Html::parse_document(page);
    let selector = Selector::parse(selector).unwrap();
    page.select(&selector)
        .flat_map(|element| element.text())
        .collect()
}

#[test]
fn a_job_is_no_better_than_the_worst_of_it() {
    let with = |verdicts: &[Verdict]| {
        let parts = verdicts.iter().map(|verdict| {
            let run = RunReport {
                verdict: *verdict,
                ..run("x")
            };
            part("Lead", run, None)
        });
        JobInput {
            subject: single("x").subject,
            parts: parts.collect(),
        }
    };
    for (verdicts, whole, words) in [
        (&[Pass, Pass][..], Pass, "All 2 checks passed."),
        (
            &[Pass, Retest],
            Retest,
            "1 of 2 checks passed. Lead: retest.",
        ),
        (
            &[Retest, Fail, Pass],
            Fail,
            "1 of 3 checks passed. Lead: retest; Lead: fail.",
        ),
    ] {
        let input = with(verdicts);
        assert_eq!(input.verdict(), whole);
        let page = job_html(&input);
        assert_eq!(text_of(&page, ".verdict h2"), whole.word());
        assert_eq!(text_of(&page, ".verdict p"), words);
    }
}

/// What has no room is left out from the least telling on, and said to be: drawings without a
/// break, drawings, bands, values of what passed. Verdicts and notes stay.
#[test]
fn a_large_job_gives_up_drawings_before_values_and_never_verdicts() {
    let mut before = (usize::MAX, usize::MAX);
    for parts in 1..=16 {
        let input = JobInput {
            subject: single("x").subject,
            parts: (0..parts)
                .map(|number| part(&format!("Lead {number}"), run("x"), None))
                .collect(),
        };
        let page = job_html(&input);
        assert_eq!(count(&page, ".checks tbody tr"), parts);
        let rows = run("x").rows().count();
        let values = count(&page, "table:not(.checks) tbody tr th") / rows;
        let drawn = count(&page, "svg.trace") + count(&page, "svg.track");
        let told = text_of(&page, "main > p");
        assert_eq!(
            drawn < 2 * parts || values < parts,
            told.contains("have no room here"),
            "{told}"
        );
        // No part is shown at the cost of what smaller jobs showed of each.
        let share = (100 * values / parts, 100 * drawn / parts);
        assert!(share.0 <= before.0, "{parts}: {share:?} after {before:?}");
        before = share;
    }
    assert_eq!(before.0, 0, "sixteen checks leave no room for values");
}

#[test]
fn a_large_batch_lists_what_does_not_pass_first() {
    let mut pieces: Vec<PieceLine> =
        (0..500).map(|n| piece(&format!("P{n}"), "pass")).collect();
    for bad in [3, 250, 499] {
        pieces[bad] = piece(&format!("P{bad}"), "fail");
    }
    let page = batch_html(&batch_of("x", pieces.clone()));
    let listed = count(&page, ".pieces li");
    assert!((60..200).contains(&listed), "{listed}");
    assert!(text_of(&page, ".pieces li:nth-child(-n+3)").starts_with("P3fail"));
    assert!(text_of(&page, ".pieces li:nth-child(3)").starts_with("P499fail"));
    let rest = format!("And {} more, which all pass", 500 - listed);
    assert!(text_of(&page, "main").contains(&rest));
    // The text has them all.
    let markdown = batch_markdown(&batch_of("x", pieces.clone()));
    assert!(
        markdown.contains("| P498 | ✓ pass | 0.512, 0.4\u{A0}Ω |"),
        "{markdown}"
    );
    // A crate of eighty is listed whole, in its own order.
    pieces.truncate(80);
    let page = batch_html(&batch_of("x", pieces));
    assert_eq!(count(&page, ".pieces li"), 80);
    assert!(text_of(&page, ".pieces li:nth-child(4)").starts_with("P3fail"));
}

/// Marked traces are drawn before unmarked ones.
#[test]
fn a_break_is_drawn_before_what_was_quiet() {
    let quiet = || {
        let mut run = run("x");
        for section in &mut run.sections {
            if let Section::Traces(traces) = section {
                for trace in traces {
                    trace.marks.clear();
                }
            }
        }
        run.sections
            .retain(|section| !matches!(section, Section::Track(_)));
        run
    };
    let mut marked = run("x");
    marked
        .sections
        .retain(|section| !matches!(section, Section::Track(_)));
    let mut parts: Vec<JobPart> = (0..9)
        .map(|n| part(&format!("Lead {n}"), quiet(), None))
        .collect();
    parts.push(part("Marked", marked, None));
    let input = JobInput {
        subject: single("x").subject,
        parts,
    };
    let page = job_html(&input);
    assert!(
        page.matches("class=\"trace\"").count() < 10,
        "not all have room"
    );
    let last = page.rsplit("<h2><bdi>Marked</bdi></h2>").next().unwrap();
    assert!(last.contains("class=\"trace\""));
}
