//! The options of a control's check, as a recording keeps them.

use serde::{Deserialize, Serialize};

use crate::check::pot::{BenchPlan, Gangs, Place, PotOptions};
use crate::circuit::control::{Control, Tolerance, Wiring};
use crate::reading::{Ohms, Seconds};

/// The options of a control's check; resistances in ohms, times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PotKept {
    nominal_ohms: Option<f64>,
    tolerance_percent: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    letter: Option<char>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    bench: Option<BenchKept>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    jack: Option<JackKept>,
    tare_ohms: f64,
    passes: usize,
    zone: f64,
    detents: bool,
    wait_s: f64,
}

/// At the lugs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct BenchKept {
    gangs: u8,
    both_ends: bool,
    law_marks: bool,
}

/// At the jack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct JackKept {
    wiring: String,
    total_ohms: Option<f64>,
    pickup_ohms: Option<f64>,
}

const STANDARD: &str = "standard";
const INDEPENDENT: &str = "independent";

impl From<&PotOptions> for PotKept {
    fn from(options: &PotOptions) -> Self {
        let (bench, jack) = match options.place {
            Place::Bench(plan) => (
                Some(BenchKept {
                    gangs: match plan.gangs {
                        Gangs::One => 1,
                        Gangs::Two => 2,
                    },
                    both_ends: plan.both_ends,
                    law_marks: plan.law_marks,
                }),
                None,
            ),
            Place::Jack {
                wiring,
                total,
                pickup,
            } => (
                None,
                Some(JackKept {
                    wiring: match wiring {
                        Wiring::Standard => STANDARD,
                        Wiring::Independent => INDEPENDENT,
                    }
                    .to_owned(),
                    total_ohms: total.map(|ohms| ohms.0),
                    pickup_ohms: pickup.map(|ohms| ohms.0),
                }),
            ),
        };
        Self {
            nominal_ohms: options.nominal.map(|control| control.nominal.0),
            tolerance_percent: options.nominal.map(|control| control.tolerance.percent()),
            letter: options.letter,
            bench,
            jack,
            tare_ohms: options.tare.0,
            passes: options.passes,
            zone: options.zone,
            detents: options.detents,
            wait_s: options.wait.0,
        }
    }
}

impl PotKept {
    fn place(&self) -> Result<Place, String> {
        match (&self.bench, &self.jack) {
            (Some(bench), None) => Ok(Place::Bench(BenchPlan {
                gangs: match bench.gangs {
                    1 => Gangs::One,
                    2 => Gangs::Two,
                    other => return Err(format!("{other} gangs are none this program knows")),
                },
                both_ends: bench.both_ends,
                law_marks: bench.law_marks,
            })),
            (None, Some(jack)) => Ok(Place::Jack {
                wiring: match jack.wiring.as_str() {
                    STANDARD => Wiring::Standard,
                    INDEPENDENT => Wiring::Independent,
                    other => return Err(format!("`{other}` is no wiring of a volume control")),
                },
                total: jack.total_ohms.map(Ohms),
                pickup: jack.pickup_ohms.map(Ohms),
            }),
            _ => {
                Err("a control is measured at its lugs or at the jack, one of them".to_owned())
            }
        }
    }

    /// The options kept; a sentence if they make no sense.
    pub fn options(&self) -> Result<PotOptions, String> {
        let tolerance = |percent: f64| {
            Tolerance::from_percent(percent)
                .ok_or_else(|| format!("{percent} % is no tolerance of a control"))
        };
        let nominal = match (self.nominal_ohms, self.tolerance_percent) {
            (Some(ohms), Some(percent)) => Some(Control {
                nominal: Ohms(ohms),
                tolerance: tolerance(percent)?,
            }),
            (Some(ohms), None) => Some(Control::usual(Ohms(ohms))),
            _ => None,
        };
        Ok(PotOptions {
            nominal,
            letter: self.letter,
            place: self.place()?,
            tare: Ohms(self.tare_ohms),
            passes: self.passes.clamp(1, 100),
            zone: self.zone,
            detents: self.detents,
            wait: Seconds(self.wait_s),
        })
    }
}
