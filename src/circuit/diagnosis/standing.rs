//! Pass, fail or retest, by rules that the evidence must carry.
//!
//! A pass needs every state read, every reading within its band, and no fault that explains them
//! better. A fail needs a reading
//! outside its band that came again or is not alone, and a sound instrument that is no longer
//! likely. Everything else is a retest, and the reasons say what it lacks.

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::evidence::{Meter, Observation, Seen};
use crate::circuit::diagnosis::grouping::Group;
use crate::circuit::diagnosis::posterior::Diagnosis;
use crate::circuit::diagnosis::reasons::read;
use crate::circuit::forecast::{Forecast, Spread};
use crate::reading::Ohms;

/// What the readings carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Wired as it ought to be, as far as these readings see.
    Pass,
    /// Something is wrong.
    Fail,
    /// Neither is carried.
    Retest,
}

/// A verdict with what it stands on.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// What the readings carry.
    pub verdict: Verdict,
    /// The chance that nothing is wrong.
    pub sound: f64,
    /// Why, one sentence each.
    pub reasons: Vec<String>,
    /// Rows of faults that these readings could not have shown.
    pub unseen: Vec<usize>,
}

/// Between what a sound instrument may read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The least, in ohms.
    pub least: f64,
    /// The most, in ohms; infinite for open.
    pub most: f64,
}

/// How a reading lies to its band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lies {
    /// In it.
    Within,
    /// Not in it.
    Outside,
    /// Over-range, on a range that ends within the band or is not known.
    Unsure,
}

impl Band {
    /// About a resistance that the parts may shift by so many ohms, on this meter with this
    /// weight of the last digit.
    pub fn around(ohms: f64, parts: f64, meter: &Meter, resolution: f64) -> Self {
        if !ohms.is_finite() {
            // Open: what a meter shows as over-range on its highest range.
            return Self {
                least: meter.top,
                most: f64::INFINITY,
            };
        }
        let limit = parts + meter.limit(ohms, resolution);
        Self {
            least: ohms - limit,
            most: ohms + limit,
        }
    }

    /// The one to tell beside a reading. What lies far off is shown with coarser digits than
    /// the value expected would be, and those are no reason to tell a wider band.
    pub fn told(ohms: f64, parts: f64, meter: &Meter, seen: Option<&Observation>) -> Self {
        let own = Self::around(ohms, parts, meter, 0.0);
        let Some(seen) = seen else { return own };
        let here = Self::around(ohms, parts, meter, seen.resolution);
        let both = [own, here].map(|band| band.lies(seen) == Lies::Outside);
        if both == [true, true] { own } else { here }
    }

    /// How a reading lies to it.
    pub fn lies(self, observation: &Observation) -> Lies {
        match observation.seen {
            Seen::Ohms(ohms) if ohms < self.least || ohms > self.most => Lies::Outside,
            Seen::Ohms(_) => Lies::Within,
            Seen::Over { .. } if self.most.is_infinite() => Lies::Within,
            Seen::Over { beyond: Some(end) } if end >= self.most => Lies::Outside,
            Seen::Over { .. } => Lies::Unsure,
        }
    }
}

impl std::fmt::Display for Band {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&words(*self))
    }
}

/// The band of a measurement on a sound instrument: every part at its worst at once, and the
/// meter's limit of error besides.
pub fn band(case: &Case<'_>, measurement: usize, resolution: f64) -> Option<Band> {
    let forecast = case.forecast(0, measurement)?;
    let parts = parts(forecast, &case.forecasts.spreads);
    Some(Band::around(forecast.ohms, parts, &case.meter, resolution))
}

/// The band of a measurement to tell beside a reading.
fn told(case: &Case<'_>, measurement: usize, observation: &Observation) -> Option<Band> {
    let forecast = case.forecast(0, measurement)?;
    let parts = parts(forecast, &case.forecasts.spreads);
    Some(Band::told(
        forecast.ohms,
        parts,
        &case.meter,
        Some(observation),
    ))
}

/// What all parts together may shift a reading by, in ohms: each at the end of its tolerance.
pub fn parts(forecast: &Forecast, spreads: &[Spread]) -> f64 {
    let slopes = forecast.gradient.iter().zip(spreads);
    slopes
        .map(|(slope, spread)| (slope * spread.most).abs())
        .sum()
}

impl Diagnosis {
    /// Pass, fail or retest; `required` are the measurements that cover every state.
    pub fn standing(&self, case: &Case<'_>, required: &[usize]) -> Standing {
        let named = |index: usize| case.measurement(index).map_or("", |known| &known.name);
        let (mut outside, mut unsure) = (Vec::new(), Vec::new());
        let mut weight = 0;
        for (measurement, observation) in case.evidence.iter() {
            let Some(band) = band(case, measurement, observation.resolution) else {
                continue;
            };
            let text = format!("{}: {}", named(measurement), read(observation));
            match band.lies(observation) {
                _ if observation.unsteady => {
                    weight += observation.times;
                    outside.push(text);
                }
                Lies::Outside => {
                    weight += observation.times;
                    let told = told(case, measurement, observation).unwrap_or(band);
                    outside.push(format!("{text}, outside {}", words(told)));
                }
                Lies::Unsure => unsure.push(format!(
                    "{text} on a range that does not reach {}: take it on a higher one",
                    words(band)
                )),
                Lies::Within => {}
            }
        }
        let missing = required
            .iter()
            .filter(|index| case.evidence.at(**index).is_none());
        let missing: Vec<String> = missing
            .map(|index| format!("not read: {}", named(*index)))
            .collect();
        let sound = self.sound();
        let unlikely = sound <= case.priors.judging.fail;
        // Within all bands, yet explained better by a fault: that is no pass. Another value
        // within the band of one that nobody gave is no fault.
        let first = self.groups.first();
        let guessed =
            first.is_some_and(|group| !case.unknown_values(group.leader()).is_empty());
        let likeliest = guessed || (!unlikely && first.is_some_and(Group::holds_sound));
        let (verdict, reasons) = if !outside.is_empty() && weight >= 2 && unlikely {
            (Verdict::Fail, outside)
        } else if outside.is_empty() && unsure.is_empty() && missing.is_empty() && likeliest {
            let text = "every state was read, and every reading is within its band";
            (Verdict::Pass, vec![text.to_owned()])
        } else {
            (
                Verdict::Retest,
                self.lacking(case, outside, [unsure, missing]),
            )
        };
        Standing {
            verdict,
            sound,
            reasons,
            unseen: self.unseen(),
        }
    }

    /// What a retest lacks.
    fn lacking(
        &self,
        case: &Case<'_>,
        outside: Vec<String>,
        rest: [Vec<String>; 2],
    ) -> Vec<String> {
        let again = outside
            .into_iter()
            .map(|text| format!("{text}: lift the probes and take it again"));
        let mut reasons: Vec<String> = again.chain(rest.into_iter().flatten()).collect();
        if reasons.is_empty() {
            let leader = self.groups.first().map_or(0, Group::leader);
            let name = case.hypothesis(leader).map_or("", |known| &known.name);
            reasons.push(format!(
                "every reading is within its band, but together they look more as if {name}"
            ));
        }
        reasons
    }

    /// Faults in one group with a sound instrument.
    fn unseen(&self) -> Vec<usize> {
        let group = self.groups.iter().find(|group| group.holds_sound());
        let rows = group.map_or(&[][..], |group| &group.rows);
        rows.iter().copied().filter(|row| *row != 0).collect()
    }
}

fn words(band: Band) -> String {
    if band.most.is_infinite() {
        "open".to_owned()
    } else {
        format!("{} to {}", Ohms(band.least.max(0.0)), Ohms(band.most))
    }
}
