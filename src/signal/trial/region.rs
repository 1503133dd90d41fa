//! The confidence region of shortest visible gap and reach.
//!
//! Between two neighbouring lengths tried the likelihood does not depend on the shortest visible
//! gap: one [`Cell`] each. Within it the likelihood is a concave function of the reach alone.

use crate::signal::trial::{Batch, binomial};

/// A shortest visible gap u = f a and a reach w = a(1 - 2f), in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) shortest: f64,
    pub(super) reach: f64,
}

impl Point {
    /// a = w + 2u.
    pub(super) fn aperture(&self) -> f64 {
        self.reach + 2.0 * self.shortest
    }

    /// f = u / a; a meter that averages over no time at all needs no share of it.
    pub(super) fn fraction(&self) -> f64 {
        let aperture = self.aperture();
        if aperture > 0.0 {
            (self.shortest / aperture).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// A stretch of shortest visible gaps between two lengths tried.
#[derive(Debug, Clone)]
pub(super) struct Cell<'a> {
    /// The batches that can show at all.
    visible: &'a [Batch],
    interval: f64,
    /// The stretch of shortest visible gaps.
    shortest: (f64, f64),
    /// The reaches at which the counts are possible.
    reach: (f64, f64),
    /// The most likely reach.
    best: f64,
    /// The highest log-likelihood.
    pub(super) top: f64,
}

/// Halvings that bring any stretch below what a double tells apart.
const HALVINGS: u32 = 100;

impl<'a> Cell<'a> {
    /// Every cell in which the counts are possible; the batches by rising length.
    pub(super) fn all(batches: &'a [Batch], interval: f64) -> Vec<Self> {
        let mut cells = Vec::new();
        let mut from = 0.0_f64;
        let mut visible = batches;
        while let Some((first, rest)) = visible.split_first() {
            let to = first.length.0.min(interval);
            if from < to {
                cells.extend(Self::new(visible, interval, (from, to)));
            }
            if first.seen > 0 {
                break;
            }
            from = first.length.0;
            visible = rest;
        }
        cells
    }

    fn new(visible: &'a [Batch], interval: f64, shortest: (f64, f64)) -> Option<Self> {
        // The fraction is at most 1, the aperture at most the interval.
        let mut low = -shortest.1;
        let mut high = interval - 2.0 * shortest.0;
        for batch in visible {
            if batch.seen > 0 {
                low = low.max(-batch.length.0);
            }
            if batch.seen < batch.made {
                high = high.min(interval - batch.length.0);
            }
        }
        if high < low {
            return None;
        }
        let mut cell = Self {
            visible,
            interval,
            shortest,
            reach: (low, high),
            best: low,
            top: f64::NEG_INFINITY,
        };
        let (mut from, mut to) = (low, high);
        for _ in 0..HALVINGS {
            let third = (to - from) / 3.0;
            if cell.at(from + third) < cell.at(to - third) {
                from += third;
            } else {
                to -= third;
            }
        }
        cell.best = f64::midpoint(from, to);
        cell.top = cell.at(cell.best);
        cell.top.is_finite().then_some(cell)
    }

    /// The log-likelihood of a reach.
    fn at(&self, reach: f64) -> f64 {
        self.visible
            .iter()
            .map(|batch| {
                let chance = ((batch.length.0 + reach) / self.interval).clamp(0.0, 1.0);
                binomial::log_likelihood(batch.seen, batch.made, chance)
            })
            .sum()
    }

    /// The chance that a gap of this length shows, at the most likely reach.
    pub(super) fn chance(&self, length: f64, interval: f64) -> f64 {
        let shows = self.visible.iter().any(|batch| batch.length.0 <= length);
        if shows {
            ((length + self.best) / interval).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }

    /// The middle of the most likely points.
    pub(super) fn middle(&self) -> Point {
        let low = self.shortest.0.max(-self.best);
        let high = self.shortest.1.min((self.interval - self.best) / 2.0);
        Point {
            shortest: f64::midpoint(low, high),
            reach: self.best,
        }
    }

    /// The corners of the part of the cell that is at least so likely.
    pub(super) fn corners_above(&self, level: f64) -> Vec<Point> {
        if self.top < level {
            return Vec::new();
        }
        let reaches = (
            self.edge(level, self.reach.0),
            self.edge(level, self.reach.1),
        );
        let interval = self.interval;
        let (low, high) = self.shortest;
        let mut corners = Vec::new();
        let mut corner = |shortest, reach| corners.push(Point { shortest, reach });
        // The lines f = 1 and a = T meet there.
        corner(interval, -interval);
        for reach in [reaches.0, reaches.1] {
            corner(low, reach);
            corner(high, reach);
            corner(-reach, reach);
            corner((interval - reach) / 2.0, reach);
        }
        for shortest in [low, high] {
            corner(shortest, -shortest);
            corner(shortest, interval - 2.0 * shortest);
        }
        let slack = 1e-9 * interval;
        corners.retain(|point| {
            let within =
                |value: f64, from: f64, to: f64| value >= from - slack && value <= to + slack;
            within(point.shortest, low, high)
                && within(point.reach, reaches.0, reaches.1)
                && point.shortest + point.reach >= -slack
                && point.aperture() <= interval + slack
        });
        corners
    }

    /// Where the likelihood falls below a level on the way from the best reach to an end.
    fn edge(&self, level: f64, end: f64) -> f64 {
        if self.at(end) >= level {
            return end;
        }
        let (mut inside, mut outside) = (self.best, end);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(inside, outside);
            if self.at(middle) >= level {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        inside
    }
}
