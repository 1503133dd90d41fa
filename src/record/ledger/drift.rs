//! How a resistance changed over the years, reckoned to one temperature where it is copper.

use crate::check::{lead, rewire};
use crate::circuit::Celsius;
use crate::circuit::conductor::COPPER_COEFFICIENT;
use crate::reading::Ohms;
use crate::record::RunId;
use crate::record::StepKept;
use crate::record::ledger::{Past, RunLine};

/// A closed conductor reads less, in ohms; what reads more in a lead is its isolation.
const CLOSED: f64 = 1e3;

/// What a step's resistance is one of, as far as temperature goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matter {
    /// Conductors of a lead, or pickups at the jack.
    Copper,
    /// Conductors of a lead together with probe leads that were never taken off.
    WithProbes,
    /// A carbon track, an isolation, the probe leads themselves.
    Other,
}

impl Matter {
    /// What a step read.
    pub fn of(line: &RunLine, step: &StepKept) -> Self {
        let closed = step.ohms.is_some_and(|ohms| ohms < CLOSED);
        match (&*line.kind, &*step.step) {
            (lead::NAME, "tare" | "probes") => Self::Other,
            (lead::NAME, _) if !closed => Self::Other,
            (lead::NAME, _) if line.tare.as_deref() == Some("none") => Self::WithProbes,
            (lead::NAME | rewire::NAME, _) => Self::Copper,
            _ => Self::Other,
        }
    }
}

/// A step's resistance at 20 °C; none if it is not all copper, or the temperature was not kept.
pub fn reckoned(line: &RunLine, step: &StepKept) -> Option<Ohms> {
    let celsius = Celsius(line.temperature_c?);
    let is_copper = Matter::of(line, step) == Matter::Copper;
    Some(at_reference(
        Ohms(step.ohms.filter(|_| is_copper)?),
        celsius,
    ))
}

/// A resistance of copper as it would read at 20 °C (IEC 60028). Contacts are corrected along
/// with it, so of a short lead a little too much is corrected.
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
    /// As it would read at 20 °C; none if the temperature was not kept, or it is not all copper.
    pub at_20: Option<Ohms>,
    /// What it is one of.
    pub matter: Matter,
    /// The meter's last digit, in ohms, where it was kept.
    pub digit: Option<f64>,
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
                    at_20: reckoned(line, step),
                    matter: Matter::of(line, step),
                    digit: step.resolution_ohms,
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

    /// The coarsest last digit that the first and the last were read with, where it was kept.
    pub fn digit(&self) -> Option<f64> {
        let ends = [self.points.first()?, self.points.last()?];
        ends.into_iter()
            .filter_map(|point| point.digit)
            .reduce(f64::max)
    }

    /// The first and the last as they are compared: both at 20 °C, or both as read.
    pub fn ends(&self) -> Option<(Ohms, Ohms)> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        Some(match first.at_20.zip(last.at_20) {
            Some(both) => both,
            None => (first.read, last.read),
        })
    }

    /// What stands in the way of comparing them, in sentences.
    pub fn cautions(&self) -> Vec<String> {
        let mut cautions = Vec::new();
        let is = |matter| self.points.iter().any(|point| point.matter == matter);
        if is(Matter::Other) {
            cautions.push(
                "not reckoned to 20 °C: this is no copper, and how it goes with the temperature \
                 is not known"
                    .to_owned(),
            );
        }
        if is(Matter::WithProbes) {
            cautions.push(
                "not reckoned to 20 °C where the probe leads were not taken off (--tare): how \
                 much of the reading is theirs is not known"
                    .to_owned(),
            );
        }
        let copper = |point: &&Point| point.matter == Matter::Copper;
        let copper = self.points.iter().filter(copper);
        let unknown = copper.filter(|point| point.at_20.is_none()).count();
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
