//! What practice says before anything is read: one TOML table, which a table of the user's own
//! replaces.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;
use thiserror::Error;
use toml::Spanned;

use crate::circuit::forecast::{Ailment, Cause, Effort, Measurement, Place};
use crate::protocol::line_of;

/// The table that is built in.
pub const BUILT_IN: &str = include_str!("../priors.toml");

/// The chance of a fault that a table of chances leaves out.
const UNLISTED: f64 = 1e-5;

/// A table of chances could not be taken.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PriorsError {
    /// The text is not TOML, or not the tables and keys of such a table.
    #[error("{origin}, line {line}: {message}")]
    Written {
        /// The file.
        origin: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong, and what is allowed there.
        message: String,
    },
    /// Another schema.
    #[error("{origin}, line {line}: this program reads schema 1, not {schema}")]
    Schema {
        /// The file.
        origin: String,
        /// The line, from 1.
        line: usize,
        /// What it says.
        schema: u32,
    },
    /// A number that cannot be meant.
    #[error("{origin}, line {line}: {key} = {found} must be {allowed}")]
    Number {
        /// The file.
        origin: String,
        /// The line, from 1.
        line: usize,
        /// Its place in the table.
        key: String,
        /// What it is.
        found: f64,
        /// What it may be.
        allowed: &'static str,
    },
}

/// How often each fault is met, what each measurement costs, and where judging draws its lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    chances: BTreeMap<Place, Row>,
    /// What measurements cost.
    pub efforts: Efforts,
    /// Where judging draws its lines.
    pub judging: Judging,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    schema: u32,
    chance: BTreeMap<PlaceWord, Row>,
    effort: Efforts,
    judging: Judging,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum PlaceWord {
    Joint,
    GroundJoint,
    Switch,
    Jack,
    Control,
    Pickup,
    Capacitor,
    Resistor,
}

/// The chances at one kind of place.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Row {
    /// Why these numbers: read by people.
    reason: String,
    open: Option<f64>,
    short: Option<f64>,
    short_to_ground: Option<f64>,
    high_resistance: Option<f64>,
    wrong_value: Option<f64>,
    swapped: Option<f64>,
    intermittent: Option<f64>,
}

/// What measurements cost, in units of some ten seconds at the bench.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Efforts {
    /// At the jack.
    pub outside: f64,
    /// Opening the instrument, once.
    pub opening: f64,
    /// Two probes on its terminals.
    pub inside: f64,
    /// A wire unsoldered and soldered again.
    pub unsoldered: f64,
}

/// Where judging draws its lines; all are chances but [`Self::same`] and [`Self::worth`].
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Judging {
    /// That a reading is none of the circuit's.
    pub stray: f64,
    /// That a reading moves on a sound circuit.
    pub unsteady_sound: f64,
    /// That it moves where a fault comes and goes.
    pub unsteady_faulty: f64,
    /// That a fault that comes and goes is there during a steady reading.
    pub caught: f64,
    /// Divergence in nats below which two explanations are one group.
    pub same: f64,
    /// Below which an explanation does not fit.
    pub misfit: f64,
    /// Of a sound instrument, at which it may be failed.
    pub fail: f64,
    /// Of one fault, at which looking further stops.
    pub sure: f64,
    /// Nats for a unit of effort, below which looking further stops.
    pub worth: f64,
}

static COMMON: LazyLock<Option<Priors>> =
    LazyLock::new(|| Priors::from_text(BUILT_IN, "the built-in table").ok());

impl Priors {
    /// The built-in table; a test holds that it can be read.
    pub fn built_in() -> Option<&'static Self> {
        COMMON.as_ref()
    }

    /// A table from its text.
    pub fn from_text(text: &str, origin: &str) -> Result<Self, PriorsError> {
        let document: Document =
            toml::from_str(text).map_err(|error| PriorsError::Written {
                origin: origin.to_owned(),
                line: line_of(text, error.span().map_or(0, |span| span.start)),
                message: error.message().to_owned(),
            })?;
        if document.schema != 1 {
            return Err(PriorsError::Schema {
                origin: origin.to_owned(),
                line: line_of_key(text, &["schema"]),
                schema: document.schema,
            });
        }
        document.judge(text, origin)?;
        let rows = document.chance.into_iter();
        Ok(Self {
            chances: rows.map(|(word, row)| (word.place(), row)).collect(),
            efforts: document.effort,
            judging: document.judging,
        })
    }

    /// The chance of an ailment at one place of the kind.
    pub fn chance(&self, place: Place, ailment: Ailment) -> f64 {
        let row = self.chances.get(&place);
        row.and_then(|row| row.of(ailment)).unwrap_or(UNLISTED)
    }

    /// Why the numbers of a place are what they are.
    pub fn reason(&self, place: Place) -> Option<&str> {
        self.chances.get(&place).map(|row| row.reason.as_str())
    }

    /// The logarithm of the odds of these faults against none, each by itself.
    pub fn log_odds(&self, causes: &[Cause]) -> f64 {
        let odds = causes.iter().map(|cause| {
            let chance = self.chance(cause.place, cause.ailment);
            (chance / (1.0 - chance) * cause.share)
                .max(f64::MIN_POSITIVE)
                .ln()
        });
        odds.sum()
    }

    /// What a measurement costs, the opening included where it is still to do.
    pub fn effort(&self, measurement: &Measurement, opened: bool) -> f64 {
        let opening = if opened { 0.0 } else { self.efforts.opening };
        match measurement.effort {
            Effort::Outside => self.efforts.outside,
            Effort::Inside => opening + self.efforts.inside,
            Effort::Unsoldered => opening + self.efforts.inside + self.efforts.unsoldered,
        }
    }
}

impl PlaceWord {
    const fn text(self) -> &'static str {
        match self {
            Self::Joint => "joint",
            Self::GroundJoint => "ground-joint",
            Self::Switch => "switch",
            Self::Jack => "jack",
            Self::Control => "control",
            Self::Pickup => "pickup",
            Self::Capacitor => "capacitor",
            Self::Resistor => "resistor",
        }
    }

    const fn place(self) -> Place {
        match self {
            Self::Joint => Place::Joint,
            Self::GroundJoint => Place::GroundJoint,
            Self::Switch => Place::Switch,
            Self::Jack => Place::Jack,
            Self::Control => Place::Control,
            Self::Pickup => Place::Pickup,
            Self::Capacitor => Place::Capacitor,
            Self::Resistor => Place::Resistor,
        }
    }
}

impl Row {
    const fn of(&self, ailment: Ailment) -> Option<f64> {
        match ailment {
            Ailment::Open => self.open,
            Ailment::Short => self.short,
            Ailment::ShortToGround => self.short_to_ground,
            Ailment::HighResistance => self.high_resistance,
            Ailment::WrongValue => self.wrong_value,
            Ailment::Swapped => self.swapped,
            Ailment::Intermittent => self.intermittent,
        }
    }

    const fn named(&self) -> [(&'static str, Option<f64>); 7] {
        [
            ("open", self.open),
            ("short", self.short),
            ("short-to-ground", self.short_to_ground),
            ("high-resistance", self.high_resistance),
            ("wrong-value", self.wrong_value),
            ("swapped", self.swapped),
            ("intermittent", self.intermittent),
        ]
    }
}

impl Document {
    fn judge(&self, text: &str, origin: &str) -> Result<(), PriorsError> {
        let refuse = |path: &[&str], found: f64, allowed: &'static str| {
            Err(PriorsError::Number {
                origin: origin.to_owned(),
                line: line_of_key(text, path),
                key: path.join("."),
                found,
                allowed,
            })
        };
        for (word, row) in &self.chance {
            for (key, chance) in row.named() {
                let Some(chance) = chance else { continue };
                if !(chance > 0.0 && chance <= 0.5) {
                    let path = ["chance", word.text(), key];
                    return refuse(&path, chance, "above 0, at most 0.5");
                }
            }
        }
        for (key, effort) in self.effort.named() {
            if !(effort > 0.0 && effort.is_finite()) {
                return refuse(&["effort", key], effort, "above 0");
            }
        }
        for (key, line) in self.judging.named() {
            if !(line > 0.0 && line < 1.0) {
                return refuse(&["judging", key], line, "above 0, below 1");
            }
        }
        let both = self.judging.stray + self.judging.caught;
        if both >= 1.0 {
            return refuse(&["judging", "caught"], both, "below 1 together with stray");
        }
        Ok(())
    }
}

/// The line of a key that is there, from 1.
fn line_of_key(text: &str, path: &[&str]) -> usize {
    type Keys = BTreeMap<String, Spanned<toml::Value>>;
    /// A table read only for the places of what it holds.
    #[derive(Default, Deserialize)]
    struct Places {
        schema: Option<Spanned<toml::Value>>,
        chance: BTreeMap<String, Keys>,
        effort: Keys,
        judging: Keys,
    }
    let places = toml::from_str::<Places>(text).unwrap_or_default();
    let found = match path {
        ["chance", row, key] => places.chance.get(*row).and_then(|row| row.get(*key)),
        ["effort", key] => places.effort.get(*key),
        ["judging", key] => places.judging.get(*key),
        _ => places.schema.as_ref(),
    };
    line_of(text, found.map_or(0, |value| value.span().start))
}

impl Efforts {
    const fn named(&self) -> [(&'static str, f64); 4] {
        [
            ("outside", self.outside),
            ("opening", self.opening),
            ("inside", self.inside),
            ("unsoldered", self.unsoldered),
        ]
    }
}

impl Judging {
    const fn named(&self) -> [(&'static str, f64); 9] {
        [
            ("stray", self.stray),
            ("unsteady-sound", self.unsteady_sound),
            ("unsteady-faulty", self.unsteady_faulty),
            ("caught", self.caught),
            ("same", self.same),
            ("misfit", self.misfit),
            ("fail", self.fail),
            ("sure", self.sure),
            ("worth", self.worth),
        ]
    }
}
