//! What is asked of a control, and how far the answer must go.

use crate::circuit::control::{Control, Law, LawReading, Wiring};
use crate::reading::{Ohms, Seconds};

/// What is asked of a control.
#[derive(Debug, Clone, PartialEq)]
pub struct PotOptions {
    /// What is marked on it, where that is known.
    pub nominal: Option<Control>,
    /// The law letter on it.
    pub letter: Option<char>,
    /// Where it is measured.
    pub place: Place,
    /// The resistance of the probe leads, taken off every reading.
    pub tare: Ohms,
    /// How many passes each way a go has.
    pub passes: usize,
    /// The largest zone, in parts of the track, that a pass may have been unable to show.
    pub zone: f64,
    /// Whether the control clicks into places along its turn: they read as flat spots do.
    pub detents: bool,
    /// How long a step waits before it asks again.
    pub wait: Seconds,
}

/// Where a control is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// At its own lugs, out of circuit.
    Bench(BenchPlan),
    /// At the output jack.
    Jack {
        /// How the volume is wired.
        wiring: Wiring,
        /// The control's total, where it is known; else it is worked out.
        total: Option<Ohms>,
        /// The pickup at DC, where it is known; else it is worked out.
        pickup: Option<Ohms>,
    },
}

/// What is measured at the lugs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BenchPlan {
    /// How many gangs it has.
    pub gangs: Gangs,
    /// Whether the other end is swept too, and not told by complement.
    pub both_ends: bool,
    /// Whether the law is told from marks the operator confirms.
    pub law_marks: bool,
}

/// How many controls turn on one shaft.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Gangs {
    /// One.
    #[default]
    One,
    /// Two, measured one after the other and compared.
    Two,
}

impl PotOptions {
    /// That a marked value is no limit at the jack.
    pub(super) fn total_not_held(&self) -> Option<String> {
        let Place::Jack { .. } = self.place else {
            return None;
        };
        let nominal = self.nominal?.nominal;
        Some(format!(
            "not covered: the total at the jack is worked out or given, and not held against \
             {nominal}; measure it at its lugs for that"
        ))
    }
}

impl Default for PotOptions {
    /// Two passes each way at the lugs, of a control nothing is known of.
    fn default() -> Self {
        Self {
            nominal: None,
            letter: None,
            place: Place::Bench(BenchPlan::default()),
            tare: Ohms(0.0),
            passes: 2,
            zone: 0.05,
            detents: false,
            wait: Seconds(60.0),
        }
    }
}

/// The law as the marks tell it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToldLaw {
    /// The part of the total below the wiper at half the turn.
    pub at_half: f64,
    /// What that says.
    pub reading: LawReading,
}

impl ToldLaw {
    /// The law of a reading at half the turn.
    pub fn of(at_half: f64) -> Self {
        Self {
            at_half,
            reading: LawReading::of(at_half),
        }
    }

    /// The curve, where it is one of those sold.
    pub fn law(&self) -> Option<Law> {
        self.reading.law(self.at_half)
    }
}
