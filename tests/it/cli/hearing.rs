//! A line of standard output as the operator hears it.

use serde_json::Value;
use steadyohm::check::notice::{
    CheckResult, Notice, Phase, Proof, StepBegins, StepResult, Tick, Verdict, Wants,
};

use super::event;

/// A line as the operator hears it; none if there is nothing to do about it.
pub(super) fn notice(line: &Value) -> Option<Notice> {
    let text = |key: &str| line[key].as_str().unwrap();
    let number = |key: &str| u32::try_from(line[key].as_u64().unwrap()).unwrap();
    Some(match event(line) {
        "step" => Notice::Step(StepBegins {
            step: text("step").into(),
            wants: match text("wants") {
                "closed" => Wants::Closed,
                "open" => Wants::Open,
                "sweep" => Wants::Sweep,
                "value" => Wants::Value,
                other => panic!("{other}"),
            },
            prompt: text("prompt").to_owned(),
        }),
        "phase" => Notice::Phase {
            step: text("step").into(),
            phase: phase(text("phase")),
        },
        "tick" => Notice::Tick(Tick {
            step: text("step").into(),
            flex: number("flex"),
            of: number("of"),
        }),
        "step_done" => Notice::StepDone(StepResult {
            finding: None,
            step: text("step").into(),
            verdict: Verdict::Retest,
            ohms: None,
            proof: Proof::Seen,
            coverage: 0.0,
            reasons: Vec::new(),
        }),
        "verdict" | "lead_done" => Notice::Verdict(CheckResult {
            findings: Vec::new(),
            not_covered: None,
            check: "lead",
            verdict: Verdict::Retest,
            reasons: Vec::new(),
            steps: Vec::new(),
            blind_spot: None,
            meter_heard: true,
        }),
        _ => return None,
    })
}

fn phase(word: &str) -> Phase {
    [
        Phase::Waiting,
        Phase::Settling,
        Phase::Still,
        Phase::Flexing,
        Phase::Sweeping,
        Phase::Lifting,
        Phase::Confirm,
    ]
    .into_iter()
    .find(|known| known.word() == word)
    .unwrap_or_else(|| panic!("{word} is no phase"))
}
