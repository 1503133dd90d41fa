//! The list of faults: every part, every joint, every contact, and what touches what.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::fault::{Change, Fault};
use crate::circuit::forecast::{Ailment, Cause, Hypothesis, Place, Spread};
use crate::circuit::model::{Circuit, Element, Kind};
use crate::reading::Ohms;

/// The sizes of a bad connection, in ohms: half a decade apart from what a meter sees on a
/// pickup's thousands to what is as good as open.
const SIZES: [f64; 9] = [30.0, 100.0, 300.0, 1e3, 3e3, 1e4, 3e4, 1e5, 3e5];
/// A size stands for all within a quarter of a decade: 10^0.25 - 1.
const SIZE_OFF: f64 = 0.78;
/// The wrong values of a winding: shorted turns, half of it, another kind of pickup, and one
/// just beyond its tolerance.
const WINDINGS: [f64; 7] = [0.3, 0.5, 0.7, 0.85, 1.18, 1.4, 2.0];
/// The wrong values of a control or resistor: another of the usual row.
const VALUES: [f64; 4] = [0.25, 0.5, 2.0, 4.0];
/// How far a wrong value may lie from the one named, as a part.
const VALUE_OFF: f64 = 0.2;

/// A fault with one cause.
struct Said<'a> {
    name: String,
    part: &'a str,
    place: Place,
    ailment: Ailment,
}

impl Said<'_> {
    fn fault(self, change: Change, likelier: bool) -> Fault {
        self.sized(change, likelier, (1.0, None))
    }

    fn sized(self, change: Change, likelier: bool, (share, off): (f64, Option<f64>)) -> Fault {
        let own = off.map(|most| Spread {
            name: format!("the size of it: {}", self.name),
            most,
            typical: false,
        });
        let (place, ailment, part) = (self.place, self.ailment, self.part.to_owned());
        Fault {
            hypothesis: Hypothesis {
                name: self.name,
                causes: vec![Cause {
                    place,
                    ailment,
                    part,
                    share,
                }],
                own: own.into_iter().collect(),
            },
            change,
            likelier,
        }
    }
}

impl Circuit {
    /// Every single fault, in the order of the circuit's elements.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (number, element) in self.elements.iter().enumerate() {
            match &element.kind {
                Kind::Joint => connection(number, element, "is open", &mut faults),
                Kind::Contact { .. } => {
                    connection(number, element, "does not close", &mut faults);
                    let name = format!("{} is closed in every position", element.name);
                    faults.push(touch(element, name, Ailment::Short, element.ends));
                }
                Kind::Resistor { .. } => winding(number, element, &mut faults),
                Kind::Track { .. } => {
                    let name = format!("{} is open", element.name);
                    let said = said(element, name, Ailment::Open);
                    faults.push(said.fault(Change::Open { element: number }, true));
                }
                Kind::Capacitor => {
                    let name = format!("{} is open", element.name);
                    let said = said(element, name, Ailment::Open);
                    faults.push(said.fault(Change::Open { element: number }, false));
                    let name = format!("{} is shorted", element.name);
                    faults.push(touch(element, name, Ailment::Short, element.ends));
                }
            }
        }
        self.tracks(&mut faults);
        self.grounded(&mut faults);
        self.neighbours(&mut faults);
        faults
    }

    /// Pairs of the likelier faults at different places, as numbers of the list of faults.
    pub fn likelier_pairs(faults: &[Fault]) -> Vec<[usize; 2]> {
        let likelier: Vec<usize> = (0..faults.len())
            .filter(|&at| faults.get(at).is_some_and(|it| it.likelier))
            .collect();
        let part = |at: usize| {
            let causes = faults
                .get(at)
                .map(|fault| fault.hypothesis.causes.as_slice());
            causes
                .and_then(<[Cause]>::first)
                .map(|cause| cause.part.as_str())
        };
        let mut pairs = Vec::new();
        for (place, &one) in likelier.iter().enumerate() {
            let rest = likelier.iter().skip(place + 1);
            pairs.extend(
                rest.filter(|other| part(one) != part(**other))
                    .map(|&at| [one, at]),
            );
        }
        pairs
    }

    /// Controls of another value.
    fn tracks(&self, faults: &mut Vec<Fault>) {
        for (number, control) in self.controls.iter().enumerate() {
            let of = |element: &Element| matches!(element.kind, Kind::Track { control, .. } if control == number);
            let elements: Vec<usize> = (0..self.elements.len())
                .filter(|&at| self.elements.get(at).is_some_and(of))
                .collect();
            let share = 1.0 / counted(VALUES.len());
            for factor in VALUES {
                let value = Ohms(control.ohms * factor);
                let said = Said {
                    name: format!(
                        "{} has about {value} and not {}",
                        control.name,
                        Ohms(control.ohms)
                    ),
                    part: &control.name,
                    place: Place::Control,
                    ailment: Ailment::WrongValue,
                };
                let change = Change::Times {
                    elements: elements.clone(),
                    factor,
                };
                faults.push(said.sized(change, false, (share, Some(VALUE_OFF))));
            }
        }
    }

    /// Wiring that touches ground: one fault for all terminals that wires join.
    fn grounded(&self, faults: &mut Vec<Fault>) {
        let nodes = self.wired();
        let ground = nodes.get(self.ground).copied();
        let mut at: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (terminal, node) in nodes.iter().enumerate() {
            if Some(*node) != ground && self.reachable(terminal) {
                at.entry(*node).or_default().push(terminal);
            }
        }
        for terminals in at.values() {
            let words: Vec<&str> = terminals.iter().filter_map(|at| self.words(*at)).collect();
            let (Some(first), Some(words)) = (terminals.first(), joined(&words)) else {
                continue;
            };
            let said = Said {
                name: format!("the wiring at {words} touches ground"),
                part: &format!("the wiring at {words}"),
                place: self.place_of(terminals),
                ailment: Ailment::ShortToGround,
            };
            faults.push(said.fault(
                Change::Touch {
                    ends: [*first, self.ground],
                },
                true,
            ));
        }
    }

    /// Lugs side by side: a bridge of solder between them, or their wires changed over.
    fn neighbours(&self, faults: &mut Vec<Fault>) {
        let mut rows: Vec<(&str, Place, Vec<usize>)> = Vec::new();
        for switch in &self.switches {
            rows.push((&switch.name, Place::Switch, switch.lugs.clone()));
        }
        for control in &self.controls {
            rows.push((&control.name, Place::Control, control.lugs.to_vec()));
        }
        rows.push((
            "the jack",
            Place::Jack,
            self.jack.iter().copied().chain(self.ring).collect(),
        ));
        for element in &self.elements {
            if element.place == Place::Pickup {
                rows.push((&element.part, Place::Pickup, element.ends.to_vec()));
            }
        }
        let wires = self.wires_at();
        for (part, place, lugs) in rows {
            for (&one, &other) in lugs.iter().zip(lugs.iter().skip(1)) {
                let [Some(a), Some(b)] = [one, other].map(|lug| self.words(lug)) else {
                    continue;
                };
                // Across a winding or a capacitor it is that part that is shorted.
                if place != Place::Pickup {
                    let said = Said {
                        name: format!("{a} touches {b}"),
                        part,
                        place,
                        ailment: Ailment::Short,
                    };
                    faults.push(said.fault(Change::Touch { ends: [one, other] }, true));
                }
                if wires.contains(&one) && wires.contains(&other) {
                    let said = Said {
                        name: format!("the wires at {a} and {b} are changed over"),
                        part,
                        place: Place::Joint,
                        ailment: Ailment::Swapped,
                    };
                    faults.push(said.fault(Change::Swap { lugs: [one, other] }, false));
                }
            }
        }
    }

    /// Terminals with a soldered wire on them.
    fn wires_at(&self) -> BTreeSet<usize> {
        let soldered = self.elements.iter().filter(|element| is_wire(element));
        soldered.flat_map(|element| element.ends).collect()
    }

    /// For each terminal the least number of those it is wired to, itself among them.
    fn wired(&self) -> Vec<usize> {
        let mut nodes: Vec<usize> = (0..self.terminals.len()).collect();
        let mut moved = true;
        while moved {
            moved = false;
            for element in self.elements.iter().filter(|element| is_wire(element)) {
                let [one, other] = element
                    .ends
                    .map(|end| nodes.get(end).copied().unwrap_or(end));
                let least = one.min(other);
                for end in element.ends {
                    if let Some(slot) = nodes.get_mut(end).filter(|slot| **slot > least) {
                        *slot = least;
                        moved = true;
                    }
                }
            }
        }
        nodes
    }

    /// Whether a probe, or a stray wire, can touch a terminal at all.
    pub(super) fn reachable(&self, terminal: usize) -> bool {
        !self.elements.iter().any(|element| {
            matches!(element.kind, Kind::Track { below: false, .. })
                && element.ends.get(1) == Some(&terminal)
        })
    }

    pub(super) fn words(&self, terminal: usize) -> Option<&str> {
        self.terminals
            .get(terminal)
            .map(|terminal| terminal.words.as_str())
    }

    fn place_of(&self, terminals: &[usize]) -> Place {
        let jack = terminals.iter().any(|at| self.jack.contains(at));
        if jack { Place::Jack } else { Place::Joint }
    }
}

pub(super) fn is_wire(element: &Element) -> bool {
    element.kind == Kind::Joint && element.place != Place::Control
}

fn said(element: &Element, name: String, ailment: Ailment) -> Said<'_> {
    Said {
        name,
        part: &element.name,
        place: element.place,
        ailment,
    }
}

fn touch(element: &Element, name: String, ailment: Ailment, ends: [usize; 2]) -> Fault {
    said(element, name, ailment)
        .fault(Change::Touch { ends }, element.place != Place::Capacitor)
}

/// A joint or a contact: open, open at times, or bad by some size.
fn connection(number: usize, element: &Element, open: &str, faults: &mut Vec<Fault>) {
    let name = &element.name;
    let opened = said(element, format!("{name} {open}"), Ailment::Open);
    faults.push(opened.fault(Change::Open { element: number }, true));
    let at_times = said(
        element,
        format!("{name} is open at times"),
        Ailment::Intermittent,
    );
    faults.push(at_times.fault(Change::Open { element: number }, false));
    let share = 1.0 / counted(SIZES.len());
    for ohms in SIZES {
        let words = format!("{name} has about {} more than it should", Ohms(ohms));
        let bad = said(element, words, Ailment::HighResistance);
        let change = Change::More {
            element: number,
            ohms,
        };
        faults.push(bad.sized(change, false, (share, Some(SIZE_OFF))));
    }
}

/// A winding or a resistor.
fn winding(number: usize, element: &Element, faults: &mut Vec<Fault>) {
    let name = &element.name;
    let Kind::Resistor { ohms } = element.kind else {
        return;
    };
    let opened = said(element, format!("{name} is open"), Ailment::Open);
    faults.push(opened.fault(Change::Open { element: number }, true));
    let at_times = said(
        element,
        format!("{name} is open at times"),
        Ailment::Intermittent,
    );
    faults.push(at_times.fault(Change::Open { element: number }, false));
    faults.push(touch(
        element,
        format!("{name} is shorted"),
        Ailment::Short,
        element.ends,
    ));
    let pickup = element.place == Place::Pickup;
    let factors: &[f64] = if pickup { &WINDINGS } else { &VALUES };
    let share = 1.0 / counted(factors.len());
    for &factor in factors {
        let words = format!(
            "{name} has about {} and not {}",
            Ohms(ohms * factor),
            Ohms(ohms)
        );
        let wrong = said(element, words, Ailment::WrongValue);
        let change = Change::Times {
            elements: vec![number],
            factor,
        };
        faults.push(wrong.sized(change, false, (share, Some(VALUE_OFF))));
    }
}

fn counted(count: usize) -> f64 {
    u32::try_from(count).map_or(1.0, f64::from)
}

/// Words in a row: "a", "a and b", "a, b and c".
fn joined(words: &[&str]) -> Option<String> {
    let (last, before) = words.split_last()?;
    if before.is_empty() {
        return Some((*last).to_owned());
    }
    Some(format!("{} and {last}", before.join(", ")))
}
