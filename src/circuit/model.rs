//! A circuit as its parts, joints and contacts, before anything is set.

use crate::circuit::forecast::{Place, Spread};
use crate::circuit::job::Law;
use crate::circuit::network::{Branch, Network};
use crate::circuit::state::State;

/// The nominal resistance of a soldered joint or a closed contact, in ohms: tens of milliohms,
/// common practice, no source.
pub const JOINT_OHMS: f64 = 0.02;

/// The least resistance of a piece of a control's track, in ohms, where the job says nothing:
/// 2 ohms at most (a guitar potentiometer's data sheet gives it as absolute minimum).
pub const END_OHMS: f64 = 1.0;

/// The spread of every joint, contact and end of track, together.
pub const CONTACTS: usize = 0;
/// The spread of copper at a temperature that is not known.
pub const COPPER: usize = 1;

/// A terminal that a probe can touch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Terminal {
    /// Its name in a job file: `volume.wiper`.
    pub name: String,
    /// In sentences: "the volume control's wiper".
    pub words: String,
}

/// What an element is, and so what it reads.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// A winding or a resistor of so many ohms.
    Resistor {
        /// In ohms.
        ohms: f64,
    },
    /// The piece of a control's track below its wiper, or above it.
    Track {
        /// The control, as a number of the circuit's list.
        control: usize,
        /// Whether it is the piece below.
        below: bool,
    },
    /// Open at direct current.
    Capacitor,
    /// A soldered joint.
    Joint,
    /// A contact of a switch.
    Contact {
        /// The switch, as a number of the circuit's list.
        switch: usize,
        /// In which positions it is closed.
        closed: Vec<bool>,
    },
}

/// One piece between two terminals.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// In sentences: "the joint between the jack's tip and the volume control's wiper".
    pub name: String,
    /// The part it belongs to, in sentences.
    pub part: String,
    /// What it is.
    pub kind: Kind,
    /// What kind of place it is, for how often it fails.
    pub place: Place,
    /// Its ends, as numbers of the circuit's terminals.
    pub ends: [usize; 2],
    /// Its spread, as a number of the circuit's list.
    pub spread: usize,
    /// Whether it is copper whose temperature matters.
    pub copper: bool,
}

/// A control.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// In sentences: "the volume control".
    pub name: String,
    /// The whole track, in ohms.
    pub ohms: f64,
    /// The least of either piece, in ohms.
    pub end: f64,
    /// Its law.
    pub law: Law,
    /// Which entry of a state's settings it follows: its own knob, as a number.
    pub knob: usize,
    /// Its top, wiper and bottom, as numbers of the circuit's terminals.
    pub lugs: [usize; 3],
}

impl Control {
    /// Ohms of a piece of its track at a setting.
    pub fn piece(&self, setting: f64, below: bool) -> f64 {
        let part = match self.law {
            Law::BlendFirst => (2.0 - 2.0 * setting).min(1.0),
            Law::BlendSecond => (2.0 * setting).min(1.0),
            Law::Linear | Law::Audio | Law::ReverseAudio => setting,
        };
        let part = if part.is_nan() {
            1.0
        } else {
            part.clamp(0.0, 1.0)
        };
        let part = if below { part } else { 1.0 - part };
        (self.ohms * part).max(self.end)
    }
}

/// A selector or another switch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Switch {
    /// In sentences: "the selector".
    pub name: String,
    /// Its lugs in their row, as numbers of the circuit's terminals.
    pub lugs: Vec<usize>,
    /// What its positions are called.
    pub positions: Vec<String>,
}

/// A valid circuit. Only a judged job makes one.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    pub(crate) terminals: Vec<Terminal>,
    pub(crate) elements: Vec<Element>,
    pub(crate) controls: Vec<Control>,
    pub(crate) knobs: Vec<String>,
    pub(crate) switches: Vec<Switch>,
    pub(crate) spreads: Vec<Spread>,
    pub(crate) jack: [usize; 2],
    pub(crate) ring: Option<usize>,
    pub(crate) ground: usize,
    pub(crate) active: bool,
}

impl Circuit {
    /// All terminals.
    pub fn terminals(&self) -> &[Terminal] {
        &self.terminals
    }

    /// All parts, joints and contacts.
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// All controls.
    pub fn controls(&self) -> &[Control] {
        &self.controls
    }

    /// What turns, in sentences: one entry for each of a state's settings.
    pub fn knobs(&self) -> &[String] {
        &self.knobs
    }

    /// The selector, if there is one, then the other switches.
    pub fn switches(&self) -> &[Switch] {
        &self.switches
    }

    /// What may lie off its nominal value.
    pub fn spreads(&self) -> &[Spread] {
        &self.spreads
    }

    /// The parts whose value nobody gave, in sentences.
    pub fn typical(&self) -> impl Iterator<Item = &str> {
        let known = self.spreads.iter().filter(|spread| spread.typical);
        known.map(|spread| spread.name.as_str())
    }

    /// The jack's tip and sleeve.
    pub const fn jack(&self) -> [usize; 2] {
        self.jack
    }

    /// The ring of a stereo jack.
    pub const fn ring(&self) -> Option<usize> {
        self.ring
    }

    /// The common ground.
    pub const fn ground(&self) -> usize {
        self.ground
    }

    /// Whether a battery-powered circuit stands between the controls and the jack: then only
    /// what is measured inside, with the battery out, means anything.
    pub const fn active(&self) -> bool {
        self.active
    }

    /// The number of a terminal of this name.
    pub fn terminal(&self, name: &str) -> Option<usize> {
        self.terminals
            .iter()
            .position(|terminal| terminal.name == name)
    }

    /// The number of the joint between two terminals of these names.
    pub fn joint(&self, one: &str, other: &str) -> Option<usize> {
        let ends = [self.terminal(one)?, self.terminal(other)?];
        let [from, to] = ends;
        self.elements.iter().position(|element| {
            element.kind == Kind::Joint && (element.ends == ends || element.ends == [to, from])
        })
    }

    /// The ohms of one element in a state, at its nominal value. Switch positions and
    /// settings that a state leaves out are the first position and full up.
    pub fn ohms(&self, number: usize, state: &State) -> f64 {
        let Some(element) = self.elements.get(number) else {
            return f64::INFINITY;
        };
        if state.lifted.contains(&number) {
            return f64::INFINITY;
        }
        match &element.kind {
            Kind::Resistor { ohms } => *ohms,
            Kind::Track { control, below } => {
                let Some(control) = self.controls.get(*control) else {
                    return f64::INFINITY;
                };
                let setting = state.settings.get(control.knob).copied().unwrap_or(1.0);
                control.piece(setting, *below)
            }
            Kind::Capacitor => f64::INFINITY,
            Kind::Joint => JOINT_OHMS,
            Kind::Contact { switch, closed } => {
                let position = state.positions.get(*switch).copied().unwrap_or(0);
                let closed = closed.get(position).copied().unwrap_or(false);
                if closed { JOINT_OHMS } else { f64::INFINITY }
            }
        }
    }

    /// The network of a state: branch numbers are element numbers.
    pub fn network(&self, state: &State) -> Network {
        self.network_with(state, &[])
    }

    /// The network of a state with the parts off their nominal values by `off`, each a
    /// relative change in the order of the spreads.
    pub fn network_with(&self, state: &State, off: &[f64]) -> Network {
        let change = |spread: usize| 1.0 + off.get(spread).copied().unwrap_or(0.0).max(-1.0);
        let branches = self.elements.iter().enumerate().map(|(number, element)| {
            let warmth = if element.copper { change(COPPER) } else { 1.0 };
            let [from, to] = element.ends;
            let spread = self.spread_in(number, state);
            let ohms = self.ohms(number, state);
            if !ohms.is_finite() {
                return Branch {
                    from,
                    to,
                    ohms: f64::INFINITY,
                };
            }
            // A joint that carries anything is never quite zero, so that each keeps its own
            // current.
            let ohms = (ohms * change(spread) * warmth).max(1e-6);
            Branch { from, to, ohms }
        });
        Network::trusted(self.terminals.len(), branches.collect())
    }

    /// The spread that an element's ohms follow in a state: the end of a track follows the
    /// contacts, not the track.
    pub fn spread_in(&self, number: usize, state: &State) -> usize {
        let Some(element) = self.elements.get(number) else {
            return CONTACTS;
        };
        if let Kind::Track { control, .. } = element.kind {
            let end = self
                .controls
                .get(control)
                .map_or(0.0, |control| control.end);
            let at_end = self.ohms(number, state) <= end;
            return if at_end { CONTACTS } else { element.spread };
        }
        element.spread
    }
}
