//! What each supposed fault would make each measurement read: the seam between the circuit's
//! equations and the judging of what was read.
//!
//! A [`Forecasts`] is a table with one row a hypothesis and one column a measurement. Its row 0
//! is always the circuit as it ought to be. How far a reading may lie from its forecast follows
//! from the gradient: the spread of the parts, common to all readings of one instrument, moves
//! them together.

use crate::circuit::state::State;

/// What taking a measurement costs the person at the bench, the least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effort {
    /// At the jack, with a selector, switch or control moved.
    Outside,
    /// With the instrument opened and probes on its terminals.
    Inside,
    /// With a wire unsoldered first.
    Unsoldered,
}

/// One thing that can be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// In plain words, such as "at the jack, selector at middle, volume full up".
    pub name: String,
    /// How everything that moves is set, and what is unsoldered.
    pub state: State,
    /// The terminals under the two probes, as numbers of the circuit's list.
    pub between: [usize; 2],
    /// What it costs.
    pub effort: Effort,
}

/// Something that may lie off its nominal value, the same in every reading of one instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Whose, in plain words: "the bridge pickup".
    pub name: String,
    /// The most it may be off, as a part of the nominal value (0.1 is ten per cent).
    pub most: f64,
    /// Nobody gave its value: what the layout has is only typical.
    pub typical: bool,
}

impl Spread {
    /// Standard deviation as a part of the nominal value: all within the tolerance is taken as
    /// equally likely.
    pub fn deviation(&self) -> f64 {
        self.most / 3.0_f64.sqrt()
    }
}

/// The kinds of places a fault can be at, for what is known about how often each fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// A soldered joint, with its wire.
    Joint,
    /// A soldered joint that only grounds something: a bridge, a case, a shield.
    GroundJoint,
    /// A contact of a selector or another switch.
    Switch,
    /// The jack and its contacts.
    Jack,
    /// The wiper or the track of a control.
    Control,
    /// A pickup's winding or its own lead.
    Pickup,
    /// A capacitor.
    Capacitor,
    /// A fixed resistor.
    Resistor,
}

/// What can be wrong at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ailment {
    /// No connection.
    Open,
    /// Shorted across itself, or to the terminal beside it.
    Short,
    /// Shorted to ground.
    ShortToGround,
    /// A connection of more resistance than it ought to have.
    HighResistance,
    /// Another value than the job says.
    WrongValue,
    /// Two wires changed over.
    Swapped,
    /// Open at times. Its forecast is what is read while it is open; while it holds, every
    /// reading is that of row 0.
    Intermittent,
}

/// One fault within a hypothesis.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// The kind of place.
    pub place: Place,
    /// What is wrong there.
    pub ailment: Ailment,
    /// The part or joint, in plain words. Hypotheses with the same part and the same ailment are
    /// the same fault at several sizes.
    pub part: String,
    /// The share of that fault that this size of it stands for: the shares of all its sizes add
    /// up to 1.
    pub share: f64,
}

/// A state of affairs that would explain the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Hypothesis {
    /// A plain sentence without its full stop: "the joint between the selector's common and the
    /// volume control is open".
    pub name: String,
    /// Its faults: none for the circuit as it ought to be, two for a pair.
    pub causes: Vec<Cause>,
    /// The spreads of its own values, where the fault has one: a resistance known only to
    /// within its step of sizes.
    pub own: Vec<Spread>,
}

/// What a measurement reads under a hypothesis.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// In ohms; infinite when no path is left.
    pub ohms: f64,
    /// Change in ohms for each relative change (0.1 is ten per cent) of the table's spreads, in
    /// their order, then of the hypothesis's own. All zero where `ohms` is infinite.
    pub gradient: Vec<f64>,
}

impl Forecast {
    /// No path is left.
    pub fn open(spreads: usize) -> Self {
        Self {
            ohms: f64::INFINITY,
            gradient: vec![0.0; spreads],
        }
    }
}

/// Every hypothesis against every measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecasts {
    /// What may lie off its nominal value, in the order of every gradient.
    pub spreads: Vec<Spread>,
    /// The columns.
    pub measurements: Vec<Measurement>,
    /// The rows; the first is the circuit as it ought to be.
    pub hypotheses: Vec<Hypothesis>,
    /// One row a hypothesis, one forecast a measurement.
    pub rows: Vec<Vec<Forecast>>,
}
