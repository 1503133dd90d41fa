//! The time between readings, measured on the stream and never assumed.
//!
//! Readings reach the house in chunks, and those of one chunk share its stamp.
//! Taken as they come, a chunk of k readings every kT would count k - 1 intervals of nothing
//! for each one of kT, and a high percentile of that may well be zero: the meter would seem to
//! see everything. A meter takes its readings one after another, so the time since the chunk
//! before is shared out evenly among the readings of a chunk.

use std::num::NonZeroU64;

use hdrhistogram::Histogram;

use crate::reading::{Seconds, Stamp};

/// The longest interval told apart from longer ones: an hour, in microseconds.
const CEILING: u64 = 3_600_000_000;

/// Intervals below which no percentile is worth its name.
const LEAST_INTERVALS: u64 = 3;

/// The readings that arrived at one stamp.
#[derive(Debug, Clone, Copy)]
struct Chunk {
    at: Stamp,
    /// Microseconds since the chunk before; `None` for the first after a start.
    gap: Option<u64>,
    readings: NonZeroU64,
}

impl Chunk {
    /// The interval each of its readings stands for, in microseconds, and their number.
    /// Rounded up: a longer interval promises less.
    fn intervals(self) -> Option<(u64, u64)> {
        let share = self.gap?.div_ceil(self.readings.get());
        Some((share.clamp(1, CEILING), self.readings.get()))
    }
}

/// Gathers the times between readings: a histogram of microseconds, three significant
/// figures, one microsecond to one hour, in constant memory.
///
/// A percentile walks the whole histogram (tens of microseconds): ask once a tick, not once a
/// reading.
#[derive(Debug, Clone)]
pub struct IntervalMeter {
    closed: Histogram<u64>,
    /// The latest chunk, which may still grow.
    open: Option<Chunk>,
    longest: Option<u64>,
}

impl Default for IntervalMeter {
    fn default() -> Self {
        Self {
            closed: histogram(),
            open: None,
            longest: None,
        }
    }
}

#[expect(
    clippy::expect_used,
    reason = "the bounds are constants the library takes; every use would fail at once if not"
)]
fn histogram() -> Histogram<u64> {
    Histogram::new_with_bounds(1, CEILING, 3).expect("one microsecond to one hour is a range")
}

impl IntervalMeter {
    /// Takes note of a reading. A stamp earlier than the last counts as the last.
    pub fn record(&mut self, at: Stamp) {
        let gap = match &mut self.open {
            Some(chunk) if at <= chunk.at => {
                chunk.readings = chunk.readings.saturating_add(1);
                return;
            }
            Some(chunk) => Some(at.micros().saturating_sub(chunk.at.micros())),
            None => None,
        };
        self.close();
        self.longest = self.longest.max(gap);
        self.open = Some(Chunk {
            at,
            gap,
            readings: NonZeroU64::MIN,
        });
    }

    /// Begins anew after the stream was lost: the next reading ends no interval. What was
    /// measured before stays.
    pub fn restart(&mut self) {
        self.close();
        self.open = None;
    }

    /// How many intervals were measured.
    pub fn count(&self) -> u64 {
        let open = self.growing().map_or(0, |(_value, count)| count);
        self.closed.len().saturating_add(open)
    }

    /// The interval to reckon with: the 95th percentile. `None` below three intervals.
    ///
    /// A high percentile and not the mean, since a break falls into long intervals more often
    /// than into short ones; not the longest, since one hiccup is not the meter's rate.
    pub fn high(&self) -> Option<Seconds> {
        self.percentile(95)
    }

    /// The median interval. `None` below three intervals.
    pub fn median(&self) -> Option<Seconds> {
        self.percentile(50)
    }

    /// The 99th percentile. `None` below three intervals.
    pub fn p99(&self) -> Option<Seconds> {
        self.percentile(99)
    }

    /// The longest time in which nothing arrived, exactly and not shared out among a chunk.
    pub fn longest(&self) -> Option<Seconds> {
        self.longest.map(seconds)
    }

    /// The smallest interval that at least this percentage of all intervals do not exceed.
    fn percentile(&self, percent: u64) -> Option<Seconds> {
        let count = self.count();
        if count < LEAST_INTERVALS {
            return None;
        }
        let rank = count.saturating_mul(percent).div_ceil(100);
        let mut growing = self.growing();
        let mut passed = 0_u64;
        for step in self.closed.iter_recorded() {
            let value = step.value_iterated_to();
            if let Some((open, readings)) = growing.filter(|(open, _readings)| *open <= value) {
                growing = None;
                passed = passed.saturating_add(readings);
                if passed >= rank {
                    return Some(seconds(open));
                }
            }
            passed = passed.saturating_add(step.count_since_last_iteration());
            if passed >= rank {
                return Some(seconds(value));
            }
        }
        growing.map(|(open, _readings)| seconds(open))
    }

    /// The intervals of the chunk that may still grow.
    fn growing(&self) -> Option<(u64, u64)> {
        self.open.and_then(Chunk::intervals)
    }

    fn close(&mut self) {
        if let Some((value, count)) = self.growing() {
            self.closed.saturating_record_n(value, count);
        }
    }
}

fn seconds(micros: u64) -> Seconds {
    Stamp::from_micros(micros).into()
}
