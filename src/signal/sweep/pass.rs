//! One turn of the control from one end towards the other.

use crate::reading::{Ohms, Seconds, Stamp};
use crate::signal::sweep::{BinState, Event, Zone};

/// Which way the wiper went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Direction {
    /// From the low end towards the high end.
    Up,
    /// From the high end towards the low end.
    Down,
}

impl Direction {
    /// In the words of the bench.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Down => "down",
        }
    }
}

/// A quantity in parts of the total, and where on the track it was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// In parts of the total.
    pub part: f64,
    /// Where, 0 to 1.
    pub position: f64,
    /// When.
    pub at: Stamp,
}

/// One pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// Which way.
    pub direction: Direction,
    /// The last reading of the rest before it.
    pub from: Stamp,
    /// The first reading of the rest after it.
    pub to: Stamp,
    /// The stretch of the track it went over.
    pub zone: Zone,
    /// What was read where it began.
    pub start: Ohms,
    /// What was read where it ended.
    pub end: Ohms,
    /// How many readings it has.
    pub readings: u32,
    /// What was read in each bin, from the low end.
    pub bins: Vec<BinState>,
    /// The largest track residual off the ends.
    pub residual: Option<Residual>,
    /// The largest step between two readings that followed one another.
    pub widest_step: Option<Residual>,
    /// Stretches passed while the meter changed its range, and told nothing.
    pub hidden: Vec<Zone>,
    /// What happened in it.
    pub events: Vec<Event>,
}

impl Pass {
    /// How long it took.
    pub fn duration(&self) -> Seconds {
        self.to.since(self.from)
    }

    /// The part of the bins with at least one reading.
    pub fn coverage(&self) -> f64 {
        let read = self.bins.iter().filter(|bin| bin.readings > 0).count();
        part(read, self.bins.len())
    }

    /// The smallest zone it could have shown if the hand was steady: one whole reading must lie
    /// within the zone, and a reading takes about the time to the next, so twice the mean step.
    /// In parts of the track; `None` without two readings.
    pub fn smallest_zone(&self) -> Option<f64> {
        (self.readings >= 2)
            .then(|| (2.0 * self.zone.width() / f64::from(self.readings - 1)).min(1.0))
    }

    /// The smallest zone it would have shown wherever it lay: twice the widest step.
    pub fn sure_zone(&self) -> Option<f64> {
        self.widest_step.map(|step| (2.0 * step.part).min(1.0))
    }

    /// What it could not have shown, in one sentence.
    pub fn blind_sentence(&self) -> String {
        match (self.smallest_zone(), self.sure_zone()) {
            (Some(mean), Some(sure)) => format!(
                "{} readings in {}: zones below {:.1} % of the track may have been missed, and \
                 where it went fastest zones below {:.1} %",
                self.readings,
                self.duration(),
                100.0 * mean,
                100.0 * sure
            ),
            _ => "too few readings to show any zone".to_owned(),
        }
    }
}

/// A count as a part of another; nothing of nothing is nothing.
pub(super) fn part(count: usize, of: usize) -> f64 {
    let whole = |count: usize| f64::from(u32::try_from(count).unwrap_or(u32::MAX));
    if of == 0 {
        0.0
    } else {
        whole(count) / whole(of)
    }
}
