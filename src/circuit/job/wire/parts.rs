//! The parts of a plan as terminals and elements.

use std::collections::BTreeMap;

use toml::Spanned;

use crate::circuit::conductor::{COPPER_COEFFICIENT, Celsius};
use crate::circuit::forecast::Place;
use crate::circuit::job::wire::Bench;
use crate::circuit::job::{Plan, SwitchText, words};
use crate::circuit::model::{CONTACTS, Control, END_OHMS, Element, Kind, Switch};

/// The tolerance of a pickup or a control where the job gives none: common practice, no source.
const PICKUP_TOLERANCE: f64 = 0.05;
const CONTROL_TOLERANCE: f64 = 0.2;
const RESISTOR_TOLERANCE: f64 = 0.05;
fn value(given: Option<&Spanned<f64>>, otherwise: f64) -> f64 {
    given.map_or(otherwise, |given| *given.get_ref())
}

impl Bench {
    pub(super) fn windings(&mut self, plan: &Plan) {
        for pickup in &plan.pickup {
            let id = pickup.id.get_ref();
            let part = words::part(id, pickup.title.as_deref(), "pickup");
            let spread = self.spread(
                (id, &part),
                value(pickup.tolerance.as_ref(), PICKUP_TOLERANCE),
            );
            let warmer = match (&plan.workshop.celsius, &pickup.celsius) {
                (Some(here), Some(there)) => {
                    let above =
                        |at: f64| 1.0 + COPPER_COEFFICIENT * (at - Celsius::REFERENCE.0);
                    above(*here.get_ref()) / above(*there.get_ref())
                }
                _ => 1.0,
            };
            let windings = match (&pickup.coils, &pickup.ohms) {
                (Some(coils), _) => {
                    let lugs = [
                        "first_start",
                        "first_finish",
                        "second_start",
                        "second_finish",
                    ];
                    let [a, b, c, d] = self.lugs(id, &part, lugs);
                    let coil = |which: &str| format!("the {which} coil of {part}");
                    let mut ohms = coils.get_ref().iter().copied();
                    let mut next = || ohms.next().unwrap_or(1.0);
                    vec![
                        (coil("first"), next(), [a, b]),
                        (coil("second"), next(), [c, d]),
                    ]
                }
                (None, ohms) => {
                    let ends = self.lugs(id, &part, ["hot", "ground"]);
                    vec![(part.clone(), value(ohms.as_ref(), 1.0), ends)]
                }
            };
            for (name, ohms, ends) in windings {
                self.elements.push(Element {
                    name,
                    part: part.clone(),
                    kind: Kind::Resistor {
                        ohms: ohms * warmer,
                    },
                    place: Place::Pickup,
                    ends,
                    spread,
                    copper: true,
                });
            }
        }
    }

    pub(super) fn controls(&mut self, plan: &Plan) {
        let mut shafts: BTreeMap<&str, usize> = BTreeMap::new();
        for control in plan
            .control
            .iter()
            .filter(|control| control.follows.is_none())
        {
            shafts.insert(control.id.get_ref(), self.knobs.len());
            let name = words::part(control.id.get_ref(), control.title.as_deref(), "control");
            self.knobs.push(name);
        }
        for control in &plan.control {
            let id = control.id.get_ref();
            let part = words::part(id, control.title.as_deref(), "control");
            let spread = self.spread(
                (id, &part),
                value(control.tolerance.as_ref(), CONTROL_TOLERANCE),
            );
            let lugs = self.lugs(id, &part, ["top", "wiper", "bottom"]);
            let shaft = control.follows.as_ref().map_or(id, Spanned::get_ref);
            let number = self.controls.len();
            self.controls.push(Control {
                name: part.clone(),
                ohms: value(control.ohms.as_ref(), 1.0),
                end: value(control.end_ohms.as_ref(), END_OHMS),
                law: control.law.unwrap_or_default(),
                knob: shafts.get(shaft.as_str()).copied().unwrap_or_default(),
                lugs,
            });
            self.track(number, id, &part, spread);
        }
    }

    /// The two pieces of a control's track, and the contact of its wiper.
    fn track(&mut self, control: usize, id: &str, part: &str, spread: usize) {
        let lugs = self.controls.get(control).map(|control| control.lugs);
        let Some([top, wiper, bottom]) = lugs else {
            return;
        };
        // Behind the wiper's contact, where the two pieces meet.
        let words = format!("{part}'s track under the wiper");
        let under = self.hidden(format!("{id}.track"), words);
        let mut piece = |what: &str, kind, ends, spread| {
            self.elements.push(Element {
                name: format!("{what} of {part}"),
                part: part.to_owned(),
                kind,
                place: Place::Control,
                ends,
                spread,
                copper: false,
            });
        };
        let track = |below| Kind::Track { control, below };
        piece(
            "the track below the wiper",
            track(true),
            [under, bottom],
            spread,
        );
        piece(
            "the track above the wiper",
            track(false),
            [top, under],
            spread,
        );
        piece("the wiper contact", Kind::Joint, [wiper, under], CONTACTS);
    }

    /// What has two ends: capacitors and resistors.
    pub(super) fn pairs(&mut self, plan: &Plan) {
        for capacitor in &plan.capacitor {
            let id = capacitor.id.get_ref();
            let name = words::part(id, capacitor.title.as_deref(), "capacitor");
            let ends = self.lugs(id, &name, ["one", "two"]);
            self.elements.push(Element {
                part: name.clone(),
                name,
                kind: Kind::Capacitor,
                place: Place::Capacitor,
                ends,
                spread: CONTACTS,
                copper: false,
            });
        }
        for resistor in &plan.resistor {
            let id = resistor.id.get_ref();
            let name = words::part(id, resistor.title.as_deref(), "resistor");
            let off = value(resistor.tolerance.as_ref(), RESISTOR_TOLERANCE);
            let spread = self.spread((id, &name), off);
            let ends = self.lugs(id, &name, ["one", "two"]);
            self.elements.push(Element {
                part: name.clone(),
                name,
                kind: Kind::Resistor {
                    ohms: value(resistor.ohms.as_ref(), 1.0),
                },
                place: Place::Resistor,
                ends,
                spread,
                copper: false,
            });
        }
    }

    pub(super) fn switches(&mut self, plan: &Plan) {
        for (number, switch) in plan.switch.iter().enumerate() {
            let id = switch.id.get_ref();
            let part = match &switch.title {
                None if id == "selector" => "the selector".to_owned(),
                title => words::part(id, title.as_deref(), "switch"),
            };
            let mut lugs = BTreeMap::new();
            for lug in &switch.terminals {
                let lug = lug.get_ref().as_str();
                let words = words::terminal(&part, lug);
                lugs.insert(lug, self.terminal(format!("{id}.{lug}"), words));
            }
            self.contacts(switch, number, &part);
            self.switches.push(Switch {
                name: part,
                lugs: switch
                    .terminals
                    .iter()
                    .filter_map(|lug| lugs.get(lug.get_ref().as_str()).copied())
                    .collect(),
                positions: switch
                    .positions
                    .iter()
                    .map(|at| at.name.get_ref().clone())
                    .collect(),
            });
        }
    }

    /// One contact for each pair of lugs that a switch ever closes.
    fn contacts(&mut self, switch: &SwitchText, number: usize, part: &str) {
        let mut contacts: BTreeMap<[usize; 2], Vec<bool>> = BTreeMap::new();
        for (at, position) in switch.positions.iter().enumerate() {
            for pair in &position.closes {
                let full = pair
                    .get_ref()
                    .each_ref()
                    .map(|lug| format!("{}.{lug}", switch.id.get_ref()));
                let mut ends =
                    full.map(|lug| self.numbers.get(&lug).copied().unwrap_or_default());
                ends.sort_unstable();
                let open = || vec![false; switch.positions.len()];
                let closed = contacts.entry(ends).or_insert_with(open);
                if let Some(slot) = closed.get_mut(at) {
                    *slot = true;
                }
            }
        }
        for (ends, closed) in contacts {
            let [one, other] = ends.map(|end| self.lug_words(end, part));
            self.elements.push(Element {
                name: format!("the contact of {part} between {one} and {other}"),
                part: part.to_owned(),
                kind: Kind::Contact {
                    switch: number,
                    closed,
                },
                place: Place::Switch,
                ends,
                spread: CONTACTS,
                copper: false,
            });
        }
    }

    /// A lug's words without its switch's name.
    fn lug_words(&self, lug: usize, part: &str) -> String {
        let words = self
            .terminals
            .get(lug)
            .map_or("", |terminal| terminal.words.as_str());
        let own = format!("{part}'s ");
        format!("its {}", words.strip_prefix(&own).unwrap_or(words))
    }
}
