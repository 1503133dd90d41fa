//! Letters of several rows, as large as there is room for.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Widget as _;
use tui_big_text::{BigText, PixelSize};

use crate::screen::stack::{ROOMY, Rank};
use crate::screen::text;

/// A way to draw a letter, and the cells it takes.
#[derive(Debug, Clone, Copy)]
struct Size {
    pixel: PixelSize,
    columns: u16,
    rows: u16,
}

/// The largest first. Only blocks that every terminal font has.
const SIZES: [Size; 3] = [
    Size {
        pixel: PixelSize::Full,
        columns: 8,
        rows: 8,
    },
    Size {
        pixel: PixelSize::HalfHeight,
        columns: 8,
        rows: 4,
    },
    Size {
        pixel: PixelSize::Quadrant,
        columns: 4,
        rows: 4,
    },
];

/// Rows of the smallest big letter.
pub(super) const ROWS: u16 = 4;

/// Columns of the narrowest big letter.
pub(super) const COLUMNS: u16 = 4;

/// Draws a text as large as the area allows, in plain letters at the least. Gives the columns
/// it took.
pub(super) fn draw(shown: &str, style: Style, area: Rect, buffer: &mut Buffer) -> u16 {
    let letters = u16::try_from(shown.chars().count()).unwrap_or(u16::MAX);
    let fitting = SIZES.into_iter().find(|size| {
        size.rows <= area.height && letters.saturating_mul(size.columns) <= area.width
    });
    match fitting {
        Some(size) if letters > 0 => {
            BigText::builder()
                .pixel_size(size.pixel)
                .lines(vec![Line::raw(shown)])
                .style(style)
                .build()
                .render(area, buffer);
            letters.saturating_mul(size.columns)
        }
        _ => {
            text::line(shown, style, text_row(area), buffer);
            text::width(shown).min(area.width)
        }
    }
}

/// Draws wrapped text in the narrowest big letters.
pub(super) fn paragraph(lines: &[String], style: Style, area: Rect, buffer: &mut Buffer) {
    let mut rest = area;
    for shown in lines {
        if rest.height < ROWS {
            return;
        }
        BigText::builder()
            .pixel_size(PixelSize::Quadrant)
            .lines(vec![Line::raw(shown.as_str())])
            .style(style)
            .build()
            .render(
                Rect {
                    height: ROWS,
                    ..rest
                },
                buffer,
            );
        rest.y = rest.y.saturating_add(ROWS);
        rest.height -= ROWS;
    }
}

/// The row a plain text takes in an area meant for big letters: the middle one.
fn text_row(area: Rect) -> Rect {
    Rect {
        y: area.y.saturating_add(area.height.saturating_sub(1) / 2),
        height: area.height.min(1),
        ..area
    }
}

/// The heights worth giving to a big text of so many letters, smallest first: plain and
/// large as ranked, and the largest on a screen with rows to spare.
pub(super) fn heights(letters: u16, area: Rect, ranks: [Rank; 2]) -> Vec<(Rank, u16)> {
    let [plain, large] = ranks;
    let mut heights = vec![(plain, 1)];
    if letters.saturating_mul(COLUMNS) <= area.width {
        heights.push((large, ROWS));
    }
    let [largest, ..] = SIZES;
    if large == Rank::LargeReading
        && area.height >= ROOMY
        && letters.saturating_mul(largest.columns) <= area.width
    {
        heights.push((Rank::LargestReading, largest.rows));
    }
    heights
}
