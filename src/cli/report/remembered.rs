//! A run whose recording is gone, as far as the ledger still knows it.

use crate::check::notice::{CheckResult, Proof, StepResult, Verdict};
use crate::cli::report::gather::{self, Gathered};
use crate::cli::status::Failure;
use crate::protocol;
use crate::reading::{Ohms, Seconds};
use crate::record::ledger::RunLine;
use crate::record::report::{
    Expected, MeasuredValue, MeterLine, RunReport, Section, StateRow, States, lead_cautions,
    lead_unchecked,
};
use crate::record::{BlindSpotKept, CheckKept, FoundKept, Sidecar, StepKept};
use crate::signal::{Basis, BlindSpot};

/// The run from its line and its description; what only the readings show is missing, and is
/// said to be.
pub(super) fn remembered(line: &RunLine, sidecar: &Sidecar) -> Result<Gathered, Failure> {
    let verdict = [Verdict::Pass, Verdict::Fail, Verdict::Retest]
        .into_iter()
        .find(|verdict| {
            sidecar
                .verdict
                .as_ref()
                .is_some_and(|kept| kept.verdict == verdict.word())
        });
    let verdict = verdict.ok_or_else(|| {
        Failure::Usage(format!(
            "run {}: `{}` is no verdict that this program knows; `steadyohm ledger show {}` \
             tells what is kept of it",
            line.id, line.verdict, line.id
        ))
    })?;
    let found = sidecar.run.as_ref().and_then(|run| run.found.as_ref());
    let steps = found.map_or(&[][..], |found| &found.steps);
    let reasons = sidecar.verdict.as_ref().map(|kept| kept.reasons.clone());
    let result = CheckResult {
        check: "",
        verdict,
        reasons: reasons.unwrap_or_default(),
        findings: Vec::new(),
        not_covered: None,
        steps: steps.iter().map(step_result).collect(),
        blind_spot: found.and_then(blind_spot),
        meter_heard: true,
    };
    let options = match &sidecar.check {
        Some(CheckKept::Lead(lead)) => lead.options().ok(),
        _ => None,
    };
    let mut cautions = vec![caution(line)];
    cautions.extend(options.iter().flat_map(|o| lead_cautions(o, &result)));
    let mut unchecked = options.map_or_else(Vec::new, |o| lead_unchecked(&o, &result));
    unchecked.push("What else was not checked stood with the recording.".to_owned());
    let run = RunReport {
        check: line.kind.clone(),
        date: gather::date(&sidecar.began),
        recording: "the ledger's own figures".to_owned(),
        made_by: sidecar.made_by.clone(),
        meter: MeterLine {
            format: format_name(&line.protocol),
            source: sidecar.source.clone(),
            interval: result.blind_spot.map(|spot| spot.interval),
            documented: sidecar.meter.interval_s.map(Seconds),
        },
        verdict,
        sections: vec![Section::States(States {
            title: "Measured".to_owned(),
            rows: steps.iter().zip(&result.steps).map(row).collect(),
        })],
        reasons: result.reasons,
        blind_spot: result.blind_spot,
        cautions,
        unchecked,
    };
    Ok(Gathered { run, length: None })
}

fn caution(line: &RunLine) -> String {
    let why = match &line.recording {
        Some(named) => {
            let name = std::path::Path::new(named).file_name();
            let name =
                name.map_or_else(String::new, |name| name.to_string_lossy().into_owned());
            format!("The recording {name} is not there any more")
        }
        None => "No recording was kept of this run".to_owned(),
    };
    format!("{why}: this is what the ledger holds of it, without the readings over time.")
}

fn format_name(id: &str) -> String {
    protocol::find(id).map_or_else(
        |_| id.to_owned(),
        |format| format!("{} ({id})", format.title()),
    )
}

fn step_result(step: &StepKept) -> StepResult {
    StepResult {
        step: step.step.as_str().into(),
        verdict: Verdict::from_word(&step.verdict).unwrap_or(Verdict::Retest),
        ohms: step.ohms.map(Ohms),
        proof: Proof::from_word(&step.proof).unwrap_or(Proof::Operator),
        finding: None,
        coverage: step.coverage,
        reasons: step.reasons.clone(),
    }
}

fn row((kept, result): (&StepKept, &StepResult)) -> StateRow {
    StateRow {
        name: kept.step.clone(),
        expected: Expected::Word("see the reasons".to_owned()),
        measured: kept.ohms.map_or(MeasuredValue::Nothing, |ohms| {
            MeasuredValue::Value(Ohms(ohms))
        }),
        verdict: Some(result.verdict),
        proof: Some(result.proof),
        coverage: Some(result.coverage),
        reasons: kept.reasons.clone(),
    }
}

fn blind_spot(found: &FoundKept) -> Option<BlindSpot> {
    let BlindSpotKept {
        interval_s,
        aperture_s,
        fraction,
        basis,
    } = found.blind_spot.as_ref()?;
    Some(BlindSpot {
        interval: Seconds(*interval_s),
        aperture: Seconds(*aperture_s),
        fraction: *fraction,
        basis: match basis.as_str() {
            "documented" => Basis::Documented,
            "tried" => Basis::Tried,
            _ => Basis::Assumed,
        },
    })
}
