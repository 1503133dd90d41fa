//! Faults as steps on one factorisation.
//!
//! A resistance in series with a branch, or a new branch between two terminals, changes every
//! transfer of the network by one product: with `h(x, y)` the response at `y` to a unit at `x`
//! (an ampere into a pair of terminals, or a volt in series with a branch),
//! `h'(x, y) = h(x, y) - d h(x, e) h(e, y)`, where `d` is `1 / (r + h(e, e))` for a new branch
//! of `r` ohms and `1 / (1/r + h(e, e))` for `r` more ohms in series (Sherman and Morrison,
//! 1950, in the form of network theory). For an opened branch `d` is `1 / h(e, e)`, and
//! nothing cancels.

use crate::circuit::network::{Port, Solved};

/// One change of a network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Edit {
    /// Another resistance for a branch: infinite opens it.
    Set {
        /// The branch's number.
        branch: usize,
        /// Its new resistance in ohms.
        ohms: f64,
    },
    /// A new branch between two terminals.
    Bridge {
        /// One terminal.
        from: usize,
        /// The other.
        to: usize,
        /// In ohms.
        ohms: f64,
    },
}

/// An edit with what it does to every branch of one solved network.
#[derive(Debug, Clone)]
pub struct Thing {
    edit: Edit,
    act: Act,
}

#[derive(Debug, Clone)]
enum Act {
    /// More (or fewer) ohms in series with a branch.
    Series {
        branch: usize,
        more: f64,
        currents: Vec<f64>,
    },
    /// A new branch across two terminals that are joined already.
    Shunt { ohms: f64, port: Port },
    /// A new branch between islands.
    Across,
    /// Only a fresh solution tells.
    Anew,
    /// Nothing that this network would notice.
    Nothing,
}

/// What a port reads after edits.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// In ohms; infinite when no path is left.
    pub ohms: f64,
    /// The current through each branch for one ampere, in amperes.
    pub currents: Vec<f64>,
    /// The current through each edit's own branch, in the order of the edits.
    pub own: Vec<f64>,
}

impl Response {
    fn open(branches: usize, edits: usize) -> Self {
        Self {
            ohms: f64::INFINITY,
            currents: vec![0.0; branches],
            own: vec![0.0; edits],
        }
    }
}

impl Solved {
    /// Prepares an edit, once for all ports and pairs.
    pub fn thing(&self, edit: Edit) -> Thing {
        let act = match edit {
            Edit::Set { branch, ohms } => match self.ohms.get(branch) {
                Some(now) if now.is_finite() && *now > 0.0 && ohms > 0.0 => Act::Series {
                    branch,
                    more: ohms - now,
                    currents: self.series(branch),
                },
                Some(now) if now.is_infinite() && ohms.is_infinite() => Act::Nothing,
                Some(_) if ohms >= 0.0 => Act::Anew,
                _ => Act::Nothing,
            },
            Edit::Bridge { from, to, ohms } => {
                let outside = from.max(to) >= self.network.terminals();
                if outside || from == to || ohms.is_nan() || ohms < 0.0 || ohms.is_infinite() {
                    Act::Nothing
                } else {
                    match self.port(from, to) {
                        Some(port) if ohms + port.ohms > 0.0 => Act::Shunt { ohms, port },
                        Some(_) => Act::Nothing,
                        None => Act::Across,
                    }
                }
            }
        };
        Thing { edit, act }
    }

    /// What a port between two terminals reads with one or two edits in place; `port` is what
    /// [`Solved::port`] gave for the two.
    pub fn response(
        &self,
        ends: [usize; 2],
        port: Option<&Port>,
        things: &[&Thing],
    ) -> Response {
        let anew = |thing: &&&Thing| matches!(thing.act, Act::Anew);
        let across = |thing: &&&Thing| matches!(thing.act, Act::Across);
        let bridges = |thing: &&&Thing| matches!(thing.act, Act::Across | Act::Shunt { .. });
        let joining = things.iter().filter(across).count();
        let Some(port) = port else {
            if joining == 0 && things.iter().filter(anew).count() == 0 {
                return Response::open(self.ohms.len(), things.len());
            }
            return self.anew(ends, things);
        };
        let several = joining > 0 && things.iter().filter(bridges).count() > 1;
        let same = same_branch(things);
        if things.len() > 2 || several || same || things.iter().any(|thing| anew(&thing)) {
            return self.anew(ends, things);
        }
        self.stepped(port, things)
    }

    /// By a solution of its own.
    fn anew(&self, ends: [usize; 2], things: &[&Thing]) -> Response {
        let edits: Vec<Edit> = things.iter().map(|thing| thing.edit).collect();
        let edited = self.network.edited(&edits);
        let branches = self.ohms.len();
        let [from, to] = ends;
        let Some(port) = edited.solve().port(from, to) else {
            return Response::open(branches, things.len());
        };
        let mut added = port.currents.iter().skip(branches);
        let own = edits.iter().map(|edit| match edit {
            Edit::Set { branch, .. } => port.currents.get(*branch).copied(),
            Edit::Bridge { from, to, ohms } => {
                let taken = (*from).max(*to) < self.network.terminals() && *ohms >= 0.0;
                if taken { added.next().copied() } else { None }
            }
        });
        let own = own.map(|current| current.unwrap_or(0.0)).collect();
        let currents = port.currents.iter().copied().take(branches).collect();
        Response {
            ohms: port.ohms,
            currents,
            own,
        }
    }

    fn stepped(&self, port: &Port, things: &[&Thing]) -> Response {
        // New branches first: one may bridge what the other edit opens.
        let mut order: Vec<usize> = (0..things.len()).collect();
        order.sort_by_key(|&at| things.get(at).is_none_or(|thing| thing.is_series()));
        let mut state = Stepping {
            solved: self,
            ohms: port.ohms,
            done: Vec::new(),
        };
        for &at in &order {
            let Some(&thing) = things.get(at) else {
                continue;
            };
            if !state.step(port, thing) {
                return Response::open(self.ohms.len(), things.len());
            }
        }
        let weights = state.weights();
        let mut currents = port.currents.clone();
        for (step, weight) in state.done.iter().zip(&weights) {
            for (current, change) in currents.iter_mut().zip(step.thing.currents()) {
                *current -= weight * change;
            }
        }
        let own = things.iter().map(|thing| match &thing.act {
            Act::Series { branch, .. } => currents.get(*branch).copied().unwrap_or(0.0),
            Act::Shunt { .. } => {
                let found = state.done.iter().zip(&weights);
                let mut found = found.filter(|(step, _)| std::ptr::eq(step.thing, *thing));
                found.next().map_or(0.0, |(_, weight)| *weight)
            }
            Act::Across | Act::Anew | Act::Nothing => 0.0,
        });
        let own = own.collect();
        Response {
            ohms: state.ohms,
            currents,
            own,
        }
    }
}

impl Thing {
    /// The edit it stands for.
    pub const fn edit(&self) -> Edit {
        self.edit
    }

    const fn is_series(&self) -> bool {
        matches!(self.act, Act::Series { .. })
    }

    /// The current through each branch for a unit at this thing.
    fn currents(&self) -> &[f64] {
        match &self.act {
            Act::Series { currents, .. } => currents,
            Act::Shunt { port, .. } => &port.currents,
            Act::Across | Act::Anew | Act::Nothing => &[],
        }
    }
}

/// One edit in place.
struct Step<'a> {
    thing: &'a Thing,
    /// The factor `d` of the step.
    factor: f64,
    /// The port's response to it when it was put in.
    felt: f64,
    /// Its response to the edit before it.
    before: f64,
}

struct Stepping<'a> {
    solved: &'a Solved,
    ohms: f64,
    done: Vec<Step<'a>>,
}

impl<'a> Stepping<'a> {
    /// Puts one edit in; false if the port is open after it.
    fn step(&mut self, port: &Port, thing: &'a Thing) -> bool {
        let felt = transfer(self.solved, &port.path, &port.currents, thing);
        let own = own_response(thing);
        let (mut felt, mut own, mut before) = (felt, own, 0.0);
        let mut parted = match thing.act {
            Act::Series { branch, .. } => self.solved.is_bridge(branch),
            _ => false,
        };
        if let Some(earlier) = self.done.first() {
            before = between(self.solved, thing, earlier.thing);
            let after = between(self.solved, earlier.thing, thing);
            felt -= earlier.factor * earlier.felt * after;
            own -= earlier.factor * before * after;
            parted = parted_after(self.solved, earlier, thing, parted && after == 0.0);
        }
        let factor = match &thing.act {
            Act::Series { more, .. } if more.is_infinite() => {
                if parted {
                    // Nothing else joins the two sides: all of the current, or none of it.
                    return felt.abs() < 0.5;
                }
                1.0 / own
            }
            Act::Series { more, .. } if parted => *more,
            Act::Series { more, .. } => more / (1.0 + more * own),
            Act::Shunt { ohms, .. } => 1.0 / (ohms + own.max(0.0)),
            Act::Across | Act::Anew | Act::Nothing => return true,
        };
        let back = if thing.is_series() { -felt } else { felt };
        self.ohms -= factor * felt * back;
        self.done.push(Step {
            thing,
            factor,
            felt,
            before,
        });
        true
    }

    /// How much of each step's currents is taken from the port's.
    fn weights(&self) -> Vec<f64> {
        let mut weights: Vec<f64> = self
            .done
            .iter()
            .map(|step| step.factor * step.felt)
            .collect();
        if let ([first, second], [earlier, later]) = (weights.as_mut_slice(), &*self.done) {
            *first -= *second * earlier.factor * later.before;
        }
        weights
    }
}

/// Whether two edits are of one branch: then the second is no step from the first.
fn same_branch(things: &[&Thing]) -> bool {
    let branch = |thing: &&Thing| match thing.edit {
        Edit::Set { branch, .. } => Some(branch),
        Edit::Bridge { .. } => None,
    };
    match things {
        [one, other] => branch(one).is_some() && branch(one) == branch(other),
        _ => false,
    }
}

/// Whether an opened branch is in no loop once an earlier edit is in place.
fn parted_after(solved: &Solved, earlier: &Step<'_>, thing: &Thing, before: bool) -> bool {
    match (&earlier.thing.act, &thing.act) {
        (
            Act::Series {
                branch: one, more, ..
            },
            Act::Series { branch: other, .. },
        ) => before || more.is_infinite() && solved.share_every_loop(*one, *other),
        _ => before,
    }
}

/// The response at a thing to a unit at a pair of terminals or a branch with these currents.
fn transfer(solved: &Solved, path: &[(usize, f64)], currents: &[f64], thing: &Thing) -> f64 {
    match &thing.act {
        Act::Series { branch, .. } => currents.get(*branch).copied().unwrap_or(0.0),
        Act::Shunt { port, .. } => {
            // Along the shorter path: the sums agree.
            let (walk, carried) = if path.len() < port.path.len() {
                (path, port.currents.as_slice())
            } else {
                (port.path.as_slice(), currents)
            };
            let volts = walk.iter().map(|&(branch, sign)| {
                let ohms = solved.ohms.get(branch).copied().unwrap_or(0.0);
                let amperes = carried.get(branch).copied().unwrap_or(0.0);
                sign * ohms * amperes
            });
            volts.sum()
        }
        Act::Across | Act::Anew | Act::Nothing => 0.0,
    }
}

/// The response of one thing at another.
fn between(solved: &Solved, from: &Thing, at: &Thing) -> f64 {
    match (&from.act, &at.act) {
        (Act::Shunt { port, .. }, _) => transfer(solved, &port.path, &port.currents, at),
        (Act::Series { currents, .. }, Act::Series { branch, .. }) => {
            currents.get(*branch).copied().unwrap_or(0.0)
        }
        (Act::Series { branch, .. }, Act::Shunt { port, .. }) => {
            -port.currents.get(*branch).copied().unwrap_or(0.0)
        }
        _ => 0.0,
    }
}

fn own_response(thing: &Thing) -> f64 {
    match &thing.act {
        Act::Series {
            branch, currents, ..
        } => currents.get(*branch).copied().unwrap_or(0.0),
        Act::Shunt { port, .. } => port.ohms,
        Act::Across | Act::Anew | Act::Nothing => 0.0,
    }
}
