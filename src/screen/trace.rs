//! The live trace: a line that keeps every peak, the limits, the marks, and a row of its own
//! for over-range at the top.

mod plot;
mod scale;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;

use crate::check::notice::{DisturbanceKind, Wants};
use crate::check::step::{Rest, StepMachine};
use crate::reading::{Ohms, Seconds, Stamp};
use crate::screen::stack::top_row;
use crate::screen::{Scene, reading, text, track};
use crate::session::Mark;
use crate::signal::Column;
use plot::Plot;
use scale::Scale;

/// Columns left of the plot, for the numbers of the scale.
const GUTTER: u16 = 9;

/// Rows of the body from which on the time axis has a row of its own.
const WITH_AXIS: u16 = 10;

/// Rows of the plot from which on limits are drawn.
const LIMITED: u16 = 4;

/// The window of time that is shown.
#[derive(Debug, Clone, Copy)]
struct Window {
    from: Stamp,
    to: Stamp,
    columns: u16,
    /// Columns before the run began: the scale of time stands, and the trace grows into it.
    lead: u16,
}

impl Window {
    /// The window of the last `zoom` before `now`, in so many columns.
    fn of(now: Stamp, zoom: Seconds, width: u16) -> Self {
        let share = if zoom.0 > 0.0 {
            (now.seconds() / zoom.0).min(1.0)
        } else {
            1.0
        };
        let columns = text::cells((share * f64::from(width)).round()).clamp(1, width.max(1));
        Self {
            from: before(now, zoom),
            to: now,
            columns,
            lead: width.saturating_sub(columns),
        }
    }

    /// The column of the plot a stamp falls into, if any.
    fn column(&self, at: Stamp) -> Option<u16> {
        if at < self.from || at > self.to || self.columns == 0 {
            return None;
        }
        let width = self.to.since(self.from).0;
        let share = if width > 0.0 {
            at.since(self.from).0 / width
        } else {
            0.0
        };
        let column = text::cells((share * f64::from(self.columns) - 0.5).max(0.0));
        Some(column.min(self.columns - 1).saturating_add(self.lead))
    }

    /// The columns a mark covers.
    fn columns_of(&self, mark: &Mark) -> Option<std::ops::RangeInclusive<u16>> {
        if mark.to < self.from || mark.from > self.to {
            return None;
        }
        let first = self.column(mark.from.max(self.from))?;
        Some(first..=self.column(mark.to.min(self.to))?)
    }
}

/// Draws the trace with its heading.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, body) = top_row(area);
    let width = area.width.saturating_sub(GUTTER);
    let window = Window::of(scene.now, scene.view.zoom, width);
    let heading = format!(
        "trace, last {}{}",
        text::span(scene.view.zoom),
        counted(scene, &window)
    );
    text::heading(&heading, [theme.strong(), theme.quiet()], top, buffer);
    if body.height == 0 || width == 0 {
        return;
    }
    let marks_rows = u16::from(body.height >= 3 && scene.session.check().is_some());
    let axis_rows = u16::from(body.height >= WITH_AXIS);
    let plot_area = Rect {
        x: body.x.saturating_add(GUTTER),
        width,
        height: body.height - marks_rows - axis_rows,
        ..body
    };
    let mut columns = vec![Column::default(); usize::from(window.lead) * 2];
    columns.extend(scene.session.history().trace().columns(
        window.from,
        window.to,
        usize::from(window.columns) * 2,
    ));
    draw_plot(scene, &window, &columns, plot_area, buffer);
    let mut below = Rect {
        y: plot_area.bottom(),
        height: 1,
        ..plot_area
    };
    if marks_rows > 0 {
        draw_marks(scene, &window, below, buffer);
        below.y = below.y.saturating_add(1);
    }
    if axis_rows > 0 {
        draw_axis(scene, below, buffer);
    }
}

fn before(now: Stamp, span: Seconds) -> Stamp {
    Stamp::from_micros(now.micros().saturating_sub(span.micros()))
}

/// What was marked within the window, in words.
fn counted(scene: &Scene<'_>, window: &Window) -> String {
    [
        DisturbanceKind::Break,
        DisturbanceKind::Touch,
        DisturbanceKind::Flicker,
        DisturbanceKind::Jump,
        DisturbanceKind::NoisyZone,
    ]
    .into_iter()
    .filter_map(|kind| {
        let marks = scene.session.history().marks().iter();
        let number = marks
            .filter(|mark| mark.kind == kind && window.columns_of(mark).is_some())
            .count();
        (number > 0)
            .then(|| format!(", {}", text::count(number, &kind.word().replace('_', " "))))
    })
    .collect()
}

/// The step whose limits are drawn.
fn step<'a>(scene: &Scene<'a>) -> Option<&'a StepMachine> {
    scene.session.check()?.view().now
}

fn draw_plot(
    scene: &Scene<'_>,
    window: &Window,
    columns: &[Column],
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = scene.theme;
    let off = off(scene);
    let step = step(scene);
    let scale =
        track::highest(scene).map_or_else(|| Scale::of(step, columns, off), Scale::up_to);
    let mut plot = Plot::new(area);
    // In fewer rows a limit and what is below it would share one.
    let limits = if area.height >= LIMITED {
        limits(scene, off)
    } else {
        Vec::new()
    };
    for (limit, letter) in &limits {
        plot.level(scale.height(limit.0), letter);
    }
    plot.trace(columns, held_columns(scene, window), |ohms| {
        scale.height(ohms - off)
    });
    let marked: Vec<_> = scene.session.history().marks().iter().collect();
    let is_marked = |column: u16| {
        marked
            .iter()
            .filter_map(|mark| window.columns_of(mark))
            .any(|covered| covered.contains(&column))
    };
    let over = match step.map(|step| step.plan().wants()) {
        Some(Wants::Closed) => theme.event(),
        Some(_) | None => theme.trace(),
    };
    let styles = plot::Styles {
        trace: theme.trace(),
        event: theme.event(),
        limit: theme.limit(),
        over,
    };
    plot.render(&styles, is_marked, buffer);
    draw_scale(scene, &scale, &limits, area, buffer);
}

/// The tare that is taken off all that is drawn, in ohms.
fn off(scene: &Scene<'_>) -> f64 {
    reading::tare(scene).map_or(0.0, |tare| tare.0)
}

/// The limits that are drawn, tare taken off, and the line each is drawn with.
fn limits(scene: &Scene<'_>, off: f64) -> Vec<(Ohms, &'static str)> {
    match step(scene).and_then(StepMachine::rest) {
        None => Vec::new(),
        Some(rest) => {
            let (enter, leave) = rest.thresholds();
            let off = if matches!(rest, Rest::Closed(_)) {
                off
            } else {
                0.0
            };
            vec![(Ohms(leave.0 - off), "┈"), (Ohms(enter.0 - off), "╌")]
        }
    }
}

/// How many columns of half a cell a reading stands for, so that a slow meter draws a line
/// and a stopped one a hole.
fn held_columns(scene: &Scene<'_>, window: &Window) -> usize {
    /// Intervals without a reading that still count as one line.
    const HELD: f64 = 2.5;
    let width = window.to.since(window.from).0 / f64::from(window.columns.max(1)) / 2.0;
    let interval = scene.session.meter().pacing_interval().0;
    if width > 0.0 {
        usize::from(text::cells((interval * HELD / width).ceil()))
    } else {
        0
    }
}

/// Numbers left of the plot: over-range, the limit, then round values where there is room.
fn draw_scale(
    scene: &Scene<'_>,
    scale: &Scale,
    limits: &[(Ohms, &str)],
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = scene.theme;
    let rows = area.height;
    let mut taken: Vec<u16> = Vec::new();
    let mut label = |row: u16, shown: &str, style: Style| {
        if row >= rows || taken.contains(&row) {
            return;
        }
        taken.push(row);
        let at = Rect {
            x: area.x.saturating_sub(GUTTER),
            y: area.y.saturating_add(row),
            width: GUTTER,
            height: 1,
        };
        text::line(&format!("{shown:>7} ┤"), style, at, buffer);
    };
    label(0, "OL", theme.strong());
    if let Some((enter, _)) = limits.last() {
        let row = plot::row_of(scale.height(enter.0), rows);
        label(row, &short(*enter), theme.limit());
    }
    for round in scale.ticks() {
        let row = plot::row_of(scale.height(round.0), rows);
        label(row, &short(round), theme.quiet());
    }
    for row in 0..rows {
        label(row, "", theme.quiet());
    }
}

/// A resistance in seven columns: `0.82 Ω`, `10 kΩ`.
pub(super) fn short(ohms: Ohms) -> String {
    let (scaled, prefix) = match ohms.0.abs() {
        size if size >= 999_500.0 => (ohms.0 / 1e6, "M"),
        size if size >= 999.5 => (ohms.0 / 1e3, "k"),
        _ => (ohms.0, ""),
    };
    let places = match scaled.abs() {
        size if size >= 99.95 => 0,
        size if size >= 9.995 => 1,
        _ => 2,
    };
    let digits = format!("{scaled:.places$}");
    let digits = if digits.contains('.') {
        digits.trim_end_matches('0').trim_end_matches('.')
    } else {
        digits.as_str()
    };
    format!("{digits} {prefix}Ω")
}

/// One letter for each mark, under its place: `B` break, `T` touch, `F` flicker, `J` jump, `N`
/// noisy zone.
fn draw_marks(scene: &Scene<'_>, window: &Window, row: Rect, buffer: &mut Buffer) {
    for mark in scene.session.history().marks() {
        let letter = match mark.kind {
            DisturbanceKind::Break => "B",
            DisturbanceKind::Touch => "T",
            DisturbanceKind::Flicker => "F",
            DisturbanceKind::Jump => "J",
            DisturbanceKind::NoisyZone => "N",
        };
        for column in window.columns_of(mark).into_iter().flatten() {
            let at = (row.x.saturating_add(column), row.y);
            if let Some(cell) = buffer.cell_mut(at) {
                cell.set_symbol(letter).set_style(scene.theme.event());
            }
        }
    }
}

/// The time: how long ago the left edge and the middle were.
fn draw_axis(scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
    let quiet = scene.theme.quiet();
    let left = format!("{} ago", text::span(scene.view.zoom));
    let used = text::width(&left).saturating_add(text::width("now"));
    let gap = usize::from(row.width.saturating_sub(used));
    let line = Line::styled(format!("{left}{:gap$}now", ""), quiet);
    text::lines(&[line], quiet, row, buffer);
}
