//! What a meter trial tells: gaps of known length were made, some of them showed.
//!
//! The chance that a gap of length d shows is that of [`BlindSpot`]: none below f a, else
//! (d + a(1 - 2f)) / T. What the counts settle is not a and f themselves but the two figures
//! the chance is made of: the *shortest visible* gap u = f a, and the *reach* w = a(1 - 2f), by
//! which the window of a gap is longer than the gap. The likelihood of the counts is a product
//! of binomials. Between two of the lengths tried it does not depend on u at all, and along w
//! it is concave, so its maximum and its confidence region are found without a grid: the region
//! is a union of polygons, and the interval of any of the four figures lies between corners.
//!
//! The region holds all (u, w) whose log-likelihood is less than half the 95 % point of
//! chi-square with one degree of freedom below the highest, so each interval is the one of the
//! profile likelihood (Cox and Oakes, "Analysis of Survival Data", 1984, section 3.4, from
//! memory). It is asymptotic, and a cutoff is not a regular parameter: its coverage is tested by
//! simulation.
//!
//! [`BlindSpot`]: crate::signal::BlindSpot

pub mod binomial;
pub mod phases;
mod region;

use crate::reading::Seconds;
use region::{Cell, Point};

/// Gaps of one length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Batch {
    /// How long each was open.
    pub length: Seconds,
    /// How many were made.
    pub made: u32,
    /// How many of them showed.
    pub seen: u32,
}

/// A figure with its interval of 95 % confidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The most likely value; where a whole stretch is equally likely, its middle.
    pub best: f64,
    /// The least it may be.
    pub low: f64,
    /// The most it may be.
    pub high: f64,
}

/// What the counts tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// How long one reading averages, a, in seconds.
    pub aperture: Estimate,
    /// The share of it that a gap must fill to show, f.
    pub fraction: Estimate,
    /// The shortest gap that can show, f a, in seconds.
    pub shortest: Estimate,
    /// By how much the window in which a gap shows is longer than the gap, a(1 - 2f), in
    /// seconds.
    pub reach: Estimate,
    /// The cautious end of both: the longest shortest gap with the smallest reach, as an
    /// aperture and a fraction. No chance computed from it is above the true one, with the
    /// confidence of the intervals.
    pub cautious: (Seconds, f64),
    /// Whether the shortest length tried showed: then the shortest visible gap is only known to
    /// be no longer than that.
    pub shortest_showed: bool,
    /// Whether no length showed some of the time only: then the reach is only bounded.
    pub none_in_between: bool,
}

/// Why counts tell nothing.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoFit {
    /// No gap was made, or no interval is known.
    #[error("no gaps were counted")]
    NothingMade,
    /// No gap showed.
    #[error(
        "no gap of up to {longest} ever showed: try longer ones; until then only a gap that \
         fills a whole averaging time is counted on"
    )]
    NoneSeen {
        /// The longest length tried.
        longest: Seconds,
    },
    /// The counts do not follow the rule that the chance grows with the length.
    #[error(
        "{seen} of {made} gaps of {length} showed, where the other lengths let {expected:.0} be \
         expected: no meter that averages each reading afresh does that; look for a bouncing \
         contact, a filtered display, a changing range, or a wrong length"
    )]
    Contradicts {
        /// The length that does not fit in.
        length: Seconds,
        /// How many were made.
        made: u32,
        /// How many showed.
        seen: u32,
        /// How many should have.
        expected: f64,
    },
}

/// Half the 95 % point of chi-square with one degree of freedom, 3.841.
const DROP: f64 = 1.920_73;

/// Counts rarer than this under the fit, among all batches, are not chance.
const IMPOSSIBLE: f64 = 0.001;

/// Finds aperture and fraction from gaps of known length, made at moments that have nothing to
/// do with the meter's, at this mean time between readings.
pub fn fit(batches: &[Batch], interval: Seconds) -> Result<Fit, NoFit> {
    let mut sorted: Vec<Batch> = batches.iter().filter(|b| b.made > 0).copied().collect();
    sorted.sort_by(|a, b| a.length.0.total_cmp(&b.length.0));
    let longest = sorted.last().ok_or(NoFit::NothingMade)?.length;
    if interval.0 <= 0.0 {
        return Err(NoFit::NothingMade);
    }
    if sorted.iter().all(|batch| batch.seen == 0) {
        return Err(NoFit::NoneSeen { longest });
    }
    let cells = Cell::all(&sorted, interval.0);
    let best = cells
        .iter()
        .max_by(|one, other| one.top.total_cmp(&other.top))
        .ok_or(NoFit::NothingMade)?;
    contradicts(&sorted, best, interval)?;
    let region: Vec<Point> = cells
        .iter()
        .flat_map(|cell| cell.corners_above(best.top - DROP))
        .collect();
    let middle = best.middle();
    let over = |figure: fn(&Point) -> f64| Estimate {
        best: figure(&middle),
        low: region.iter().map(figure).fold(f64::INFINITY, f64::min),
        high: region.iter().map(figure).fold(f64::NEG_INFINITY, f64::max),
    };
    let shortest = over(|point| point.shortest);
    let reach = over(|point| point.reach);
    let cautious = Point {
        shortest: shortest.high,
        reach: reach.low.max(-shortest.high),
    };
    Ok(Fit {
        aperture: over(Point::aperture),
        fraction: over(Point::fraction),
        shortest,
        reach,
        cautious: (Seconds(cautious.aperture()), cautious.fraction()),
        shortest_showed: sorted.first().is_some_and(|batch| batch.seen > 0),
        none_in_between: sorted.iter().all(|b| b.seen == 0 || b.seen == b.made),
    })
}

/// Whether one of the batches cannot be what the fit says.
fn contradicts(batches: &[Batch], best: &Cell<'_>, interval: Seconds) -> Result<(), NoFit> {
    for batch in batches {
        let chance = best.chance(batch.length.0, interval.0);
        let low = binomial::at_most(batch.seen, batch.made, chance);
        let high = binomial::at_least(batch.seen, batch.made, chance);
        let lengths = f64::from(u32::try_from(batches.len()).unwrap_or(u32::MAX));
        if 2.0 * low.min(high) < IMPOSSIBLE / lengths {
            return Err(NoFit::Contradicts {
                length: batch.length,
                made: batch.made,
                seen: batch.seen,
                expected: chance * f64::from(batch.made),
            });
        }
    }
    Ok(())
}
