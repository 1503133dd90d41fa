//! How everything that moves is set, and what the circuit reads there.

mod expect;
mod sample;

pub use expect::{Expectation, LIKELY};
pub use sample::Sampled;

use crate::circuit::job::Law;
use crate::circuit::model::Circuit;

/// One setting of selectors, switches and controls.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    /// For each switch of the circuit, the selector among them, its position counted from 0.
    pub positions: Vec<usize>,
    /// For each knob of the circuit, the electrical part of the track below the wiper: 0 at
    /// zero, 1 full up; for a blend, 0.5 with both full.
    pub settings: Vec<f64>,
    /// The joints unsoldered for the measurement, as numbers of the circuit's elements.
    pub lifted: Vec<usize>,
}

impl Circuit {
    fn blends(&self, knob: usize) -> bool {
        let blend = |law| matches!(law, Law::BlendFirst | Law::BlendSecond);
        self.controls
            .iter()
            .any(|control| control.knob == knob && blend(control.law))
    }

    /// Where a knob passes the most: full up, a blend in its middle.
    pub fn rest(&self, knob: usize) -> f64 {
        if self.blends(knob) { 0.5 } else { 1.0 }
    }

    /// The settings of a knob other than [`Circuit::rest`] that can be set by hand alone.
    pub fn stops(&self, knob: usize) -> &'static [f64] {
        if self.blends(knob) {
            &[0.0, 1.0]
        } else {
            &[0.0]
        }
    }

    /// Everything full up, all switches in their first position.
    pub fn full_up(&self) -> State {
        State {
            positions: vec![0; self.switches.len()],
            settings: (0..self.knobs.len()).map(|knob| self.rest(knob)).collect(),
            lifted: Vec::new(),
        }
    }

    /// Everything full up, in every combination of the switches' positions.
    pub fn positions(&self) -> Vec<State> {
        let mut states = vec![self.full_up()];
        for (number, switch) in self.switches.iter().enumerate() {
            let of = |state: &State| {
                let state = state.clone();
                (0..switch.positions.len()).map(move |position| {
                    let mut state = state.clone();
                    if let Some(slot) = state.positions.get_mut(number) {
                        *slot = position;
                    }
                    state
                })
            };
            states = states.iter().flat_map(of).collect();
        }
        states
    }

    /// Every state that can be set by hand alone: each combination of positions with
    /// everything full up, and then with one knob at a time at each other stop.
    pub fn states(&self) -> Vec<State> {
        let mut states = Vec::new();
        for position in self.positions() {
            states.push(position.clone());
            for knob in 0..self.knobs.len() {
                for stop in self.stops(knob) {
                    let mut turned = position.clone();
                    if let Some(slot) = turned.settings.get_mut(knob) {
                        *slot = *stop;
                    }
                    states.push(turned);
                }
            }
        }
        states
    }

    /// A state in words: "selector at middle, neck volume at zero".
    pub fn describe(&self, state: &State) -> String {
        let bare = |name: &str| name.strip_prefix("the ").unwrap_or(name).to_owned();
        let mut words = Vec::new();
        for (switch, position) in self.switches.iter().zip(&state.positions) {
            if let Some(called) = switch.positions.get(*position) {
                words.push(format!("{} at {called}", bare(&switch.name)));
            }
        }
        let mut turned = false;
        for (knob, name) in self.knobs.iter().enumerate() {
            let setting = state.settings.get(knob).copied().unwrap_or(1.0);
            let bare = bare(name);
            if (setting - self.rest(knob)).abs() < 1e-9 {
                continue;
            }
            turned = true;
            words.push(match setting {
                _ if setting <= 0.0 => format!("{bare} at zero"),
                _ if setting >= 1.0 => format!("{bare} full up"),
                _ => format!("{bare} at {:.0} per cent of its track", setting * 100.0),
            });
        }
        if !turned {
            words.push("everything full up".to_owned());
        }
        for joint in &state.lifted {
            if let Some(element) = self.elements.get(*joint) {
                words.push(format!("{} unsoldered", element.name));
            }
        }
        words.join(", ")
    }
}
