//! Which explanations no reading so far can tell apart.
//!
//! Two are one group while another set of readings at the places measured would be expected to
//! move their odds hardly at all: the divergence between what they foresee there, both ways
//! added (for two normal vectors a closed form), lies below the table's line. The sizes of one
//! fault stay together; and what the readings told of a size is learnt first, since a bad joint
//! of some size reads as another part of the wrong value does.

use std::collections::BTreeMap;

use crate::circuit::diagnosis::case::{Case, bend};
use crate::circuit::diagnosis::evidence::Seen;
use crate::circuit::diagnosis::joint::{Item, Solved};
use crate::circuit::diagnosis::likelihood::{Likelihood, standing_for};

/// Rows less likely than this are not compared with others: their group is their fault.
const NEGLIGIBLE: f64 = 1e-7;
/// Two explanations of the same readings whose log-likelihoods differ by more than this foresee
/// different ones.
const FAR_APART: f64 = 4.0;
/// An end of range so many deviations below the forecast is passed for certain.
const CERTAIN: f64 = 5.0;

/// Explanations that are one as far as the readings go.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Rows of the table, the likeliest first.
    pub rows: Vec<usize>,
    /// Their chance together.
    pub probability: f64,
}

impl Group {
    /// Its likeliest row.
    pub fn leader(&self) -> usize {
        self.rows.first().copied().unwrap_or(0)
    }

    /// Whether a sound instrument is among them.
    pub fn holds_sound(&self) -> bool {
        self.rows.contains(&0)
    }
}

/// What a row foresees at the places measured.
struct Foresight {
    /// For each place whether it is open for certain, and whether a fault that comes and goes
    /// shows there.
    pattern: Vec<(bool, bool)>,
    items: Vec<Item>,
    solved: Option<Solved>,
    log: f64,
}

/// All rows in groups, the likeliest first.
pub(super) fn groups(
    case: &Case<'_>,
    probabilities: &[f64],
    likelihoods: &[Likelihood],
) -> Vec<Group> {
    let chance = |row: usize| probabilities.get(row).copied().unwrap_or(0.0);
    let mut order: Vec<usize> = (0..probabilities.len()).collect();
    order.sort_by(|left, right| chance(*right).total_cmp(&chance(*left)));
    let mut groups: Vec<Group> = Vec::new();
    let mut leaders: Vec<(usize, Foresight)> = Vec::new();
    let mut place_of = BTreeMap::new();
    for row in order {
        let family = case.family(row);
        let mut place = place_of.get(&family).copied();
        if place.is_none() && chance(row) >= NEGLIGIBLE {
            let log = likelihoods.get(row).map_or(0.0, |found| found.log);
            let seen = Foresight::of(case, row, log);
            place = leaders
                .iter()
                .find(|(_, leader)| leader.same(&seen, case.priors.judging.same))
                .map(|(place, _)| *place);
            if place.is_none() {
                leaders.push((groups.len(), seen));
            }
        }
        let place = place.unwrap_or(groups.len());
        place_of.insert(family, place);
        if let Some(group) = groups.get_mut(place) {
            group.rows.push(row);
            group.probability += chance(row);
        } else {
            groups.push(Group {
                rows: vec![row],
                probability: chance(row),
            });
        }
    }
    groups.sort_by(|left, right| right.probability.total_cmp(&left.probability));
    groups
}

impl Foresight {
    fn of(case: &Case<'_>, row: usize, log: f64) -> Self {
        let held = case.holding(row);
        let (mut pattern, mut items) = (Vec::new(), Vec::new());
        for (measurement, observation) in case.evidence.iter() {
            let shows = case.shows(row, measurement);
            let (value, noise) = standing_for(observation, &case.meter);
            let item = Item::of(case, held, (measurement, value, noise)).filter(|item| {
                // A number far beyond the range's end reads as an open does.
                let over = matches!(observation.seen, Seen::Over { beyond: Some(_) });
                !(over && -item.residual > CERTAIN * item.variance().sqrt())
            });
            pattern.push((item.is_none(), shows));
            items.extend(item);
        }
        learn(&mut items, case.forecasts.spreads.len());
        let solved = Solved::of(&items.iter().collect::<Vec<_>>());
        Self {
            pattern,
            items,
            solved,
            log,
        }
    }

    /// Whether the readings taken, or others like them, could not tell them apart.
    fn same(&self, other: &Self, line: f64) -> bool {
        if (self.log - other.log).abs() > FAR_APART || self.pattern != other.pattern {
            return false;
        }
        if self.items == other.items {
            return true;
        }
        match (&self.solved, &other.solved) {
            (Some(left), Some(right)) => self.divergence(left, other, right) < line,
            _ => false,
        }
    }

    /// Divergence of two normal vectors, both ways added, in nats.
    fn divergence(&self, left: &Solved, other: &Self, right: &Solved) -> f64 {
        let size = self.items.len();
        let apart = nalgebra::DVector::from_iterator(
            size,
            self.items
                .iter()
                .zip(&other.items)
                .map(|(left, right)| left.residual - right.residual),
        );
        let precision = &left.precision + &right.precision;
        let shapes = (&left.precision * &right.covariance).trace()
            + (&right.precision * &left.covariance).trace();
        let dimensions: f64 = self.items.iter().map(|_| 2.0).sum();
        0.5 * (shapes - dimensions + apart.dot(&(precision * &apart)))
    }
}

/// Takes in what the readings told of the fault's own size: its forecasts move to what it
/// learnt, and what is left of its spread is what the readings leave open. The gradient beyond
/// the `common` spreads is the fault's own; the first of two sizes is learnt.
fn learn(items: &mut [Item], common: usize) {
    let own: Vec<f64> = items
        .iter()
        .map(|item| item.weighed.get(common).copied().unwrap_or(0.0))
        .collect();
    if own.iter().all(|slope| *slope == 0.0) {
        return;
    }
    for item in items.iter_mut() {
        if let Some(slot) = item.weighed.get_mut(common) {
            *slot = 0.0;
        }
    }
    let Some(solved) = Solved::of(&items.iter().collect::<Vec<_>>()) else {
        return;
    };
    let own = nalgebra::DVector::from_vec(own);
    let told = own.dot(&(&solved.precision * &own));
    // The size's own spread is one standard deviation before anything is read.
    let left = 1.0 / (1.0 + told);
    let learnt = left * own.dot(&solved.pull);
    for (item, own) in items.iter_mut().zip(own.iter()) {
        item.residual -= own * learnt;
        // A slope that was bent is straight over what is left of it.
        item.noise -= (1.0 - left) * bend(*own);
        if let Some(slot) = item.weighed.get_mut(common) {
            *slot = own * left.sqrt();
        }
    }
}
