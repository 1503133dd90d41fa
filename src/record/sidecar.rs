//! What a run was: the `NAME.json` beside a recording.
//!
//! These types mirror the house's own, since a stored file is a promise: a replay must find
//! everything that the verdict depended on.

use serde::{Deserialize, Serialize};

use crate::check::lead::{LeadOptions, Method, Tare};
use crate::check::meter::MeterFacts;
use crate::check::notice::CheckResult;
use crate::check::step::Pace;
use crate::circuit::{Gauge, Metres};
use crate::reading::{Ohms, Seconds};
use crate::signal::Goal;

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
}

/// A check and its options.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "name", rename_all = "snake_case")]
pub enum CheckKept {
    /// A lead.
    Lead(LeadKept),
}

/// The options of a lead check; lengths in metres, resistances in ohms, times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeadKept {
    method: String,
    tare_ohms: Option<f64>,
    tare_by_touch: bool,
    probes_first: bool,
    length_m: Option<f64>,
    gauge: Option<String>,
    limit_ohms: f64,
    isolation_ohms: f64,
    gap_s: f64,
    confidence: f64,
    least_flexes: u32,
    tick_s: f64,
    moving_s: f64,
    wait_s: f64,
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
        }
    }
}

const END_TO_END: &str = "end_to_end";
const LOOP: &str = "loop";

impl From<&LeadOptions> for LeadKept {
    fn from(options: &LeadOptions) -> Self {
        Self {
            method: match options.method {
                Method::EndToEnd => END_TO_END,
                Method::Loop => LOOP,
            }
            .to_owned(),
            tare_ohms: match options.tare {
                Tare::Given(ohms) => Some(ohms.0),
                Tare::None | Tare::Touch => None,
            },
            tare_by_touch: options.tare == Tare::Touch,
            probes_first: options.probes_first,
            length_m: options.conductor.map(|(length, _)| length.0),
            gauge: options.conductor.map(|(_, gauge)| gauge.to_string()),
            limit_ohms: options.limit.0,
            isolation_ohms: options.isolation.0,
            gap_s: options.pace.goal.momentary.0,
            confidence: options.pace.goal.confidence,
            least_flexes: options.pace.goal.least_flexes,
            tick_s: options.pace.tick.0,
            moving_s: options.pace.moving.0,
            wait_s: options.pace.wait.0,
        }
    }
}

impl LeadKept {
    /// The options kept; a sentence if they make no sense.
    pub fn options(&self) -> Result<LeadOptions, String> {
        let method = match self.method.as_str() {
            END_TO_END => Method::EndToEnd,
            LOOP => Method::Loop,
            other => return Err(format!("`{other}` is no method of a lead check")),
        };
        let tare = match self.tare_ohms {
            Some(ohms) => Tare::Given(Ohms(ohms)),
            None if self.tare_by_touch => Tare::Touch,
            None => Tare::None,
        };
        let conductor = match (self.length_m, &self.gauge) {
            (Some(length), Some(gauge)) => {
                let gauge: Gauge = gauge
                    .parse()
                    .map_err(|error| format!("the conductor: {error}"))?;
                Some((Metres(length), gauge))
            }
            _ => None,
        };
        Ok(LeadOptions {
            method,
            tare,
            probes_first: self.probes_first,
            conductor,
            limit: Ohms(self.limit_ohms),
            isolation: Ohms(self.isolation_ohms),
            pace: Pace {
                goal: Goal {
                    momentary: Seconds(self.gap_s),
                    confidence: self.confidence,
                    least_flexes: self.least_flexes,
                },
                tick: Seconds(self.tick_s),
                moving: Seconds(self.moving_s),
                wait: Seconds(self.wait_s),
            },
        })
    }
}
