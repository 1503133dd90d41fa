//! What can be measured: at the jack, inside, and with a wire unsoldered.

use crate::circuit::fault::list::is_wire;
use crate::circuit::forecast::{Effort, Measurement, Place};
use crate::circuit::model::Circuit;
use crate::circuit::state::State;

impl Circuit {
    /// Every measurement, the cheapest first.
    pub fn measurements(&self) -> Vec<Measurement> {
        let mut all = self.outside();
        all.extend(self.inside());
        all.extend(self.unsoldered());
        all
    }

    /// At the jack, through a lead: every state that can be set by hand, and the metal that
    /// must be grounded against the sleeve. Empty for an active circuit, whose jack shows its
    /// electronics and not its pickups.
    pub fn outside(&self) -> Vec<Measurement> {
        if self.active {
            return self.metals();
        }
        let [tip, sleeve] = self.jack;
        let mut outside = Vec::new();
        for state in self.states() {
            let set = self.describe(&state);
            let at = |ends, words: &str| Measurement {
                name: format!("{words}: {set}"),
                state: state.clone(),
                between: ends,
                effort: Effort::Outside,
            };
            outside.push(at([tip, sleeve], "at the jack, tip to sleeve"));
            if let Some(ring) = self.ring {
                outside.push(at([ring, sleeve], "at the jack, ring to sleeve"));
            }
        }
        outside.extend(self.metals());
        outside
    }

    fn metals(&self) -> Vec<Measurement> {
        let [_, sleeve] = self.jack;
        let grounds = self
            .elements
            .iter()
            .filter(|at| at.place == Place::GroundJoint);
        let metals = grounds.flat_map(|element| element.ends).filter(|&end| {
            end != self.ground
                && self
                    .terminals
                    .get(end)
                    .is_some_and(|at| !at.name.contains('.'))
        });
        let mut metals: Vec<usize> = metals.collect();
        metals.sort_unstable();
        metals.dedup();
        let measure = |metal: usize| Measurement {
            name: format!(
                "from {} to the jack's sleeve",
                self.words(metal).unwrap_or_default()
            ),
            state: self.full_up(),
            between: [metal, sleeve],
            effort: self.metal_effort(metal),
        };
        metals.into_iter().map(measure).collect()
    }

    /// Bridge and strings are touched from outside; the cases of controls and the like are not.
    fn metal_effort(&self, metal: usize) -> Effort {
        let name = self
            .terminals
            .get(metal)
            .map_or("", |terminal| terminal.name.as_str());
        let outside = ["strings", "bridge", "tailpiece"]
            .iter()
            .any(|word| name.contains(word));
        if outside {
            Effort::Outside
        } else {
            Effort::Inside
        }
    }

    /// With the probes on terminals inside: every pickup at its own wires and every lug against
    /// ground in each position of the switches, and every joint from end to end.
    pub fn inside(&self) -> Vec<Measurement> {
        let mut inside = Vec::new();
        for state in self.positions() {
            let set = self.describe(&state);
            let mut add = |name: String, between| {
                let (state, effort) = (state.clone(), Effort::Inside);
                inside.push(Measurement {
                    name,
                    state,
                    between,
                    effort,
                });
            };
            for element in self.elements.iter().filter(|it| it.place == Place::Pickup) {
                add(
                    format!("{} at its own wires: {set}", element.name),
                    element.ends,
                );
            }
            let switches = self.switches.iter().flat_map(|switch| switch.lugs.iter());
            let lugs = self.controls.iter().flat_map(|control| control.lugs.iter());
            for &lug in switches.chain(lugs) {
                let words = self.words(lug).unwrap_or_default();
                add(format!("from {words} to ground: {set}"), [lug, self.ground]);
            }
        }
        for element in self.elements.iter().filter(|element| is_wire(element)) {
            inside.push(Measurement {
                name: format!("across {}", element.name),
                state: self.full_up(),
                between: element.ends,
                effort: Effort::Inside,
            });
        }
        inside
    }

    /// With a pickup's or a control's wires unsoldered: the part by itself.
    pub fn unsoldered(&self) -> Vec<Measurement> {
        let at = |ends: &[usize]| -> Vec<usize> {
            let joints = self.elements.iter().enumerate().filter(|(_, element)| {
                is_wire(element) && element.ends.iter().any(|end| ends.contains(end))
            });
            joints.map(|(number, _)| number).collect()
        };
        let mut all = Vec::new();
        let mut add = |name: String, between: [usize; 2], lifted: Vec<usize>| {
            let state = State {
                lifted,
                ..self.full_up()
            };
            all.push(Measurement {
                name,
                state,
                between,
                effort: Effort::Unsoldered,
            });
        };
        for element in self.elements.iter().filter(|it| it.place == Place::Pickup) {
            let [hot, _] = element.ends;
            add(
                format!("{} with its wire unsoldered", element.name),
                element.ends,
                at(&[hot]),
            );
        }
        for control in &self.controls {
            let [top, wiper, bottom] = control.lugs;
            let name = format!(
                "the whole track of {} with its lugs unsoldered",
                control.name
            );
            add(name, [top, bottom], at(&[top, wiper]));
        }
        all
    }
}
