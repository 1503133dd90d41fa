//! Eight dots to a cell: the line of the trace, with over-range in a row of its own.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use crate::screen::text;
use crate::signal::Column;

/// Dots of a cell from bottom to top, left and right, as the braille patterns of Unicode
/// number them (The Unicode Standard, block U+2800).
const DOTS: [[u8; 4]; 2] = [[0x40, 0x04, 0x02, 0x01], [0x80, 0x20, 0x10, 0x08]];

/// Dots of a cell upwards.
const HIGH: u16 = 4;

/// How the parts are drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Styles {
    /// The line.
    pub(super) trace: Style,
    /// The line where something is marked.
    pub(super) event: Style,
    /// Limits.
    pub(super) limit: Style,
    /// Over-range.
    pub(super) over: Style,
}

/// A plot in the making. Its top row is for over-range alone.
#[derive(Debug)]
pub(super) struct Plot {
    area: Rect,
    /// Dots of every cell, column by column, each from the bottom up.
    dots: Vec<Vec<u8>>,
    /// Over-range in the left and the right half of each column.
    over: Vec<[bool; 2]>,
    /// Lines across: the row from the top, and what it is drawn with.
    levels: Vec<(u16, &'static str)>,
}

/// Where a height, 0 to 1, stands: a row from the top, below the row of over-range.
pub(super) fn row_of(height: f64, rows: u16) -> u16 {
    let dots = rows.saturating_sub(1).saturating_mul(HIGH);
    rows.saturating_sub(1)
        .saturating_sub(dot_of(height, dots) / HIGH)
}

/// The dot of a height, from the bottom.
fn dot_of(height: f64, dots: u16) -> u16 {
    text::cells(height * f64::from(dots.saturating_sub(1)))
}

impl Plot {
    /// An empty plot.
    pub(super) fn new(area: Rect) -> Self {
        let columns = usize::from(area.width);
        let rows = usize::from(area.height.saturating_sub(1));
        Self {
            area,
            dots: vec![vec![0; rows]; columns],
            over: vec![[false; 2]; columns],
            levels: Vec::new(),
        }
    }

    /// Draws a line across at a height from 0 to 1.
    pub(super) fn level(&mut self, height: f64, drawn: &'static str) {
        self.levels.push((row_of(height, self.area.height), drawn));
    }

    /// Draws the line through columns of half a cell; `held` of them without a reading are
    /// bridged, and `height` places a resistance from 0 to 1.
    pub(super) fn trace(
        &mut self,
        columns: &[Column],
        held: usize,
        height: impl Fn(f64) -> f64,
    ) {
        let dots = self.area.height.saturating_sub(1).saturating_mul(HIGH);
        let mut last: Option<(usize, [u16; 2])> = None;
        for (index, column) in columns.iter().enumerate() {
            let lowest = column.min.map(|ohms| dot_of(height(ohms), dots));
            let highest = column.max.map(|ohms| dot_of(height(ohms), dots));
            // Over-range stands just above the highest dot.
            let span = match (lowest, highest, column.over) {
                (Some(low), _, true) => [low, dots],
                (Some(low), Some(high), false) => [low, high],
                (None, _, true) => [dots, dots],
                (_, _, false) => {
                    if column.blank {
                        last = None;
                    }
                    continue;
                }
            };
            match last {
                Some((before, level)) if index - before <= held.max(1) => {
                    for bridged in before + 1..index {
                        self.hold(bridged, level, dots);
                    }
                    let [low, high] = span;
                    let [low_before, high_before] = level;
                    self.draw(index, [low.min(high_before), high.max(low_before)]);
                }
                _ => self.draw(index, span),
            }
            if column.over {
                self.mark_over(index);
            }
            last = Some((index, span));
        }
    }

    /// Draws the level of the last reading on, where none has come yet.
    fn hold(&mut self, index: usize, [low, high]: [u16; 2], dots: u16) {
        if low >= dots {
            self.mark_over(index);
        } else {
            let end = if high >= dots { low } else { high };
            self.draw(index, [end, end]);
        }
    }

    fn draw(&mut self, index: usize, [low, high]: [u16; 2]) {
        let side = DOTS.get(index % 2);
        let Some((cells, side)) = self.dots.get_mut(index / 2).zip(side) else {
            return;
        };
        for dot in low..=high {
            let cell = cells.get_mut(usize::from(dot / HIGH));
            if let Some((cell, bit)) = cell.zip(side.get(usize::from(dot % HIGH))) {
                *cell |= bit;
            }
        }
    }

    fn mark_over(&mut self, index: usize) {
        let column = self.over.get_mut(index / 2);
        if let Some(half) = column.and_then(|column| column.get_mut(index % 2)) {
            *half = true;
        }
    }

    /// Puts it on the screen; `is_marked` tells the columns in which something happened.
    pub(super) fn render(
        &self,
        styles: &Styles,
        is_marked: impl Fn(u16) -> bool,
        buffer: &mut Buffer,
    ) {
        let across = self.area.left()..self.area.right();
        for ((x, dots), over) in across.zip(&self.dots).zip(&self.over) {
            let line = if is_marked(x - self.area.x) {
                styles.event
            } else {
                styles.trace
            };
            let top = match over {
                [false, false] => " ",
                [true, false] => "▘",
                [false, true] => "▝",
                [true, true] => "▀",
            };
            put(buffer, x, self.area.top(), top, styles.over);
            let rows = (self.area.top()..self.area.bottom()).skip(1);
            for (y, dots) in rows.zip(dots.iter().rev()) {
                let row = y - self.area.y;
                let level = self.levels.iter().rfind(|(at, _)| *at == row);
                match (dots, level) {
                    (0, None) => {}
                    (0, Some((_, drawn))) => put(buffer, x, y, drawn, styles.limit),
                    (dots, _) => {
                        let pattern = char::from_u32(0x2800 + u32::from(*dots));
                        let shown = pattern.unwrap_or(' ').to_string();
                        put(buffer, x, y, &shown, line);
                    }
                }
            }
        }
    }
}

fn put(buffer: &mut Buffer, x: u16, y: u16, symbol: &str, style: Style) {
    if let Some(cell) = buffer.cell_mut((x, y)) {
        cell.set_symbol(symbol).set_style(style);
    }
}
