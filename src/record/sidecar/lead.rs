//! A lead check's options, as a recording keeps them.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::check::lead::{LeadOptions, Method, Tare};
use crate::check::step::Pace;
use crate::circuit::lead::LeadKind;
use crate::circuit::{Celsius, Gauge, Metres};
use crate::reading::{Ohms, Seconds};
use crate::signal::Goal;

/// The options of a lead check; lengths in metres, resistances in ohms, times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeadKept {
    /// The kind of lead: the ID of a built-in one, or the name of the file it is described in.
    #[serde(default = "instrument")]
    kind: String,
    /// The description, if it was a file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    described: Option<String>,
    method: String,
    tare_ohms: Option<f64>,
    tare_by_touch: bool,
    probes_first: bool,
    length_m: Option<f64>,
    gauge: Option<String>,
    #[serde(default = "reference")]
    temperature_c: f64,
    limit_ohms: f64,
    isolation_ohms: f64,
    gap_s: f64,
    confidence: f64,
    least_flexes: u32,
    tick_s: f64,
    moving_s: f64,
    wait_s: f64,
}

const END_TO_END: &str = "end_to_end";
const LOOP: &str = "loop";

impl From<&LeadOptions> for LeadKept {
    fn from(options: &LeadOptions) -> Self {
        let built_in = LeadKind::built_in().any(|id| id == options.kind.id);
        Self {
            kind: options.kind.id.clone(),
            described: (!built_in).then(|| options.kind.text.clone()),
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
            temperature_c: options.temperature.0,
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

fn instrument() -> String {
    "instrument".to_owned()
}

const fn reference() -> f64 {
    Celsius::REFERENCE.0
}

impl LeadKept {
    fn kind(&self) -> Result<LeadKind, String> {
        match &self.described {
            Some(text) => {
                LeadKind::from_text(text, &self.kind).map_err(|error| error.to_string())
            }
            None => LeadKind::find(&self.kind)
                .ok_or_else(|| format!("there is no kind of lead `{}`", self.kind)),
        }
    }

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
            kind: Arc::new(self.kind()?),
            temperature: Celsius(self.temperature_c),
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
