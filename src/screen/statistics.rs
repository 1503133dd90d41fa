//! What all readings so far amount to, in columns.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use crate::reading::{Quantity, Seconds};
use crate::screen::stack::top_row;
use crate::screen::{Scene, text};

/// Columns of one label with its value, and the gap after it.
const COLUMN: u16 = 26;

/// Labels with values, in the columns they stand in.
type Columns = [[(&'static str, String); 4]; 3];

/// Rows that the statistics want in this width, their heading with them.
pub(super) const fn rows(width: u16) -> u16 {
    match width / COLUMN {
        3.. => 5,
        2 => 9,
        _ => 13,
    }
}

/// Draws them.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, list) = top_row(area);
    text::heading("statistics", [theme.strong(), theme.quiet()], top, buffer);
    let columns = values(scene);
    let abreast = usize::from(area.width / COLUMN).clamp(1, columns.len());
    let mut lines = Vec::new();
    for group in columns.chunks(abreast) {
        for row in 0..4 {
            let mut line = Line::default();
            for (label, value) in group.iter().filter_map(|column| column.get(row)) {
                line.push_span(Span::styled(format!("{label:<11} "), theme.quiet()));
                line.push_span(Span::raw(format!("{value:>10}    ")));
            }
            lines.push(line);
        }
    }
    text::lines(&lines, theme.quiet(), list, buffer);
}

fn values(scene: &Scene<'_>) -> Columns {
    let history = scene.session.history();
    let (summary, counts) = (history.summary(), history.counts());
    let intervals = scene.session.intervals();
    let quantity = history
        .last()
        .map_or(Quantity::Resistance, |last| last.measured.quantity);
    let number =
        |value: Option<f64>| value.map_or_else(none, |value| text::value(value, quantity));
    let time = |value: Option<Seconds>| value.map_or_else(none, |value| value.to_string());
    [
        [
            ("mean", number(summary.mean())),
            ("std. dev.", number(summary.standard_deviation())),
            ("lowest", number(summary.min())),
            ("highest", number(summary.max())),
        ],
        [
            ("numbers", counts.numbers.to_string()),
            ("over-range", counts.over.to_string()),
            ("  entered", counts.over_entered.to_string()),
            ("blank", counts.blank.to_string()),
        ],
        [
            ("interval", time(intervals.median())),
            ("  95 %", time(intervals.high())),
            ("  99 %", time(intervals.p99())),
            ("  longest", time(intervals.longest())),
        ],
    ]
}

fn none() -> String {
    "-".to_owned()
}
