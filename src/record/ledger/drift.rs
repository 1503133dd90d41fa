//! How a resistance changed over the years, reckoned to one temperature.

use crate::circuit::Celsius;
use crate::circuit::conductor::COPPER_COEFFICIENT;
use crate::reading::Ohms;
use crate::record::RunId;
use crate::record::ledger::Past;

/// A resistance of copper as it would read at 20 °C (IEC 60028). Contacts and probe leads are
/// corrected along with it, so of a short lead too much is corrected.
pub fn at_reference(read: Ohms, temperature: Celsius) -> Ohms {
    let warmer = temperature.0 - Celsius::REFERENCE.0;
    Ohms(read.0 / (1.0 + COPPER_COEFFICIENT * warmer))
}

/// One resistance of the past.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The run.
    pub id: RunId,
    /// When it began, RFC 3339.
    pub began: String,
    /// As it was read.
    pub read: Ohms,
    /// As it would read at 20 °C; none if the temperature was not kept.
    pub at_20: Option<Ohms>,
    /// How the probe leads were taken off.
    pub tare: Option<String>,
}

impl Point {
    /// The resistance to compare by: corrected where it can be.
    pub fn best(&self) -> Ohms {
        self.at_20.unwrap_or(self.read)
    }
}

/// The resistances of one step of one kind of check, the oldest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// The check.
    pub kind: String,
    /// The step.
    pub step: String,
    /// The resistances.
    pub points: Vec<Point>,
}

impl Drift {
    /// Every step that gave a number, in the order met.
    pub fn of(pasts: &[Past]) -> Vec<Self> {
        let mut drifts: Vec<Self> = Vec::new();
        for past in pasts {
            let line = &past.line;
            for step in &past.steps {
                let Some(ohms) = step.ohms else { continue };
                let point = Point {
                    id: line.id,
                    began: line.began.clone(),
                    read: Ohms(ohms),
                    at_20: line
                        .temperature_c
                        .map(|degrees| at_reference(Ohms(ohms), Celsius(degrees))),
                    tare: line.tare.clone(),
                };
                let of_step =
                    |drift: &&mut Self| drift.kind == line.kind && drift.step == step.step;
                match drifts.iter_mut().find(of_step) {
                    Some(drift) => drift.points.push(point),
                    None => drifts.push(Self {
                        kind: line.kind.clone(),
                        step: step.step.clone(),
                        points: vec![point],
                    }),
                }
            }
        }
        drifts
    }

    /// What stands in the way of comparing them, in sentences.
    pub fn cautions(&self) -> Vec<String> {
        let mut cautions = Vec::new();
        let unknown = self.points.iter().filter(|p| p.at_20.is_none()).count();
        if unknown > 0 && self.points.len() > 1 {
            cautions.push(format!(
                "{unknown} of {} have no temperature (--temperature) and stand as they were \
                 read: 10 K change copper by 3.9 %",
                self.points.len()
            ));
        }
        let mut tares: Vec<&str> = self
            .points
            .iter()
            .filter_map(|p| p.tare.as_deref())
            .collect();
        tares.sort_unstable();
        tares.dedup();
        if tares.len() > 1 {
            cautions.push(format!(
                "the probe leads were not taken off alike ({}): a difference may be theirs",
                tares.join(", ")
            ));
        }
        cautions
    }
}
