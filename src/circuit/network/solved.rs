//! The loop equations of a network, factorised once.

use nalgebra::{DMatrix, DVector};

use crate::circuit::network::Network;
use crate::circuit::network::tree::{Forest, Run};

/// A network whose loop equations are factorised.
#[derive(Debug, Clone)]
pub struct Solved {
    pub(super) network: Network,
    pub(super) forest: Forest,
    /// The ohms of every branch.
    pub(super) ohms: Vec<f64>,
    /// Which loops run through each branch (a column each), and which way.
    pub(super) through: DMatrix<f64>,
    /// The currents round the loops for one volt in series with each branch (a column each).
    pub(super) driven: DMatrix<f64>,
}

/// Two terminals under probes, with the currents that one ampere between them drives.
#[derive(Debug, Clone, PartialEq)]
pub struct Port {
    pub(super) path: Vec<Run>,
    pub(super) currents: Vec<f64>,
    pub(super) ohms: f64,
}

impl Port {
    /// Ohms between the two.
    pub const fn ohms(&self) -> f64 {
        self.ohms
    }

    /// The current through each branch for one ampere into the port, in amperes. Its square
    /// is the change of the port's ohms for one ohm more in that branch (Cohn, 1950, from
    /// memory).
    pub fn currents(&self) -> &[f64] {
        &self.currents
    }
}

impl Solved {
    pub(super) fn of(network: &Network) -> Self {
        let forest = Forest::of(network);
        let ohms: Vec<f64> = network
            .branches()
            .iter()
            .map(|branch| branch.ohms)
            .collect();
        let through = loops(network, &forest);
        let weighted = weigh(&through, &ohms);
        let matrix = &weighted * through.transpose();
        // The matrix is positive definite: each loop has a chord of its own, above zero ohms.
        let driven = match matrix.cholesky() {
            Some(factor) => factor.solve(&through),
            None => DMatrix::zeros(through.nrows(), through.ncols()),
        };
        Self {
            network: network.clone(),
            forest,
            ohms,
            through,
            driven,
        }
    }

    /// The network that was solved.
    pub const fn network(&self) -> &Network {
        &self.network
    }

    /// Two terminals as a port; none if no path joins them.
    pub fn port(&self, from: usize, to: usize) -> Option<Port> {
        let path = self.forest.path(from, to)?;
        let mut drops = DVector::zeros(self.through.nrows());
        let mut currents = vec![0.0; self.ohms.len()];
        for &(branch, sign) in &path {
            let volts = sign * self.ohms.get(branch).copied().unwrap_or(0.0);
            drops.axpy(volts, &self.through.column(branch), 1.0);
            if let Some(current) = currents.get_mut(branch) {
                *current = sign;
            }
        }
        for (current, driven) in currents.iter_mut().zip(self.driven.column_iter()) {
            *current -= drops.dot(&driven);
        }
        let ohms = self.ohms.iter().zip(&currents).map(|(ohms, amperes)| {
            // A branch that is no connection carries nothing.
            if ohms.is_finite() {
                ohms * amperes * amperes
            } else {
                0.0
            }
        });
        let ohms = ohms.sum();
        Some(Port {
            path,
            currents,
            ohms,
        })
    }

    /// The current through each branch for one volt in series with this one, in amperes.
    pub(super) fn series(&self, branch: usize) -> Vec<f64> {
        if branch >= self.ohms.len() {
            return vec![0.0; self.ohms.len()];
        }
        let own = self.driven.column(branch);
        self.through
            .column_iter()
            .map(|loops| loops.dot(&own))
            .collect()
    }

    /// Whether no loop runs through a branch: opening it parts the network, or it is open.
    pub(super) fn is_bridge(&self, branch: usize) -> bool {
        branch >= self.ohms.len() || self.through.column(branch).iter().all(|way| *way == 0.0)
    }

    /// Whether the same loops run through both: opening the one leaves the other in none.
    pub(super) fn share_every_loop(&self, one: usize, other: usize) -> bool {
        if one.max(other) >= self.ohms.len() || self.is_bridge(one) {
            return false;
        }
        let (one, other) = (self.through.column(one), self.through.column(other));
        one == other || one == -other
    }
}

/// Which loops run through each branch.
fn loops(network: &Network, forest: &Forest) -> DMatrix<f64> {
    let mut through = DMatrix::zeros(forest.chords.len(), network.branches().len());
    for (number, &chord) in forest.chords.iter().enumerate() {
        let Some(branch) = network.branches().get(chord) else {
            continue;
        };
        let back = forest.path(branch.to, branch.from).unwrap_or_default();
        for (branch, sign) in std::iter::once((chord, 1.0)).chain(back) {
            if let Some(slot) = through.get_mut((number, branch)) {
                *slot = sign;
            }
        }
    }
    through
}

fn weigh(through: &DMatrix<f64>, ohms: &[f64]) -> DMatrix<f64> {
    let mut weighted = through.clone();
    for (mut column, ohms) in weighted.column_iter_mut().zip(ohms) {
        column *= if ohms.is_finite() { *ohms } else { 0.0 };
    }
    weighted
}
