//! From a judged plan to its circuit.

mod parts;

use std::collections::{BTreeMap, BTreeSet};

use toml::Spanned;

use crate::circuit::conductor::COPPER_COEFFICIENT;
use crate::circuit::forecast::{Place, Spread};
use crate::circuit::job::{Fault, JackKind, JobRefusal, Plan, words};
use crate::circuit::model::{CONTACTS, Circuit, Control, Element, Kind, Switch, Terminal};

/// How far the copper may be from the temperature its ohms hold for where that is not known, in
/// kelvins.
const UNKNOWN_KELVINS: f64 = 5.0;
/// How far joints and contacts may be off, as a part of their nominal value.
const CONTACTS_OFF: f64 = 1.0;

/// Wires a plan up; `typical` are the short names of parts whose value nobody gave.
pub(super) fn circuit(plan: &Plan, typical: BTreeSet<String>) -> Result<Circuit, Fault> {
    let mut bench = Bench::new(plan);
    bench.typical = typical;
    bench.windings(plan);
    bench.controls(plan);
    bench.pairs(plan);
    bench.switches(plan);
    let Some(jack) = &plan.jack else {
        let why = "a job needs a [jack] of kind \"mono\" or \"stereo\"";
        return Err(Fault::at(&(0..0), JobRefusal::Incomplete(why)));
    };
    let words = |lug| words::terminal("the jack", lug);
    let tip = bench.terminal("jack.tip".to_owned(), words("tip"));
    let sleeve = bench.terminal("jack.sleeve".to_owned(), words("sleeve"));
    let stereo = jack.get_ref().kind == JackKind::Stereo;
    let ring = stereo.then(|| bench.terminal("jack.ring".to_owned(), words("ring")));
    let ground = bench.terminal("ground".to_owned(), "ground".to_owned());
    for metal in &plan.metal {
        let title = words::part(metal.id.get_ref(), metal.title.as_deref(), "metal");
        let number = bench.terminal(metal.id.get_ref().clone(), title);
        bench.metals.insert(number);
    }
    let Some(wiring) = &plan.wiring else {
        let why = "a job needs [wiring] with its connections, or a layout";
        return Err(Fault::at(&(0..0), JobRefusal::Incomplete(why)));
    };
    for name in &wiring.get_ref().terminals {
        let words = format!("the {}", name.get_ref().replace(['-', '_'], " "));
        bench.terminal(name.get_ref().clone(), words);
    }
    let joined = bench.joints(&wiring.get_ref().connections, &[tip, sleeve])?;
    for (end, why) in [
        (tip, "jack.tip is joined to nothing"),
        (sleeve, "jack.sleeve is joined to nothing"),
    ] {
        if !joined.contains(&end) {
            return Err(Fault::at(&wiring.span(), JobRefusal::Incomplete(why)));
        }
    }
    Ok(Circuit {
        terminals: bench.terminals,
        elements: bench.elements,
        controls: bench.controls,
        knobs: bench.knobs,
        switches: bench.switches,
        spreads: bench.spreads,
        jack: [tip, sleeve],
        ring,
        ground,
        active: plan.active,
    })
}

#[derive(Default)]
struct Bench {
    terminals: Vec<Terminal>,
    numbers: BTreeMap<String, usize>,
    elements: Vec<Element>,
    controls: Vec<Control>,
    knobs: Vec<String>,
    switches: Vec<Switch>,
    spreads: Vec<Spread>,
    metals: BTreeSet<usize>,
    typical: BTreeSet<String>,
}

impl Bench {
    fn new(plan: &Plan) -> Self {
        let known = plan.workshop.celsius.is_some()
            && plan.pickup.iter().all(|pickup| pickup.celsius.is_some());
        let copper = if known {
            0.0
        } else {
            COPPER_COEFFICIENT * UNKNOWN_KELVINS
        };
        let spread = |name: &str, most| Spread {
            name: name.to_owned(),
            most,
            typical: false,
        };
        let spreads = vec![
            spread("joints, contacts and the ends of tracks", CONTACTS_OFF),
            spread("copper at a temperature not known", copper),
        ];
        Self {
            spreads,
            ..Self::default()
        }
    }

    fn terminal(&mut self, name: String, words: String) -> usize {
        let number = self.terminals.len();
        self.numbers.insert(name.clone(), number);
        self.terminals.push(Terminal { name, words });
        number
    }

    /// A terminal that no job can name and no probe can reach.
    fn hidden(&mut self, name: String, words: String) -> usize {
        self.terminals.push(Terminal { name, words });
        self.terminals.len() - 1
    }

    fn lugs<const N: usize>(&mut self, id: &str, part: &str, lugs: [&str; N]) -> [usize; N] {
        lugs.map(|lug| self.terminal(format!("{id}.{lug}"), words::terminal(part, lug)))
    }

    fn spread(&mut self, (id, name): (&str, &str), most: f64) -> usize {
        self.spreads.push(Spread {
            name: name.to_owned(),
            most,
            typical: self.typical.contains(id),
        });
        self.spreads.len() - 1
    }

    /// Every connection a joint of its own; returns the terminals that are joined to something.
    fn joints(
        &mut self,
        connections: &[Spanned<[String; 2]>],
        jack: &[usize],
    ) -> Result<BTreeSet<usize>, Fault> {
        let mut pairs = BTreeSet::new();
        let mut joined = BTreeSet::new();
        for connection in connections {
            let [one, other] = connection.get_ref();
            let mut ends = [0; 2];
            for (end, name) in ends.iter_mut().zip([one, other]) {
                *end = self.known(name).map_err(|hint| {
                    let refusal = JobRefusal::NoTerminal {
                        found: name.clone(),
                        hint,
                    };
                    Fault::at(&connection.span(), refusal)
                })?;
            }
            let [from, to] = ends;
            if from == to {
                let refusal = JobRefusal::ToItself(one.clone());
                return Err(Fault::at(&connection.span(), refusal));
            }
            if !pairs.insert([from.min(to), from.max(to)]) {
                let refusal = JobRefusal::JoinedTwice(one.clone(), other.clone());
                return Err(Fault::at(&connection.span(), refusal));
            }
            joined.extend(ends);
            self.elements.push(self.joint(ends, jack));
        }
        Ok(joined)
    }

    /// The common ground's number.
    fn ground(&self) -> usize {
        self.numbers.get("ground").copied().unwrap_or(usize::MAX)
    }

    /// Whether a terminal is a capacitor's.
    fn shunts(&self, terminal: usize) -> bool {
        self.elements.iter().any(|element| {
            element.place == Place::Capacitor && element.ends.contains(&terminal)
        })
    }

    fn joint(&self, ends: [usize; 2], jack: &[usize]) -> Element {
        let [one, other] = ends.map(|end| {
            self.terminals
                .get(end)
                .map_or("", |terminal| &terminal.words)
        });
        let name = format!("the joint between {one} and {other}");
        // A capacitor to ground sits on a control's case, as metal to ground does.
        let shunt = ends.contains(&self.ground()) && ends.iter().any(|end| self.shunts(*end));
        let grounded = shunt || ends.iter().any(|end| self.metals.contains(end));
        let place = if grounded {
            Place::GroundJoint
        } else if ends.iter().any(|end| jack.contains(end)) {
            Place::Jack
        } else {
            Place::Joint
        };
        Element {
            part: name.clone(),
            name,
            kind: Kind::Joint,
            place,
            ends,
            spread: CONTACTS,
            copper: false,
        }
    }

    /// The number of a terminal that a connection names, or what it might have meant.
    fn known(&self, name: &str) -> Result<usize, String> {
        if let Some(number) = self.numbers.get(name) {
            return Ok(*number);
        }
        let part = name.split('.').next().unwrap_or(name);
        let start = format!("{part}.");
        let lugs: Vec<&str> = self
            .numbers
            .keys()
            .map(String::as_str)
            .filter(|known| known.starts_with(&start))
            .collect();
        Err(if lugs.is_empty() {
            format!(
                "there is no part {part:?}; list a terminal of no part under [wiring] terminals"
            )
        } else {
            format!("the terminals of {part} are {}", lugs.join(", "))
        })
    }
}
