//! A spanning tree of the smallest resistances, and the loops it leaves.

use crate::circuit::network::{Branch, Network};

/// A branch as a path or a loop runs through it: its number, and +1 from end to end as
/// written, -1 the other way.
pub(super) type Run = (usize, f64);

/// The way from a terminal towards the root of its island.
#[derive(Debug, Clone, Copy)]
struct Upward {
    branch: usize,
    sign: f64,
    to: usize,
}

/// One tree for each island of terminals that are connected.
#[derive(Debug, Clone)]
pub(super) struct Forest {
    upward: Vec<Option<Upward>>,
    depth: Vec<usize>,
    island: Vec<usize>,
    /// The branches that close a loop, by number.
    pub(super) chords: Vec<usize>,
}

/// Which terminals are joined so far.
struct Sets(Vec<usize>);

impl Sets {
    fn find(&mut self, of: usize) -> usize {
        let mut at = of;
        while let Some(&above) = self.0.get(at) {
            if above == at {
                break;
            }
            let next = self.0.get(above).copied().unwrap_or(above);
            if let Some(slot) = self.0.get_mut(at) {
                *slot = next;
            }
            at = next;
        }
        at
    }

    /// Joins the sets of two terminals; false if they were one already.
    fn join(&mut self, one: usize, other: usize) -> bool {
        let (one, other) = (self.find(one), self.find(other));
        if let Some(slot) = self.0.get_mut(one) {
            *slot = other;
        }
        one != other
    }
}

impl Forest {
    pub(super) fn of(network: &Network) -> Self {
        let branches = network.branches();
        let count = network.terminals();
        let mut order: Vec<(f64, usize)> = branches
            .iter()
            .enumerate()
            .map(|(number, branch)| (branch.ohms, number))
            .collect();
        order.retain(|(ohms, _)| ohms.is_finite());
        order.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut sets = Sets((0..count).collect());
        let mut beside: Vec<Vec<Upward>> = vec![Vec::new(); count];
        let mut chords = Vec::new();
        for (ohms, number) in order {
            let Some(&Branch { from, to, .. }) = branches.get(number) else {
                continue;
            };
            if sets.join(from, to) {
                let mut link = |at: usize, to: usize, sign: f64| {
                    if let Some(list) = beside.get_mut(at) {
                        list.push(Upward {
                            branch: number,
                            sign,
                            to,
                        });
                    }
                };
                link(from, to, 1.0);
                link(to, from, -1.0);
            } else if ohms > 0.0 && from != to {
                chords.push(number);
            }
            // A zero that closes a loop closes a loop of zeros only: it changes nothing.
        }
        Self::rooted(&beside, chords)
    }

    fn rooted(beside: &[Vec<Upward>], chords: Vec<usize>) -> Self {
        let count = beside.len();
        let mut forest = Self {
            upward: vec![None; count],
            depth: vec![0; count],
            island: vec![usize::MAX; count],
            chords,
        };
        for root in 0..count {
            if forest.island.get(root) != Some(&usize::MAX) {
                continue;
            }
            let mut open = vec![(root, None::<Upward>, 0)];
            while let Some((at, upward, depth)) = open.pop() {
                forest.place(at, upward, depth, root);
                for way in beside.get(at).into_iter().flatten() {
                    if forest.island.get(way.to) == Some(&usize::MAX) {
                        let back = Upward {
                            branch: way.branch,
                            sign: -way.sign,
                            to: at,
                        };
                        open.push((way.to, Some(back), depth + 1));
                    }
                }
            }
        }
        forest
    }

    fn place(&mut self, at: usize, upward: Option<Upward>, depth: usize, root: usize) {
        let slots = (
            self.upward.get_mut(at),
            self.depth.get_mut(at),
            self.island.get_mut(at),
        );
        if let (Some(way), Some(deep), Some(island)) = slots {
            (*way, *deep, *island) = (upward, depth, root);
        }
    }

    /// Whether any path joins two terminals.
    pub(super) fn joined(&self, from: usize, to: usize) -> bool {
        let island = self.island.get(from);
        island.is_some() && island == self.island.get(to)
    }

    /// The way from one terminal to another along the tree, if there is any.
    pub(super) fn path(&self, from: usize, to: usize) -> Option<Vec<Run>> {
        if !self.joined(from, to) {
            return None;
        }
        let mut path = Vec::new();
        let (mut near, mut far) = (from, to);
        while near != far {
            let deeper = self.depth.get(near) >= self.depth.get(far);
            let end = if deeper { &mut near } else { &mut far };
            let way = self.upward.get(*end).copied().flatten()?;
            path.push((way.branch, if deeper { way.sign } else { -way.sign }));
            *end = way.to;
        }
        Some(path)
    }
}
