//! How well one hypothesis explains all readings at once.
//!
//! Numbers share the parts' errors, so they are judged as one normal vector. Over-range says
//! only "more than the range" and is judged as that tail, given the numbers. Any reading may be
//! a stray one: the sum over which readings are strays is taken from none upward, dropping the
//! worst each time with every single other choice beside it; what is left out are second
//! choices of two or more strays at once.

use nalgebra::{DMatrix, DVector};

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::evidence::{Evidence, Meter, Observation, Seen};
use crate::circuit::diagnosis::joint::{Item, Solved, covariance};
use crate::circuit::diagnosis::normal::{log_above, log_between, log_density, log_sum};

/// The lowest range a meter's resistance function is likely to have, in ohms.
const LOWEST_RANGE: f64 = 200.0;
/// A stray reading is as likely in each of the decades up to this, in ohms.
const STRAY_MOST: f64 = 1e8;

/// A fault's own size lies within so many deviations of the one it is named by: the half-width
/// of a rectangle is 1.73 of them, and a size of less than nothing there is none.
const SIZED: f64 = 2.0;

/// The verdict of one hypothesis on the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Likelihood {
    /// The logarithm of the readings' density under it. Never less than what strays would give,
    /// so never minus infinity.
    pub log: f64,
    /// The measurements whose numbers it takes as its own.
    pub sound: Vec<usize>,
    /// The measurements it can take only as strays.
    pub stray: Vec<usize>,
}

/// A reading with the logarithms of its weight as the circuit's own and of its density as
/// anything else.
#[derive(Debug)]
struct Weighed {
    item: Item,
    own: f64,
    other: f64,
}

/// An over-range reading where the row has a number.
#[derive(Debug)]
struct Tail {
    item: Item,
    own: f64,
    other: f64,
}

/// How well a row explains the evidence.
pub fn likelihood(case: &Case<'_>, row: usize, evidence: &Evidence) -> Likelihood {
    let mut found = Likelihood {
        log: 0.0,
        sound: Vec::new(),
        stray: Vec::new(),
    };
    let (mut numbers, mut tails) = (Vec::new(), Vec::new());
    for (measurement, observation) in evidence.iter() {
        found.log += log_steadiness(case, row, measurement, observation);
        if observation.unsteady {
            continue;
        }
        let (own, other) = weights(case, row, measurement, observation);
        let held = case.holding(row);
        let (value, noise) = standing_for(observation, &case.meter);
        let item = Item::of(case, held, (measurement, value, noise));
        match (observation.seen, item) {
            (Seen::Ohms(_), Some(item)) => numbers.push(Weighed { item, own, other }),
            (Seen::Ohms(_), None) => found.add(f64::NEG_INFINITY, other, measurement),
            (Seen::Over { .. }, None) => found.add(own, other, measurement),
            (Seen::Over { beyond: Some(_) }, Some(item)) => {
                tails.push(Tail { item, own, other });
            }
            (Seen::Over { beyond: None }, Some(item)) => {
                let below = below_any_range(value - item.residual, &case.meter);
                found.add(own + below.ln(), other, measurement);
            }
        }
    }
    numbers_together(&numbers, case.forecasts.spreads.len(), &mut found);
    tails_given(&numbers, tails, &mut found);
    found
}

impl Likelihood {
    fn add(&mut self, own: f64, other: f64, measurement: usize) {
        self.log += log_sum([own, other]);
        if other > own {
            self.stray.push(measurement);
        }
    }
}

/// The number an observation stands for, and the meter's variance there.
pub(super) fn standing_for(observation: &Observation, meter: &Meter) -> (f64, f64) {
    let value = match observation.seen {
        Seen::Ohms(ohms) => ohms,
        Seen::Over { beyond } => beyond.unwrap_or(0.0),
    };
    (value, meter.variance(value, observation.resolution))
}

/// The chance that a resistance lies beyond a range nobody knows: each decade of ranges alike.
fn below_any_range(ohms: f64, meter: &Meter) -> f64 {
    let most = (meter.top / LOWEST_RANGE).ln();
    ((ohms.max(1.0) / LOWEST_RANGE).ln() / most).clamp(0.0, 1.0)
}

/// The logarithm of the chance of a reading moving, or not.
fn log_steadiness(
    case: &Case<'_>,
    row: usize,
    measurement: usize,
    observation: &Observation,
) -> f64 {
    let judging = &case.priors.judging;
    let moving = if case.shows(row, measurement) {
        judging.unsteady_faulty
    } else {
        judging.unsteady_sound
    };
    if observation.unsteady {
        // Seen moving again, a shaking hand is less likely each time.
        f64::from(observation.times.max(1)) * moving.ln()
    } else {
        (1.0 - moving).ln()
    }
}

/// The logarithm of a stray reading's density: over-range half the time, otherwise every decade
/// alike.
pub(super) fn log_stray(seen: Seen) -> f64 {
    match seen {
        Seen::Over { .. } => 0.5_f64.ln(),
        Seen::Ohms(ohms) => -((ohms.abs() + 1.0) * 2.0 * STRAY_MOST.ln()).ln(),
    }
}

/// The logarithms of an observation's weight as the circuit's own, and of its density as a
/// stray or with the fault that comes and goes showing.
fn weights(
    case: &Case<'_>,
    row: usize,
    measurement: usize,
    observation: &Observation,
) -> (f64, f64) {
    let judging = &case.priors.judging;
    let log_weight = f64::from(observation.times.max(1)) * judging.stray.ln();
    let stray = log_weight + log_stray(observation.seen);
    if !case.shows(row, measurement) {
        return ((-log_weight.exp()).ln_1p(), stray);
    }
    let caught = judging.caught.ln() + log_alone(case, row, measurement, observation);
    let own = (1.0 - log_weight.exp() - judging.caught).ln();
    (own, log_sum([stray, caught]))
}

/// The logarithm of the density of one observation by itself, strays apart.
fn log_alone(
    case: &Case<'_>,
    row: usize,
    measurement: usize,
    observation: &Observation,
) -> f64 {
    let (value, noise) = standing_for(observation, &case.meter);
    let item = Item::of(case, row, (measurement, value, noise));
    match (observation.seen, item) {
        (Seen::Ohms(_), Some(item)) => log_density(item.residual, 0.0, item.variance()),
        (Seen::Ohms(_), None) => f64::NEG_INFINITY,
        (Seen::Over { .. }, None) => 0.0,
        (Seen::Over { beyond: Some(_) }, Some(item)) => {
            log_above(item.residual / item.variance().sqrt())
        }
        (Seen::Over { beyond: None }, Some(item)) => {
            below_any_range(value - item.residual, &case.meter).ln()
        }
    }
}

/// Adds the numbers, summed over which of them are strays.
fn numbers_together(numbers: &[Weighed], common: usize, found: &mut Likelihood) {
    let items: Vec<&Item> = numbers.iter().map(|one| &one.item).collect();
    let all_stray: f64 = numbers.iter().map(|one| one.other).sum();
    let (mut terms, mut order) = (Vec::new(), Vec::new());
    let (mut best, mut strays) = (all_stray, numbers.len());
    if let Some(mut solved) = Solved::of(&items) {
        // What weights and strays add to the density of those kept.
        let mut beside: f64 = numbers.iter().map(|one| one.own).sum();
        while order.len() < numbers.len() {
            let term = solved.log_density() + beside;
            terms.push(term);
            if term > best {
                (best, strays) = (term, order.len());
            }
            let kept = numbers.iter().enumerate();
            let kept = kept.filter(|(index, _)| !order.contains(index));
            let mut without: Vec<(usize, f64)> = kept
                .map(|(index, one)| {
                    (index, term - solved.log_alone(index) - one.own + one.other)
                })
                .collect();
            without.sort_by(|(_, left), (_, right)| right.total_cmp(left));
            // The worst comes as the next term; the others stand beside it.
            terms.extend(without.iter().skip(1).map(|(_, term)| *term));
            let Some((worst, _)) = without.first().copied() else {
                break;
            };
            if let Some(out) = numbers.get(worst) {
                beside += out.other - out.own;
            }
            solved.drop(worst);
            order.push(worst);
        }
    }
    let stray = |index: &usize| order.iter().take(strays).any(|out| out == index);
    let mut own = Vec::new();
    for (index, one) in numbers.iter().enumerate() {
        if strays == numbers.len() || stray(&index) {
            found.stray.push(one.item.measurement);
        } else {
            found.sound.push(one.item.measurement);
            own.push(&one.item);
        }
    }
    // A size that no such fault can have explains no more than strays do.
    found.log += log_sum([log_sum(terms) + log_size(&own, common), all_stray]);
}

/// The logarithm of the chance that a fault's own size lies within [`SIZED`], given what was
/// read against before: the exact factor of a normal size cut off there. Its gradient is the
/// one beyond the `common` spreads.
fn log_size(items: &[&Item], common: usize) -> f64 {
    let slopes = items.iter().map(|item| item.weighed.get(common));
    let own =
        DVector::from_iterator(items.len(), slopes.map(|own| own.copied().unwrap_or(0.0)));
    if own.iter().all(|slope| *slope == 0.0) {
        return 0.0;
    }
    let Some(solved) = Solved::of(items) else {
        return 0.0;
    };
    let mean = own.dot(&solved.pull);
    let left = 1.0 - own.dot(&(&solved.precision * &own));
    let deviation = left.max(f64::EPSILON).sqrt();
    let within = log_between((-SIZED - mean) / deviation, (SIZED - mean) / deviation);
    within - log_between(-SIZED, SIZED)
}

/// Adds the over-range readings, each given the numbers and the over-range readings before it;
/// a normal vector cut off on one side is taken as the normal one of the same mean and
/// covariance.
fn tails_given(numbers: &[Weighed], tails: Vec<Tail>, found: &mut Likelihood) {
    if tails.is_empty() {
        return;
    }
    let sound = numbers
        .iter()
        .filter(|one| found.sound.contains(&one.item.measurement));
    let items: Vec<&Item> = sound.map(|one| &one.item).collect();
    let size = tails.len();
    let mut mean = DVector::zeros(size);
    let mut spread = DMatrix::from_fn(size, size, |row, column| {
        let pair = tails.get(row).zip(tails.get(column));
        let shared = pair.map_or(0.0, |(left, right)| {
            covariance(&left.item.weighed, &right.item.weighed)
        });
        let own = tails.get(row).filter(|_| row == column);
        shared + own.map_or(0.0, |tail| tail.item.noise)
    });
    if let Some(solved) = Solved::of(&items) {
        let cross = DMatrix::from_fn(size, items.len(), |row, column| {
            let pair = tails.get(row).zip(items.get(column));
            pair.map_or(0.0, |(tail, item)| {
                covariance(&tail.item.weighed, &item.weighed)
            })
        });
        mean += &cross * &solved.pull;
        spread -= &cross * &solved.precision * cross.transpose();
    }
    for (index, tail) in tails.into_iter().enumerate() {
        let deviation = spread
            .get((index, index))
            .map_or(1.0, |variance| variance.max(f64::MIN_POSITIVE).sqrt());
        let here = mean.get(index).copied().unwrap_or(0.0);
        // The range's end, in deviations above what is foreseen.
        let end = (tail.item.residual - here) / deviation;
        let above = log_above(end);
        found.add(tail.own + above, tail.other, tail.item.measurement);
        let hazard = (log_density(end, 0.0, 1.0) - above).exp();
        if hazard.is_finite() {
            let column = spread.column(index) / deviation;
            mean += &column * hazard;
            spread -= &column * column.transpose() * (hazard * (hazard - end));
        }
    }
}
