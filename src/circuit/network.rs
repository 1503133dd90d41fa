//! Resistances between terminals, from Kirchhoff's laws.
//!
//! Solved by loops rather than by nodes. A guitar's joints are tens of milliohms and its
//! controls half a megohm; a node matrix of such values loses the digits that tell an opened
//! joint from a closed one. The loops are those that a spanning tree of the smallest
//! resistances leaves, which makes their matrix dominated by its diagonal whatever the values
//! are; a guitar has about ten of them. Whether a branch lies in any loop is a matter of whole
//! numbers, so that an open is infinite exactly and nothing divides by a rounded zero.
//!
//! Faults are single steps on that one factorisation, see [`Solved::response`].

mod edit;
mod solved;
mod tree;

pub use edit::{Edit, Response, Thing};
pub use solved::{Port, Solved};

use thiserror::Error;

/// A resistance between two terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Branch {
    /// One end, as the number of a terminal.
    pub from: usize,
    /// The other end.
    pub to: usize,
    /// Ohms, not negative: infinite is no connection, zero joins the two ends.
    pub ohms: f64,
}

/// What cannot be a network.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NetworkError {
    /// An end at no terminal.
    #[error("branch {branch} ends at terminal {terminal}, and there are {terminals}")]
    NoTerminal {
        /// Which branch, from 0.
        branch: usize,
        /// Where it ends.
        terminal: usize,
        /// How many terminals there are.
        terminals: usize,
    },
    /// Not a resistance.
    #[error("branch {branch} has {ohms} ohms; a resistance is zero or more")]
    NotAResistance {
        /// Which branch, from 0.
        branch: usize,
        /// What was given.
        ohms: f64,
    },
}

/// Terminals, numbered from 0, and the branches between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    terminals: usize,
    branches: Vec<Branch>,
}

impl Network {
    /// A network of that many terminals.
    pub fn new(terminals: usize, branches: Vec<Branch>) -> Result<Self, NetworkError> {
        for (number, branch) in branches.iter().enumerate() {
            let outside = [branch.from, branch.to]
                .into_iter()
                .find(|&end| end >= terminals);
            if let Some(terminal) = outside {
                return Err(NetworkError::NoTerminal {
                    branch: number,
                    terminal,
                    terminals,
                });
            }
            if branch.ohms.is_nan() || branch.ohms < 0.0 {
                let ohms = branch.ohms;
                return Err(NetworkError::NotAResistance {
                    branch: number,
                    ohms,
                });
            }
        }
        Ok(Self {
            terminals,
            branches,
        })
    }

    /// A network of branches that are known to be sound.
    pub(in crate::circuit) const fn trusted(terminals: usize, branches: Vec<Branch>) -> Self {
        Self {
            terminals,
            branches,
        }
    }

    /// How many terminals there are.
    pub const fn terminals(&self) -> usize {
        self.terminals
    }

    /// The branches, in their order.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// The factorisation that every resistance follows from.
    pub fn solve(&self) -> Solved {
        Solved::of(self)
    }

    /// Ohms between two terminals: infinite where no path is, or for a terminal that is none.
    pub fn resistance(&self, from: usize, to: usize) -> f64 {
        let solved = self.solve();
        solved
            .port(from, to)
            .map_or(f64::INFINITY, |port| port.ohms())
    }

    /// The network with faults put in. Numbers are those of this network's own branches; an
    /// edit of a branch or terminal that is none changes nothing.
    #[must_use]
    pub fn edited(&self, edits: &[Edit]) -> Self {
        let mut edited = self.clone();
        for edit in edits {
            match *edit {
                Edit::Set { branch, ohms } => {
                    let own = edited.branches.get_mut(branch);
                    if let Some(found) = own.filter(|_| branch < self.branches.len()) {
                        found.ohms = if ohms >= 0.0 { ohms } else { found.ohms };
                    }
                }
                Edit::Bridge { from, to, ohms } => {
                    if from.max(to) < self.terminals && ohms >= 0.0 {
                        edited.branches.push(Branch { from, to, ohms });
                    }
                }
            }
        }
        edited
    }
}
