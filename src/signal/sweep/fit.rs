//! A monotone fit that poor contact cannot move.
//!
//! Least squares smear one spike over all that follows it. Poor contact only ever adds
//! resistance, so the fit starts from below: from the greatest rising sequence that no reading
//! stands under. Readings near it are kept, an isotonic regression goes through them, and the
//! two are repeated until the kept ones stay the same: a trimmed fit in the manner of
//! Rousseeuw, "Least Median of Squares Regression", JASA 79(388), 1984, 871-880 (from memory),
//! with trimming on one side.
//!
//! A lone reading below its neighbours on both sides is no contact fault (fingers, a bridge)
//! and may not pull the start down: it is set aside first.

use crate::signal::sweep::isotonic;

/// The fit of one stretch of rising readings.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustFit {
    /// The level at each reading, non-decreasing.
    pub fitted: Vec<f64>,
    /// Whether the reading took part.
    pub kept: Vec<bool>,
}

/// Rounds after which the kept readings are taken as they are.
const ROUNDS: usize = 12;

/// How many readings on each side a dip is measured against.
const SIDE: usize = 3;

/// How many tolerances a reading must stand below both sides to be a dip.
const DIP: f64 = 3.0;

/// Fits `values` by a non-decreasing sequence. `tolerances` says how far each may stand from it
/// and still take part; readings above `ceiling` never do.
pub fn robust_fit(values: &[f64], tolerances: &[f64], ceiling: f64) -> RobustFit {
    let tolerance = |index: usize| tolerances.get(index).copied().unwrap_or(0.0).max(0.0);
    let usable: Vec<bool> = (0..values.len())
        .map(|index| {
            let sane = values
                .get(index)
                .is_some_and(|value| value.is_finite() && *value <= ceiling);
            sane && !is_dip(values, index, DIP * tolerance(index))
        })
        .collect();
    let mut level = envelope(values, &usable);
    let mut kept = Vec::new();
    for _round in 0..ROUNDS {
        let keeps: Vec<bool> = values
            .iter()
            .zip(&usable)
            .zip(&level)
            .enumerate()
            .map(|(index, ((value, usable), level))| {
                *usable && (value - level).abs() <= tolerance(index)
            })
            .collect();
        let weights: Vec<f64> = keeps
            .iter()
            .map(|kept| f64::from(u8::from(*kept)))
            .collect();
        if keeps == kept || !keeps.contains(&true) {
            break;
        }
        level = bridge(&isotonic(values, &weights), &keeps);
        kept = keeps;
    }
    kept.resize(values.len(), false);
    RobustFit {
        fitted: level,
        kept,
    }
}

/// The largest non-decreasing sequence that no usable value stands under.
fn envelope(values: &[f64], usable: &[bool]) -> Vec<f64> {
    let mut least = f64::INFINITY;
    let mut level: Vec<f64> = values
        .iter()
        .zip(usable)
        .rev()
        .map(|(value, usable)| {
            if *usable {
                least = least.min(*value);
            }
            least
        })
        .collect();
    level.reverse();
    // What comes after the last usable one has nothing to hold it but what was before.
    let last = level.iter().rev().find(|value| value.is_finite()).copied();
    for value in &mut level {
        if !value.is_finite() {
            *value = last.unwrap_or(0.0);
        }
    }
    level
}

/// Between kept readings the level runs straight.
fn bridge(fitted: &[f64], kept: &[bool]) -> Vec<f64> {
    let mut level = fitted.to_vec();
    let places: Vec<usize> = (0..kept.len())
        .filter(|index| kept.get(*index) == Some(&true))
        .collect();
    for pair in places.windows(2) {
        let &[from, to] = pair else { continue };
        let (Some(low), Some(high)) = (fitted.get(from), fitted.get(to)) else {
            continue;
        };
        let (low, rise) = (*low, high - low);
        for (step, value) in level.iter_mut().take(to).skip(from).enumerate().skip(1) {
            *value = low + rise * ratio(step, to - from);
        }
    }
    level
}

/// Whether a reading stands below the least of its neighbours on both sides by more than
/// `depth`.
fn is_dip(values: &[f64], index: usize, depth: f64) -> bool {
    let Some(value) = values.get(index) else {
        return false;
    };
    let before = values.iter().take(index).rev().take(SIDE);
    let after = values.iter().skip(index + 1).take(SIDE);
    let least = |side: &mut dyn Iterator<Item = &f64>| {
        side.copied()
            .filter(|neighbour| neighbour.is_finite())
            .reduce(f64::min)
    };
    let (Some(before), Some(after)) = (least(&mut { before }), least(&mut { after })) else {
        return false;
    };
    depth > 0.0 && before.min(after) - value > depth
}

/// One small count over another.
pub(super) fn ratio(part: usize, of: usize) -> f64 {
    let whole = |count: usize| f64::from(u32::try_from(count).unwrap_or(u32::MAX));
    whole(part) / whole(of.max(1))
}
