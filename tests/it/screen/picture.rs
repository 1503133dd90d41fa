//! A screen as an SVG picture, and the picture of a lead being bent that the README shows.
//!
//! Set `STEADYOHM_UPDATE_PICTURES=1` to write the picture anew instead of comparing it.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

use crate::screen::states::breaking;
use crate::screen::view;

/// Width and height of a cell. The picture's text is stretched to it, so that columns align
/// whatever font it is shown in.
const CELL: (u32, u32) = (8, 16);

/// Room around the screen.
const MARGIN: u32 = 12;

const BACKGROUND: &str = "#14181d";

const FOREGROUND: &str = "#d7dde3";

/// A colour of the terminal, as the picture paints it.
const fn paint(colour: Color) -> &'static str {
    match colour {
        Color::Red => "#ff6b6b",
        Color::Green => "#5fd38d",
        Color::Yellow => "#e8c15a",
        Color::Cyan => "#5cc8e6",
        Color::DarkGray => "#6f7a86",
        _ => FOREGROUND,
    }
}

/// The parts of a cell that a block element fills: corner and size, in eighths of the cell.
fn blocks(symbol: &str) -> Option<&'static [[u32; 4]]> {
    const UPPER_LEFT: [u32; 4] = [0, 0, 4, 4];
    const UPPER_RIGHT: [u32; 4] = [4, 0, 4, 4];
    const LOWER_LEFT: [u32; 4] = [0, 4, 4, 4];
    const LOWER_RIGHT: [u32; 4] = [4, 4, 4, 4];
    const UPPER: [u32; 4] = [0, 0, 8, 4];
    const LOWER: [u32; 4] = [0, 4, 8, 4];
    const LEFT: [u32; 4] = [0, 0, 4, 8];
    const RIGHT: [u32; 4] = [4, 0, 4, 8];
    Some(match symbol {
        "█" => &[[0, 0, 8, 8]],
        "▀" => &[UPPER],
        "▄" => &[LOWER],
        "▌" => &[LEFT],
        "▐" => &[RIGHT],
        "▘" => &[UPPER_LEFT],
        "▝" => &[UPPER_RIGHT],
        "▖" => &[LOWER_LEFT],
        "▗" => &[LOWER_RIGHT],
        "▚" => &[UPPER_LEFT, LOWER_RIGHT],
        "▞" => &[UPPER_RIGHT, LOWER_LEFT],
        "▛" => &[UPPER, LOWER_LEFT],
        "▜" => &[UPPER, LOWER_RIGHT],
        "▙" => &[LEFT, LOWER_RIGHT],
        "▟" => &[RIGHT, LOWER_LEFT],
        _ => return None,
    })
}

/// The dots of a braille pattern: column and row within the cell.
fn dots(symbol: &str) -> Option<Vec<(u32, u32)>> {
    const PLACES: [(u32, u32); 8] = [
        (0, 0),
        (0, 1),
        (0, 2),
        (1, 0),
        (1, 1),
        (1, 2),
        (0, 3),
        (1, 3),
    ];
    let pattern = u32::from(symbol.chars().next()?);
    let bits = pattern.checked_sub(0x2800).filter(|bits| *bits < 256)?;
    let set = PLACES.into_iter().enumerate();
    Some(
        set.filter(|(bit, _)| bits >> bit & 1 == 1)
            .map(|(_, at)| at)
            .collect(),
    )
}

/// Shapes of one colour, as the data of a path.
type Shapes = BTreeMap<&'static str, String>;

/// Puts block elements, rules and braille dots among the shapes; false for everything else,
/// which is text. Drawn as shapes they join, whatever the font.
fn draw_shape(cell: &Cell, (x, y): (u32, u32), shapes: &mut Shapes) -> bool {
    let (width, height) = CELL;
    let mut rectangle = |x: u32, y: u32, width: u32, height: u32| {
        let path = shapes.entry(paint(cell.fg)).or_default();
        write!(path, "M{x} {y}h{width}v{height}h-{width}z").unwrap();
    };
    if let Some(parts) = blocks(cell.symbol()) {
        for [left, top, across, down] in parts {
            rectangle(
                x + left * width / 8,
                y + top * height / 8,
                across * width / 8,
                down * height / 8,
            );
        }
        return true;
    }
    if let Some(dots) = dots(cell.symbol()) {
        for (column, row) in dots {
            rectangle(x + column * width / 2, y + row * height / 4, 3, 3);
        }
        return true;
    }
    match cell.symbol() {
        "─" => rectangle(x, y + height / 2, width, 1),
        "╌" => {
            rectangle(x + 1, y + height / 2, 3, 1);
            rectangle(x + 5, y + height / 2, 2, 1);
        }
        "┈" => rectangle(x + 3, y + height / 2, 1, 1),
        "┤" => {
            rectangle(x + width / 2, y, 1, height);
            rectangle(x, y + height / 2, width / 2, 1);
        }
        _ => return false,
    }
    true
}

/// A run of text in one style.
#[derive(Debug)]
struct Text<'a> {
    x: u32,
    y: u32,
    cells: u32,
    shown: String,
    style: &'a Cell,
}

impl Text<'_> {
    fn write(&self, svg: &mut String) {
        let shown = self.shown.trim_end();
        if shown.is_empty() {
            return;
        }
        let trimmed = u32::try_from(self.shown.len() - shown.len()).unwrap();
        let length = (self.cells - trimmed) * CELL.0;
        let weight = if self.style.modifier.contains(Modifier::BOLD) {
            " font-weight=\"bold\""
        } else {
            ""
        };
        let escaped = shown
            .replace('&', "&amp;")
            .replace('<', "&lt;")
            .replace('>', "&gt;");
        writeln!(
            svg,
            "<text x=\"{}\" y=\"{}\" textLength=\"{length}\" fill=\"{}\"{weight}>{escaped}</text>",
            self.x,
            self.y + 12,
            paint(self.style.fg),
        )
        .unwrap();
    }
}

/// A screen as an SVG document.
pub(super) fn svg(buffer: &Buffer) -> String {
    let (columns, rows) = (u32::from(buffer.area.width), u32::from(buffer.area.height));
    let (width, height) = (columns * CELL.0 + 2 * MARGIN, rows * CELL.1 + 2 * MARGIN);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" \
         width=\"{width}\" height=\"{height}\" font-family=\"monospace\" font-size=\"13\" \
         xml:space=\"preserve\">\n<rect width=\"100%\" height=\"100%\" rx=\"6\" \
         fill=\"{BACKGROUND}\"/>\n"
    );
    let mut shapes = Shapes::new();
    let lines = buffer.content.chunks(usize::from(buffer.area.width.max(1)));
    for (row, line) in (0..).zip(lines) {
        let y = MARGIN + row * CELL.1;
        let mut run: Option<Text<'_>> = None;
        for (column, cell) in (0..).zip(line) {
            let x = MARGIN + column * CELL.0;
            let shape = draw_shape(cell, (x, y), &mut shapes);
            let goes_on = run.as_ref().is_some_and(|run| {
                !shape && (run.style.fg, run.style.modifier) == (cell.fg, cell.modifier)
            });
            if !goes_on && let Some(run) = run.take() {
                run.write(&mut svg);
            }
            if shape || run.is_none() && cell.symbol() == " " {
                continue;
            }
            let run = run.get_or_insert_with(|| Text {
                x,
                y,
                cells: 0,
                shown: String::new(),
                style: cell,
            });
            run.cells += 1;
            run.shown.push_str(cell.symbol());
        }
        if let Some(run) = run {
            run.write(&mut svg);
        }
    }
    for (fill, path) in shapes {
        writeln!(
            svg,
            "<path fill=\"{fill}\" shape-rendering=\"crispEdges\" d=\"{path}\"/>"
        )
        .unwrap();
    }
    svg.push_str("</svg>\n");
    svg
}

#[test]
fn the_picture_of_a_lead_is_what_the_screen_shows() {
    let shown = breaking().screen(&view(), 110, 36);
    let drawn = svg(shown.backend().buffer());
    if std::env::var_os("STEADYOHM_UPDATE_PICTURES").is_some_and(|set| set == "1") {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/pictures/lead.svg");
        std::fs::write(path, drawn).unwrap();
        return;
    }
    let kept = include_str!("../../pictures/lead.svg").replace("\r\n", "\n");
    assert!(
        kept == drawn,
        "the screen has changed: look at it, then run with STEADYOHM_UPDATE_PICTURES=1"
    );
}

#[test]
fn a_picture_holds_every_letter_and_every_dot() {
    let mut buffer = Buffer::with_lines(["a<b ▙⣿", "─  c  "]);
    buffer[(0, 0)].fg = Color::Red;
    let drawn = svg(&buffer);
    assert!(
        drawn.contains(">a</text>") && drawn.contains(">&lt;b</text>"),
        "{drawn}"
    );
    assert!(drawn.contains(">c</text>"), "{drawn}");
    // Two parts of the block, eight dots, one rule.
    assert_eq!(drawn.matches('M').count(), 2 + 8 + 1, "{drawn}");
}
