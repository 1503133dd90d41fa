//! Everything that can be wrong with a circuit, in plain words, and what each would make the
//! measurements read.

mod list;
mod predict;
mod probe;

use crate::circuit::forecast::Hypothesis;
use crate::circuit::model::Circuit;
use crate::circuit::network::{Branch, Edit, Network};
use crate::circuit::state::State;

/// The resistance of a touch of metal on metal that should be apart, in ohms.
pub const SHORT_OHMS: f64 = 0.05;

/// What a fault changes.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Nothing.
    None,
    /// An element is no connection.
    Open {
        /// The element's number.
        element: usize,
    },
    /// Two terminals touch.
    Touch {
        /// The terminals' numbers.
        ends: [usize; 2],
    },
    /// An element has so many ohms more.
    More {
        /// The element's number.
        element: usize,
        /// In ohms.
        ohms: f64,
    },
    /// A part has a multiple of its ohms.
    Times {
        /// Its elements' numbers.
        elements: Vec<usize>,
        /// By how much.
        factor: f64,
    },
    /// The wires at two lugs are changed over.
    Swap {
        /// The lugs, as numbers of the circuit's terminals.
        lugs: [usize; 2],
    },
}

/// One fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What it is: always with exactly one cause.
    pub hypothesis: Hypothesis,
    /// What it changes.
    pub change: Change,
    /// It is among the likelier ones, which are also supposed two at a time.
    pub likelier: bool,
}

impl Circuit {
    /// The edits of the state's network that a change comes to. None for a swap, which is another network.
    fn edits(&self, change: &Change, state: &State) -> Option<Vec<Edit>> {
        let set = |branch: usize, ohms: f64| vec![Edit::Set { branch, ohms }];
        Some(match change {
            Change::None => Vec::new(),
            Change::Open { element } => set(*element, f64::INFINITY),
            Change::Touch { ends: [from, to] } => {
                vec![Edit::Bridge {
                    from: *from,
                    to: *to,
                    ohms: SHORT_OHMS,
                }]
            }
            Change::More { element, ohms } => set(*element, self.ohms(*element, state) + ohms),
            Change::Times { elements, factor } => elements
                .iter()
                .filter(|element| self.has_value(**element, state))
                .map(|element| Edit::Set {
                    branch: *element,
                    ohms: self.ohms(*element, state) * factor,
                })
                .collect(),
            Change::Swap { .. } => return None,
        })
    }

    /// Whether an element's ohms are its part's own in a state: the end of a track is not, and
    /// an open has none.
    fn has_value(&self, element: usize, state: &State) -> bool {
        let own = self.elements.get(element).map(|element| element.spread);
        self.ohms(element, state).is_finite() && own == Some(self.spread_in(element, state))
    }

    /// The network of a state with faults in it, built afresh.
    pub fn faulty(&self, state: &State, changes: &[&Change]) -> Network {
        self.faulty_with(state, changes, &[])
    }

    /// The network of a state with faults in it and parts off their nominal values by `off`,
    /// each a relative change in the order of the spreads.
    pub fn faulty_with(&self, state: &State, changes: &[&Change], off: &[f64]) -> Network {
        let mut network = self.network_with(state, off);
        for change in changes {
            network = match change {
                Change::Swap { lugs } => self.swapped(&network, *lugs),
                Change::More { element, ohms } => {
                    let now = network.branches().get(*element).map(|branch| branch.ohms);
                    let ohms = now.unwrap_or(f64::INFINITY) + ohms;
                    network.edited(&[Edit::Set {
                        branch: *element,
                        ohms,
                    }])
                }
                Change::Times { elements, factor } => {
                    let own = elements
                        .iter()
                        .filter(|element| self.has_value(**element, state));
                    let edits: Vec<Edit> = own
                        .filter_map(|element| {
                            let ohms = network.branches().get(*element)?.ohms * factor;
                            Some(Edit::Set {
                                branch: *element,
                                ohms,
                            })
                        })
                        .collect();
                    network.edited(&edits)
                }
                _ => network.edited(&self.edits(change, state).unwrap_or_default()),
            };
        }
        network
    }

    /// The network with the wires at two lugs changed over.
    fn swapped(&self, network: &Network, [one, other]: [usize; 2]) -> Network {
        let moved = |end: usize| match end {
            end if end == one => other,
            end if end == other => one,
            end => end,
        };
        let wires = self
            .elements
            .iter()
            .map(list::is_wire)
            .chain(std::iter::repeat(false));
        let branches = network.branches().iter().zip(wires).map(|(branch, wire)| {
            let Branch { from, to, ohms } = *branch;
            if wire {
                Branch {
                    from: moved(from),
                    to: moved(to),
                    ohms,
                }
            } else {
                *branch
            }
        });
        Network::trusted(network.terminals(), branches.collect())
    }
}
