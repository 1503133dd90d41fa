//! What a run was: the `NAME.json` beside a recording.
//!
//! These types mirror the house's own, since a stored file is a promise: a replay must find
//! everything that the verdict depended on.

mod lead;
mod pot;
mod rewire;
mod trial;

pub use trial::{TrialKept, TriedKept};

use serde::{Deserialize, Serialize};

use crate::check::meter::{MeterFacts, Tried};
use crate::check::notice::CheckResult;
use crate::reading::{Ohms, Seconds};
use crate::record::RunKept;
use crate::signal::{Accuracies, Accuracy};
pub use lead::LeadKept;
pub use pot::PotKept;
pub use rewire::RewireKept;

/// The sidecar of a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sidecar {
    /// The version of this layout.
    pub layout: u32,
    /// When the run began, RFC 3339.
    pub began: String,
    /// Where the bytes came from.
    pub source: String,
    /// The format's ID.
    pub protocol: String,
    /// How the recording was made, if it is not from a meter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_by: Option<String>,
    /// What was stated about the meter.
    pub meter: MeterKept,
    /// How long the meter could be unusable, in seconds.
    pub patience_s: f64,
    /// The check and its options; none for a watch.
    pub check: Option<CheckKept>,
    /// The verdict, once there was one.
    pub verdict: Option<VerdictKept>,
    /// Its identity, what it was about and what it found; older recordings have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<RunKept>,
}

/// What was stated about the meter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeterKept {
    /// Documented time between readings, in seconds.
    pub interval_s: Option<f64>,
    /// Documented aperture, in seconds.
    pub aperture_s: Option<f64>,
    /// Counts of the display.
    pub counts: Option<u32>,
    /// The range given by the operator, in ohms.
    pub range_ohms: Option<f64>,
    /// The accuracies its maker states, range by range.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accuracy: Vec<AccuracyAt>,
    /// What a trial of the meter found, if it was tried.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tried: Option<TriedKept>,
}

/// The accuracy on one range.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AccuracyAt {
    /// The end of the range in ohms; none for all there are.
    up_to_ohms: Option<f64>,
    /// Part of the reading.
    share: f64,
    /// Counts of the last digit.
    counts: f64,
}

impl From<(Ohms, Accuracy)> for AccuracyAt {
    fn from((full_scale, accuracy): (Ohms, Accuracy)) -> Self {
        Self {
            up_to_ohms: Some(full_scale.0).filter(|ohms| ohms.is_finite()),
            share: accuracy.share,
            counts: accuracy.counts,
        }
    }
}

impl AccuracyAt {
    fn stated(&self) -> (Ohms, Accuracy) {
        let full_scale = Ohms(self.up_to_ohms.unwrap_or(f64::INFINITY));
        let accuracy = Accuracy {
            share: self.share,
            counts: self.counts,
        };
        (full_scale, accuracy)
    }
}

/// A check and its options.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "name", rename_all = "snake_case")]
pub enum CheckKept {
    /// A lead.
    Lead(LeadKept),
    /// A control.
    Pot(PotKept),
    /// A rewired instrument.
    Rewire(RewireKept),
    /// A trial of the meter.
    Trial(TrialKept),
}

impl CheckKept {
    /// The check's name.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Lead(_) => "lead",
            Self::Pot(_) => "pot",
            Self::Rewire(_) => "rewire",
            Self::Trial(_) => "trial",
        }
    }
}

/// The verdict, in short.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct VerdictKept {
    /// The word.
    pub verdict: String,
    /// Why.
    pub reasons: Vec<String>,
}

impl Sidecar {
    /// The layout written now.
    pub const LAYOUT: u32 = 1;
}

impl From<&CheckResult> for VerdictKept {
    fn from(result: &CheckResult) -> Self {
        Self {
            verdict: result.verdict.word().to_owned(),
            reasons: result.reasons.clone(),
        }
    }
}

impl From<&MeterFacts> for MeterKept {
    fn from(facts: &MeterFacts) -> Self {
        Self {
            interval_s: facts.interval.map(|s| s.0),
            aperture_s: facts.aperture.map(|s| s.0),
            counts: facts.counts,
            range_ohms: facts.range.map(|ohms| ohms.0),
            accuracy: facts.accuracy.ranges().map(AccuracyAt::from).collect(),
            tried: facts.tried.as_ref().map(TriedKept::from),
        }
    }
}

impl From<&MeterKept> for MeterFacts {
    fn from(kept: &MeterKept) -> Self {
        Self {
            interval: kept.interval_s.map(Seconds),
            aperture: kept.aperture_s.map(Seconds),
            counts: kept.counts,
            range: kept.range_ohms.map(Ohms),
            accuracy: Accuracies::of(kept.accuracy.iter().map(AccuracyAt::stated)),
            tried: kept.tried.as_ref().map(Tried::from),
        }
    }
}
