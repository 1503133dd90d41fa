//! What the ledger needs to know of a run, as it stands in the recording's sidecar: who and
//! what it was about, and what it found. The ledger can be rebuilt from it alone.

use serde::{Deserialize, Serialize};

use crate::check::notice::{CheckResult, Disturbance, StepResult, Trouble};
use crate::reading::{Ohms, Seconds, Stamp};
use crate::record::{AccuracyKept, RunId};

/// Why a check has no verdict of its own when the operator ended it. It stands among a run's
/// reasons, which are kept, and tells a stopped run from a judged one: it stays as it is.
pub const STOPPED_BY_OPERATOR: &str = "stopped by the operator before the check was over";
use crate::signal::{Basis, BlindSpot};

/// A run in its sidecar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunKept {
    /// Its identity.
    pub id: RunId,
    /// What the operator said of it.
    #[serde(default)]
    pub about: About,
    /// What it found; none until the verdict.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<FoundKept>,
    /// How much was kept of it; none until its end, and in older recordings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded: Option<RecordedKept>,
    /// Whether the operator took it back afterwards.
    #[serde(default, skip_serializing_if = "is_false")]
    pub undone: bool,
}

/// How much a whole recording holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordedKept {
    /// Rows of the table, its header not counted.
    pub rows: u64,
    /// Bytes of the file of raw bytes.
    pub raw_bytes: u64,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde passes a reference"
)]
const fn is_false(flag: &bool) -> bool {
    !*flag
}

/// What the operator said of a run. Only what was typed stands here.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct About {
    /// The tag on the lead or the instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<String>,
    /// The instrument's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// The batch it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<String>,
    /// The supplier's lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The temperature of the workshop, in degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// The meter's stated accuracy.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<AccuracyKept>,
}

/// What a run found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FoundKept {
    /// How long the run took, in seconds.
    pub took_s: f64,
    /// Its steps, in order.
    pub steps: Vec<StepKept>,
    /// What was seen on the way, in order.
    pub findings: Vec<FindingKept>,
    /// What the meter could not have seen; none if no interval was ever measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blind_spot: Option<BlindSpotKept>,
}

/// What one step found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepKept {
    /// The step.
    pub step: String,
    /// Its verdict.
    pub verdict: String,
    /// The resistance at rest in ohms; none if there was no number.
    pub ohms: Option<f64>,
    /// How contact is known.
    pub proof: String,
    /// The chance that a fault of the judged length at each bend would have shown, 0 to 1.
    pub coverage: f64,
    /// Why, in words.
    pub reasons: Vec<String>,
    /// What is wrong, in the words of the command contract; older recordings have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finding: Option<String>,
    /// The meter's last digit as most numbers of the step had it, in ohms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resolution_ohms: Option<f64>,
}

/// One thing seen on the way: an interval in which the work was not what it should be, or a
/// trouble with the meter. Times are seconds since the run began.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FindingKept {
    /// Which kind, in the words of the command contract.
    pub what: String,
    /// The step it was seen in; none for a trouble.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<String>,
    /// When it began.
    pub from_s: f64,
    /// When it ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_s: Option<f64>,
    /// It lasted at least this long.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least_s: Option<f64>,
    /// It lasted at most this long.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most_s: Option<f64>,
    /// The most telling number in it, in ohms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ohms: Option<f64>,
    /// The sentence of a trouble.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// What the meter could not have seen; times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BlindSpotKept {
    /// The measured time between readings.
    pub interval_s: f64,
    /// The time that each reading averages over.
    pub aperture_s: f64,
    /// The share of the aperture that an opening must fill to show, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fraction: Option<f64>,
    /// What the aperture rests on: `documented`, `tried` or `assumed`.
    pub basis: String,
}

impl FoundKept {
    /// What a check found, with what was seen on the way.
    pub fn of(result: &CheckResult, findings: Vec<FindingKept>, took: Stamp) -> Self {
        Self {
            took_s: took.seconds(),
            steps: result.steps.iter().map(StepKept::from).collect(),
            findings,
            blind_spot: result.blind_spot.as_ref().map(BlindSpotKept::from),
        }
    }
}

impl From<&StepResult> for StepKept {
    fn from(result: &StepResult) -> Self {
        Self {
            step: result.step.to_string(),
            verdict: result.verdict.word().to_owned(),
            ohms: result.ohms.and_then(finite),
            proof: result.proof.word().to_owned(),
            coverage: result.coverage,
            reasons: result.reasons.clone(),
            finding: result.finding.map(|finding| finding.word().to_owned()),
            resolution_ohms: None,
        }
    }
}

impl From<&Disturbance> for FindingKept {
    fn from(seen: &Disturbance) -> Self {
        let seconds = |span: Seconds| span.0.is_finite().then_some(span.0);
        Self {
            what: seen.kind.word().to_owned(),
            step: Some(seen.step.to_string()),
            from_s: seen.from.seconds(),
            to_s: Some(seen.to.seconds()),
            at_least_s: seconds(seen.at_least),
            at_most_s: seconds(seen.at_most),
            ohms: seen.ohms.and_then(finite),
            text: None,
        }
    }
}

impl FindingKept {
    /// A trouble with the meter.
    pub fn trouble(at: Stamp, what: Trouble, text: &str) -> Self {
        Self {
            what: what.word().to_owned(),
            step: None,
            from_s: at.seconds(),
            to_s: None,
            at_least_s: None,
            at_most_s: None,
            ohms: None,
            text: Some(text.to_owned()),
        }
    }
}

impl From<&BlindSpot> for BlindSpotKept {
    fn from(spot: &BlindSpot) -> Self {
        Self {
            interval_s: spot.interval.0,
            aperture_s: spot.aperture.0,
            fraction: spot.fraction,
            basis: match spot.basis {
                Basis::Documented => "documented",
                Basis::Tried => "tried",
                Basis::Assumed => "assumed",
            }
            .to_owned(),
        }
    }
}

/// A file of numbers knows no infinity.
fn finite(ohms: Ohms) -> Option<f64> {
    ohms.0.is_finite().then_some(ohms.0)
}
