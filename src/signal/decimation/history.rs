//! The trace of a whole session in a fixed amount of memory.

use std::collections::VecDeque;

use crate::reading::Stamp;
use crate::signal::decimation::{Canvas, Column, Point, Sample};

/// Several readings in a row, folded into one.
#[derive(Debug, Clone, Copy)]
struct Bucket {
    first: Stamp,
    last: Stamp,
    readings: u64,
    shown: Column,
}

impl Bucket {
    fn merge(&mut self, later: &Self) {
        self.last = later.last;
        self.readings = self.readings.saturating_add(later.readings);
        self.shown.merge(&later.shown);
    }
}

impl From<Point> for Bucket {
    fn from(point: Point) -> Self {
        Self {
            first: point.at,
            last: point.at,
            readings: 1,
            shown: point.sample.into(),
        }
    }
}

/// The latest readings in full, and all older ones folded: in pairs at first, and every time
/// the room for them is full, neighbours are joined and the folds to come are twice as wide.
/// Extremes, over-range and blanks survive every fold.
#[derive(Debug, Clone)]
pub struct TraceHistory {
    recent: VecDeque<Point>,
    older: VecDeque<Bucket>,
    /// Readings to a fold.
    fold: u64,
    /// The most readings kept in full, and the most folds.
    room: usize,
}

impl Default for TraceHistory {
    fn default() -> Self {
        Self::with_room(Self::ROOM)
    }
}

impl TraceHistory {
    /// How many readings are kept in full by default: 33 minutes at ten a second.
    pub const ROOM: usize = 20_000;

    /// A history that keeps `room` readings in full and as many folds, two of each at least.
    pub fn with_room(room: usize) -> Self {
        Self {
            recent: VecDeque::new(),
            older: VecDeque::new(),
            fold: 2,
            room: room.max(2),
        }
    }

    /// Takes in the next reading. A stamp earlier than the last counts as the last.
    pub fn push(&mut self, at: Stamp, sample: Sample) {
        let at = self.last().map_or(at, |last| at.max(last));
        if self.recent.len() >= self.room
            && let Some(oldest) = self.recent.pop_front()
        {
            self.fold_away(oldest.into());
        }
        self.recent.push_back(Point { at, sample });
    }

    fn fold_away(&mut self, oldest: Bucket) {
        if let Some(last) = self.older.back_mut()
            && last.readings < self.fold
        {
            last.merge(&oldest);
            return;
        }
        if self.older.len() >= self.room {
            self.halve();
        }
        self.older.push_back(oldest);
    }

    /// Joins neighbours two by two.
    fn halve(&mut self) {
        self.fold = self.fold.saturating_mul(2);
        let mut joined = VecDeque::with_capacity(self.room);
        let mut folds = self.older.drain(..);
        while let Some(mut fold) = folds.next() {
            if let Some(later) = folds.next() {
                fold.merge(&later);
            }
            joined.push_back(fold);
        }
        drop(folds);
        self.older = joined;
    }

    /// When the first reading came.
    pub fn first(&self) -> Option<Stamp> {
        let oldest = self.older.front().map(|fold| fold.first);
        oldest.or_else(|| self.recent.front().map(|point| point.at))
    }

    /// When the latest reading came.
    pub fn last(&self) -> Option<Stamp> {
        self.recent.back().map(|point| point.at)
    }

    /// How many readings were taken in.
    pub fn readings(&self) -> u64 {
        let recent = u64::try_from(self.recent.len()).unwrap_or(u64::MAX);
        let folded = self.older.iter().map(|fold| fold.readings);
        folded.fold(recent, u64::saturating_add)
    }

    /// How many readings and folds are kept: at most twice the room, however long the stream.
    pub fn kept(&self) -> usize {
        self.recent.len().saturating_add(self.older.len())
    }

    /// The trace from `from` to `to`, both included, in `count` columns of equal width in
    /// time, oldest first.
    ///
    /// A fold that reaches over several columns is drawn on each: when exactly its spike came
    /// is forgotten, that it came is not.
    pub fn columns(&self, from: Stamp, to: Stamp, count: usize) -> Vec<Column> {
        let mut canvas = Canvas::new(from, to, count);
        let start = self.older.partition_point(|fold| fold.last < from);
        let folds = self.older.range(start..);
        for fold in folds.take_while(|fold| fold.first <= to) {
            canvas.draw(fold.first, fold.last, &fold.shown);
        }
        let start = self.recent.partition_point(|point| point.at < from);
        let points = self.recent.range(start..);
        for point in points.take_while(|point| point.at <= to) {
            canvas.draw(point.at, point.at, &point.sample.into());
        }
        canvas.columns
    }
}
