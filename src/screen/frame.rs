//! What every screen has around it: the header, the caution, the keys.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget as _;

use crate::check::stock::Tags;
use crate::check::{Check, pot, rewire};
use crate::keys::{KEYS, Key, KeyAction, ViewChange};
use crate::screen::{Panel, Scene, text};
use crate::session::Command;

/// The caution that is always there.
pub(super) const CAUTION: &str = "Unplug both ends; resistance only on work without power.";

/// The same where there is little room.
const SHORT_CAUTION: &str = "Unplug both ends; no power.";

/// A control may sit in an instrument, and has no two ends to unplug.
const CONTROL: [&str; 2] = [
    "Amplifier unplugged, battery out; only on work without power.",
    "Amplifier unplugged, battery out; no power.",
];

/// The caution with an instrument.
const INSTRUMENT: [&str; 2] = [
    "Unplug it from the amplifier, battery out; resistance only on work without power.",
    "Unplug it from the amplifier, battery out; no power.",
];

/// What runs, by which format, from where, how fast, how long.
pub(super) fn header(scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
    let Scene {
        session,
        theme,
        now,
        view,
        stock,
    } = scene;
    let name = match stock {
        Some(_) => "stock",
        None => session.check().map_or("watch", |check| check.name()),
    };
    let rate = session
        .intervals()
        .median()
        .filter(|interval| interval.0 > 0.0)
        .map_or_else(
            || "-.- /s".to_owned(),
            |interval| format!("{:.1} /s", 1.0 / interval.0),
        );
    let sound = if view.muted { "sound off   " } else { "" };
    let right = format!("{sound}{rate}   {}", text::clock(*now));
    let left_width = row
        .width
        .saturating_sub(text::width(&right))
        .saturating_sub(2);
    let mut spans = vec![
        Span::styled("steadyohm", theme.quiet()),
        Span::raw("  "),
        Span::styled(name, theme.strong()),
        Span::raw("  "),
        Span::raw(session.protocol().id().to_owned()),
        Span::raw("  "),
    ];
    let taken = text::width(&Line::from(spans.clone()).to_string());
    let room = left_width.saturating_sub(taken);
    spans.push(Span::styled(
        text::tail(session.source(), room),
        theme.quiet(),
    ));
    let line = Line::from(spans);
    line.render(
        Rect {
            width: left_width,
            ..row
        },
        buffer,
    );
    Line::styled(text::shortened(&right, row.width), theme.plain())
        .right_aligned()
        .render(row, buffer);
}

/// A rule across the screen.
pub(super) fn rule(scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
    let rule = "─".repeat(usize::from(row.width));
    Line::styled(rule, scene.theme.quiet()).render(row, buffer);
}

/// Unplug; no power.
pub(super) fn caution(scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
    let [long, short] = match scene.session.check().map(Check::name) {
        Some(rewire::NAME) => INSTRUMENT,
        Some(pot::NAME) => CONTROL,
        _ => [CAUTION, SHORT_CAUTION],
    };
    let shown = if text::width(long) <= row.width {
        long
    } else {
        short
    };
    text::line(shown, scene.theme.caution(), row, buffer);
}

/// The keys, as many as fit.
pub(super) fn footer(scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
    let mut line = Line::default();
    let typing = scene
        .stock
        .is_some_and(|stock| stock.stock.plan().tags == Tags::Typed);
    for key in KEYS.iter().filter(|key| does_something(key, scene)) {
        let name = if typing {
            key.name_while_typing()
        } else {
            Some(key.name.to_owned())
        };
        let Some(name) = name else { continue };
        let mut entry = vec![
            Span::styled(name, scene.theme.strong()),
            Span::raw(" "),
            Span::styled(short(key, scene), scene.theme.quiet()),
        ];
        if line.width() > 0 {
            entry.insert(0, Span::raw("   "));
        }
        let entry = Line::from(entry);
        if line.width().saturating_add(entry.width()) > usize::from(row.width) {
            break;
        }
        line.extend(entry);
    }
    line.render(row, buffer);
}

/// Whether a key does anything now.
fn does_something(key: &Key, scene: &Scene<'_>) -> bool {
    match key.action {
        KeyAction::Stock(_) => scene.stock.is_some(),
        KeyAction::Command(Command::Confirm) => {
            scene.session.check().is_some() && scene.session.outcome().is_none()
        }
        KeyAction::View(ViewChange::Further | ViewChange::Back) => {
            scene.view.panel == Panel::Help
        }
        KeyAction::Command(Command::Quit) | KeyAction::View(_) => true,
    }
}

fn short(key: &Key, scene: &Scene<'_>) -> &'static str {
    match key.action {
        KeyAction::Command(Command::Quit) if scene.session.outcome().is_some() => "leave",
        KeyAction::View(ViewChange::Mute) if scene.view.muted => "sound on",
        KeyAction::View(ViewChange::Help) if scene.view.panel == Panel::Help => "back",
        _ => key.short,
    }
}
