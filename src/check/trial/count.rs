//! From breaks and long openings to counts: which of the gaps showed.

use crate::check::meter::MeterView;
use crate::check::trial::{TrialOptions, words};
use crate::reading::{Seconds, Stamp};
use crate::signal::Gap;
use crate::signal::trial::Batch;
use crate::signal::trial::phases::are_spread;

/// What was seen while the board worked.
#[derive(Debug, Default)]
pub(super) struct Record {
    /// When each long opening was first seen.
    pub(super) openings: Vec<Stamp>,
    /// The breaks between them.
    pub(super) breaks: Vec<Gap>,
    /// Every reading's arrival.
    readings: Vec<Stamp>,
    /// Stretches in which a gap could not have been seen for reasons that are not the meter's.
    spoilt: Vec<(Stamp, Stamp)>,
    /// Since when such a stretch goes on.
    hole: Option<Stamp>,
}

/// The board's clock may differ from ours by this share.
const CLOCK: f64 = 0.03;

impl Record {
    /// A reading came.
    pub(super) fn reading(&mut self, at: Stamp) {
        if let Some(from) = self.hole.take() {
            self.spoil(from, at);
        }
        self.readings.push(at);
    }

    /// Nothing can be told of this stretch.
    pub(super) fn spoil(&mut self, from: Stamp, to: Stamp) {
        self.spoilt.push((from, to));
    }

    /// A frame was lost since the last reading.
    pub(super) fn missed(&mut self) {
        let last = self.readings.last().copied().unwrap_or_default();
        self.hole.get_or_insert(last);
    }

    /// Readings cannot be judged from now on.
    pub(super) fn suspend(&mut self, now: Stamp) {
        self.hole.get_or_insert(now);
    }

    /// They can again.
    pub(super) fn resume(&mut self, now: Stamp) {
        if let Some(from) = self.hole.take() {
            self.spoil(from, now);
        }
    }

    /// Mean time between readings, from the first long opening to the last.
    pub(super) fn mean_interval(&self) -> Seconds {
        let (Some(first), Some(last)) = (self.openings.first(), self.openings.last()) else {
            return Seconds(0.0);
        };
        let mut within = self
            .readings
            .iter()
            .filter(|at| *at >= first && *at <= last);
        let Some(begin) = within.next() else {
            return Seconds(0.0);
        };
        let (count, end) = within.fold((0_u32, begin), |(count, _), at| {
            (count.saturating_add(1), at)
        });
        if count == 0 {
            return Seconds(0.0);
        }
        Seconds(end.since(*begin).0 / f64::from(count))
    }

    /// Counts the gaps of the length whose last gap was just made.
    pub(super) fn count(
        &self,
        options: &TrialOptions,
        length: Seconds,
        interval: Seconds,
    ) -> Result<Batch, String> {
        let [.., opened, next] = self.openings.as_slice() else {
            return Err(words::stopped(options));
        };
        let took = next.since(*opened);
        let slack = CLOCK * options.cycle().0 + 2.0 * interval.0;
        if (took.0 - options.cycle().0).abs() > slack {
            return Err(words::out_of_time(options, took));
        }
        let scale = took.0 / options.cycle().0;
        let starts = starts(options, *opened, scale);
        let mut seen = vec![false; starts.len()];
        for gap in self.breaks.iter().filter(|gap| gap.from > *opened) {
            let begun = gap.from.seconds();
            let late = |start: &f64| begun - start - length.0 / 2.0;
            let near = starts
                .iter()
                .zip(&mut seen)
                .find(|(start, _)| late(start).abs() <= length.0 / 2.0 + 2.5 * interval.0);
            let Some((start, seen)) = near else {
                return Err(words::stray(gap.from));
            };
            *seen = true;
            let back = gap.after.seconds() - start;
            if back > options.every.0 - interval.0 {
                return Err(words::slow_return(options, Seconds(back), interval));
            }
        }
        let whole = |start: f64| {
            let (from, to) = (start - interval.0, start + length.0 + 3.0 * interval.0);
            let apart =
                |hole: &(Stamp, Stamp)| hole.1.seconds() < from || hole.0.seconds() > to;
            self.spoilt.iter().all(apart)
        };
        let mut batch = Batch {
            length,
            made: 0,
            seen: 0,
        };
        for (start, seen) in starts.into_iter().zip(seen) {
            if whole(start) {
                batch.made = batch.made.saturating_add(1);
                batch.seen = batch.seen.saturating_add(u32::from(seen));
            }
        }
        if batch.made.saturating_mul(2) < options.gaps {
            return Err(words::full_of_holes(length, batch.made, options.gaps));
        }
        Ok(batch)
    }

    /// Whether the gaps of every length met the meter at all moments of its cycle, by the
    /// board's clock as it says it is and as it was measured.
    pub(super) fn check_phases(
        &self,
        options: &TrialOptions,
        meter: &MeterView,
    ) -> Result<(), String> {
        let interval = meter.pacing_interval();
        if meter
            .arrival
            .is_some_and(|arrival| arrival.0 > 1.5 * interval.0)
        {
            return Err(words::BURSTS.to_owned());
        }
        let (Some(first), Some(last)) = (self.openings.first(), self.openings.last()) else {
            return Err(words::stopped(options));
        };
        let cycles = u32::try_from(options.lengths.len()).unwrap_or(u32::MAX);
        let measured = last.since(*first).0 / (f64::from(cycles) * options.cycle().0);
        for opened in self.openings.iter().take(options.lengths.len()) {
            for scale in [1.0, measured] {
                let phases = self.phases(&starts(options, *opened, scale));
                if !are_spread(&phases) {
                    return Err(words::in_step(options, self.mean_interval()));
                }
            }
        }
        Ok(())
    }

    /// Where between two readings each moment lies, from 0 to 1.
    fn phases(&self, moments: &[f64]) -> Vec<f64> {
        let mut phases = Vec::new();
        for moment in moments {
            let after = self.readings.partition_point(|at| at.seconds() <= *moment);
            let before = after
                .checked_sub(1)
                .and_then(|index| self.readings.get(index));
            if let Some((before, after)) = before.zip(self.readings.get(after)) {
                let span = after.since(*before).0;
                phases.push((moment - before.seconds()) / span);
            }
        }
        phases
    }
}

/// When each gap began, counted from when its long opening was seen.
fn starts(options: &TrialOptions, opened: Stamp, scale: f64) -> Vec<f64> {
    (1..=options.gaps)
        .map(|gap| {
            let after = options.long_opening().0 + f64::from(gap) * options.every.0;
            opened.seconds() + scale * after
        })
        .collect()
}
