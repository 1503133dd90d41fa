//! The trace, thinned for drawing without losing what matters.
//!
//! Every column keeps the lowest and the highest reading and whether one was over-range or
//! blank, so a spike of a single reading shows at every zoom.

use crate::reading::{Measured, Stamp};

mod history;

pub use history::TraceHistory;

/// One reading as the trace draws it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sample {
    /// A resistance in ohms.
    Ohms(f64),
    /// Beyond the selected range.
    Over,
    /// No resistance: a blank display, or another function of the meter.
    Blank,
}

impl From<&Measured> for Sample {
    fn from(measured: &Measured) -> Self {
        use crate::reading::Magnitude;
        match (measured.magnitude, measured.ohms()) {
            (Magnitude::Number(_), Some(ohms)) => Self::Ohms(ohms.0),
            (Magnitude::Over { .. }, _) if measured.quantity.is_resistance() => Self::Over,
            _ => Self::Blank,
        }
    }
}

/// One reading and the time of its arrival.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// When.
    pub at: Stamp,
    /// What.
    pub sample: Sample,
}

/// What one column of the trace shows.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Column {
    /// The lowest number in ohms.
    pub min: Option<f64>,
    /// The highest number in ohms.
    pub max: Option<f64>,
    /// A reading was beyond the range.
    pub over: bool,
    /// A reading had no value.
    pub blank: bool,
}

impl Column {
    /// Whether no reading fell into it.
    pub const fn is_empty(&self) -> bool {
        self.min.is_none() && !self.over && !self.blank
    }

    fn merge(&mut self, other: &Self) {
        let either = |a: Option<f64>, b: Option<f64>, pick: fn(f64, f64) -> f64| match (a, b) {
            (Some(a), Some(b)) => Some(pick(a, b)),
            (a, b) => a.or(b),
        };
        self.min = either(self.min, other.min, f64::min);
        self.max = either(self.max, other.max, f64::max);
        self.over |= other.over;
        self.blank |= other.blank;
    }
}

impl From<Sample> for Column {
    fn from(sample: Sample) -> Self {
        match sample {
            Sample::Ohms(ohms) if ohms.is_finite() => Self {
                min: Some(ohms),
                max: Some(ohms),
                ..Self::default()
            },
            Sample::Over | Sample::Ohms(f64::INFINITY) => Self {
                over: true,
                ..Self::default()
            },
            Sample::Blank | Sample::Ohms(_) => Self {
                blank: true,
                ..Self::default()
            },
        }
    }
}

/// The window of time that is drawn, cut into columns of equal width.
#[derive(Debug)]
struct Canvas {
    from: Stamp,
    to: Stamp,
    columns: Vec<Column>,
}

impl Canvas {
    fn new(from: Stamp, to: Stamp, columns: usize) -> Self {
        Self {
            from,
            to,
            columns: vec![Column::default(); columns],
        }
    }

    /// Draws what happened somewhere from `first` to `last`, on every column it may belong to.
    fn draw(&mut self, first: Stamp, last: Stamp, shown: &Column) {
        if last < self.from || first > self.to {
            return;
        }
        let start = self.column_of(first.max(self.from));
        let end = self.column_of(last.min(self.to));
        for column in self.columns.get_mut(start..=end).unwrap_or_default() {
            column.merge(shown);
        }
    }

    /// The column of a stamp inside the window; the end of the window is in the last one.
    fn column_of(&self, at: Stamp) -> usize {
        let width = u128::from(self.to.micros().saturating_sub(self.from.micros()));
        let offset = u128::from(at.micros().saturating_sub(self.from.micros()));
        let count = self.columns.len();
        let exact = (offset * u128::try_from(count).unwrap_or(1)).checked_div(width);
        let index = usize::try_from(exact.unwrap_or(0)).unwrap_or(usize::MAX);
        index.min(count.saturating_sub(1))
    }
}

/// The points from `from` to `to`, both included, in `count` columns of equal width in time,
/// oldest first.
pub fn columns(
    points: impl IntoIterator<Item = Point>,
    from: Stamp,
    to: Stamp,
    count: usize,
) -> Vec<Column> {
    let mut canvas = Canvas::new(from, to, count);
    for point in points {
        canvas.draw(point.at, point.at, &point.sample.into());
    }
    canvas.columns
}
