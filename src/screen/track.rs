//! The track of a control as a strip from end to end, pass by pass, and the curve a sound one
//! would follow. Each state has a sign of its own; colour only helps.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget as _;

use crate::check::pot::TrackView;
use crate::circuit::control::{CLEAN_RESIDUAL, WORST_RESIDUAL};
use crate::reading::Ohms;
use crate::screen::stack::{beside, top_row};
use crate::screen::{Scene, text, trace};
use crate::signal::sweep::{Analysis, BinState, Pass};

/// Columns left of the strip, for which pass it is.
const LABEL: u16 = 8;

/// Columns of the curve where it stands beside the trace.
const CURVE: u16 = 56;

/// Columns from which on the curve has room.
const WIDE: u16 = 110;

/// What a piece of the strip is, worst last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Piece {
    Unread,
    Hidden,
    Read,
    Noisy,
    Bad,
    Open,
}

impl Piece {
    const ALL: [Self; 6] = [
        Self::Read,
        Self::Unread,
        Self::Hidden,
        Self::Noisy,
        Self::Bad,
        Self::Open,
    ];

    fn of(bin: &BinState) -> Self {
        if bin.open {
            Self::Open
        } else if bin.residual > WORST_RESIDUAL {
            Self::Bad
        } else if bin.residual > CLEAN_RESIDUAL {
            Self::Noisy
        } else if bin.readings > 0 {
            Self::Read
        } else if bin.hidden {
            Self::Hidden
        } else {
            Self::Unread
        }
    }

    /// Its sign, and the word for it.
    const fn sign(self) -> (&'static str, &'static str) {
        match self {
            Self::Read => ("─", "read"),
            Self::Unread => ("·", "not read"),
            Self::Hidden => ("?", "range change"),
            Self::Noisy => ("▒", "above 1 %"),
            Self::Bad => ("█", "above 3 %"),
            Self::Open => ("X", "no contact"),
        }
    }

    const fn style(self, scene: &Scene<'_>) -> Style {
        match self {
            Self::Read => scene.theme.trace(),
            Self::Unread | Self::Hidden => scene.theme.quiet(),
            Self::Noisy => scene.theme.limit(),
            Self::Bad | Self::Open => scene.theme.event(),
        }
    }
}

/// The track of the check under way, where it is a control's.
pub(super) fn view<'a>(scene: &Scene<'a>) -> Option<TrackView<'a>> {
    scene.session.check()?.view().track
}

/// What a sound control reads at most, where that is known.
pub(super) fn highest(scene: &Scene<'_>) -> Option<Ohms> {
    let curve = view(scene)?.curve;
    let highest = curve.iter().map(|ohms| ohms.0).reduce(f64::max)?;
    (highest > 0.0).then_some(Ohms(highest))
}

/// Rows the strip wants: its heading, the passes, the scale.
pub(super) fn rows(view: &TrackView<'_>) -> u16 {
    let passes = view.analysis.map_or(0, |analysis| analysis.passes.len());
    u16::try_from(passes)
        .unwrap_or(u16::MAX)
        .clamp(2, 8)
        .saturating_add(3)
}

/// Draws the strip, with the curve and the trace under it or the trace beside it.
pub(super) fn draw(scene: &Scene<'_>, view: &TrackView<'_>, area: Rect, buffer: &mut Buffer) {
    if area.width >= WIDE && area.height >= 18 {
        let height = rows(view);
        strip(scene, view, Rect { height, ..area }, buffer);
        let below = Rect {
            y: area.y.saturating_add(height).saturating_add(1),
            height: area.height.saturating_sub(height).saturating_sub(1),
            ..area
        };
        let (left, right) = beside(below, CURVE, 2);
        curve(scene, view, left, buffer);
        trace::draw(scene, right, buffer);
    } else {
        let (left, right) = beside(area, area.width.saturating_mul(3) / 5, 2);
        strip(scene, view, left, buffer);
        trace::draw(scene, right, buffer);
    }
}

/// Draws the strip alone.
pub(super) fn strip(scene: &Scene<'_>, view: &TrackView<'_>, area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, body) = top_row(area);
    let heading = match view.analysis.and_then(Analysis::residual) {
        Some(residual) => format!("track, residual up to {:.1} %", 100.0 * residual),
        None => "track".to_owned(),
    };
    text::heading(&heading, [theme.strong(), theme.quiet()], top, buffer);
    let width = body.width.saturating_sub(LABEL);
    let mut lines: Vec<Line<'_>> = Vec::new();
    let passes = view.analysis.map_or(&[][..], |analysis| &analysis.passes);
    // The scale and the signs' meanings come last; the latest passes are the ones to see.
    let room = usize::from(body.height.saturating_sub(2)).max(1);
    let skipped = passes.len().saturating_sub(room);
    for (index, pass) in passes.iter().enumerate().skip(skipped) {
        lines.push(row(scene, index, pass, width));
    }
    if passes.is_empty() {
        lines.push(Line::styled("no pass yet", theme.quiet()));
    }
    lines.push(scale(scene, view, width));
    lines.push(legend(scene, passes, body.width));
    for (row, line) in body.rows().zip(lines) {
        line.render(row, buffer);
    }
}

/// One pass from end to end.
fn row<'a>(scene: &Scene<'_>, index: usize, pass: &Pass, width: u16) -> Line<'a> {
    let label = format!(
        "{:>2} {:<5}",
        index.saturating_add(1),
        pass.direction.words()
    );
    let mut spans = vec![Span::styled(label, scene.theme.quiet())];
    spans.extend((0..width).map(|column| {
        let piece = piece(&pass.bins, column, width);
        Span::styled(piece.sign().0, piece.style(scene))
    }));
    Line::from(spans)
}

/// The worst of the bins a column stands for.
fn piece(bins: &[BinState], column: u16, width: u16) -> Piece {
    let place = |column: u16| {
        let bin = usize::from(column).saturating_mul(bins.len()) / usize::from(width.max(1));
        bin.min(bins.len())
    };
    let from = place(column);
    let to = place(column.saturating_add(1)).max(from.saturating_add(1));
    bins.iter()
        .take(to)
        .skip(from)
        .map(Piece::of)
        .max()
        .unwrap_or(Piece::Unread)
}

/// Where the wiper stands, between the ends.
fn scale<'a>(scene: &Scene<'_>, view: &TrackView<'_>, width: u16) -> Line<'a> {
    let mut marks: Vec<char> = vec![' '; usize::from(width)];
    let mut write = |at: u16, word: &str| {
        for (place, letter) in marks.iter_mut().skip(usize::from(at)).zip(word.chars()) {
            *place = letter;
        }
    };
    let last = width.saturating_sub(1);
    let wiper = view
        .position
        .map(|position| text::cells(position * f64::from(last)).min(last));
    // A word gives way to the wiper.
    for (at, word) in [
        (0, "low end"),
        (width / 2, "50 %"),
        (width.saturating_sub(8), "high end"),
    ] {
        let length = text::width(word);
        if wiper.is_none_or(|wiper| wiper < at || wiper >= at.saturating_add(length)) {
            write(at, word);
        }
    }
    if let Some(wiper) = wiper {
        write(wiper, "▲");
    }
    Line::from(vec![
        Span::styled(format!("{:<8}", "wiper ▲"), scene.theme.quiet()),
        Span::styled(marks.into_iter().collect::<String>(), scene.theme.strong()),
    ])
}

/// The meanings of the signs that are there.
fn legend<'a>(scene: &Scene<'_>, passes: &[Pass], width: u16) -> Line<'a> {
    let there = |piece: &Piece| {
        passes
            .iter()
            .flat_map(|pass| &pass.bins)
            .any(|bin| Piece::of(bin) == *piece)
    };
    let words: Vec<String> = Piece::ALL
        .iter()
        .filter(|piece| there(piece))
        .map(|piece| {
            let (sign, word) = piece.sign();
            format!("{sign} {word}")
        })
        .collect();
    Line::styled(
        text::shortened(&words.join("  "), width),
        scene.theme.quiet(),
    )
}

/// What a sound control reads along its track, and where the wiper stands on it.
fn curve(scene: &Scene<'_>, view: &TrackView<'_>, area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, body) = top_row(area);
    let heading = "what a sound one reads";
    text::heading(heading, [theme.strong(), theme.quiet()], top, buffer);
    let highest = view.curve.iter().map(|ohms| ohms.0).fold(0.0, f64::max);
    let (_, plot) = beside(body, LABEL, 0);
    if highest <= 0.0 || plot.height < 2 || plot.width < 2 {
        return text::line("not known yet", theme.quiet(), body, buffer);
    }
    let at = |share: f64, ohms: f64| {
        let across = text::cells(share * f64::from(plot.width - 1));
        let up = text::cells(ohms / highest * f64::from(plot.height - 1));
        (
            plot.x.saturating_add(across.min(plot.width - 1)),
            plot.bottom()
                .saturating_sub(1)
                .saturating_sub(up.min(plot.height - 1)),
        )
    };
    for column in 0..plot.width {
        let share = f64::from(column) / f64::from(plot.width - 1);
        if let Some(ohms) = on_curve(view, share)
            && let Some(cell) = buffer.cell_mut(at(share, ohms))
        {
            cell.set_symbol("·").set_style(theme.trace());
        }
    }
    if let Some((share, ohms)) = view
        .position
        .and_then(|share| Some((share, on_curve(view, share)?)))
        && let Some(cell) = buffer.cell_mut(at(share, ohms))
    {
        cell.set_symbol("●").set_style(theme.task());
    }
    let top_label = trace::short(Ohms(highest));
    text::line(
        &format!("{top_label:>7}"),
        theme.quiet(),
        Rect { height: 1, ..body },
        buffer,
    );
    let last = Rect {
        y: body.bottom().saturating_sub(1),
        height: 1,
        ..body
    };
    text::line(
        &format!("{:>7}", "0 Ω"),
        theme.quiet(),
        Rect { width: 7, ..last },
        buffer,
    );
}

/// The expected reading at a part of the track.
fn on_curve(view: &TrackView<'_>, share: f64) -> Option<f64> {
    let last = view.curve.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * f64::from(u32::try_from(last).ok()?);
    let index = usize::from(text::cells(place));
    view.curve.get(index.min(last)).map(|ohms| ohms.0)
}
