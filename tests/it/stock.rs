//! A stock of leads: its log and its table, its queue, its tare, and whole crates run through
//! in simulated time.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a helper of a test fails as the test does"
)]

pub(crate) mod confusion; // which lead came out how: what a tally is worth
mod crates; // whole crates in simulated time, at three rates
mod log; // queue, undo, standing, tare: on results made up
mod table; // rows kept and read back, torn and damaged

use steadyohm::check::notice::{CheckResult, Finding, Proof, StepResult, Verdict};
use steadyohm::check::stock::{StockPlan, Tags};
use steadyohm::reading::Ohms;

use crate::simulated::lead_options;

/// So many leads, unless the environment's LEADS says otherwise.
pub(crate) fn leads(usual: u32) -> u32 {
    let said = std::env::var("LEADS").ok();
    said.and_then(|leads| leads.parse().ok()).unwrap_or(usual)
}

/// A plan for instrument leads with these tags.
pub(crate) fn plan(tags: &str) -> StockPlan {
    StockPlan {
        name: "crate".to_owned(),
        lead: lead_options(),
        tags: tags.parse().unwrap(),
        sampling: None,
    }
}

/// A result of the tip alone.
pub(crate) fn result(verdict: Verdict, finding: Option<Finding>) -> CheckResult {
    CheckResult {
        check: "lead",
        verdict,
        reasons: vec!["tip: as made up; with a semicolon".to_owned()],
        findings: finding
            .map(|finding| format!("tip {finding}"))
            .into_iter()
            .collect(),
        not_covered: None,
        steps: vec![StepResult {
            step: "tip".into(),
            verdict,
            ohms: Some(Ohms(0.1 + 0.2)),
            proof: Proof::Seen,
            finding,
            coverage: 1.0,
            reasons: Vec::new(),
        }],
        blind_spot: None,
        meter_heard: true,
    }
}

#[test]
fn tags_are_read_as_people_write_them() {
    for (text, first, second, count) in [
        ("1..80", "1", "2", Some(80)),
        ("A001..A080", "A001", "A002", Some(80)),
        ("A001..080", "A001", "A002", Some(80)),
        ("098..", "098", "099", None),
        ("blue, red", "blue", "red", Some(2)),
    ] {
        let tags: Tags = text.parse().unwrap();
        assert_eq!(tags.get(0).unwrap(), first, "{text}");
        assert_eq!(tags.get(1).unwrap(), second, "{text}");
        assert_eq!(tags.count(), count, "{text}");
        assert_eq!(tags.to_string().parse(), Ok(tags), "{text}");
    }
    assert_eq!("9..10".parse::<Tags>().unwrap().get(1).unwrap(), "10");
    assert_eq!("typed".parse(), Ok(Tags::Typed));
    for bad in ["", "x", "80..1", "A..B", "a,b,a", "1..9999999"] {
        assert!(bad.parse::<Tags>().is_err(), "{bad:?}");
    }
    assert_eq!(
        Tags::clean("  4006381\u{7}333931 \r").as_deref(),
        Some("4006381333931")
    );
    assert_eq!(Tags::clean(" \t"), None);
}
