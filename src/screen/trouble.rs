//! What is wrong with the meter or its port, in whole sentences.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;

use crate::screen::{Scene, text};

/// The sentences, wrapped: what is wrong now, and what is to be known about the port.
pub(super) fn lines(scene: &Scene<'_>, columns: u16) -> Vec<Line<'static>> {
    let history = scene.session.history();
    let theme = scene.theme;
    let mut lines = Vec::new();
    if scene.session.outcome().is_none() {
        for trouble in scene.session.watchdog().active() {
            let said = history
                .trouble_of(trouble)
                .unwrap_or_else(|| trouble.word());
            let style = theme.trouble().add_modifier(Modifier::REVERSED);
            lines.extend(banner("! ", said, style, columns));
        }
    }
    if let Some(caution) = history.port_caution() {
        lines.extend(banner("note: ", caution, theme.trouble(), columns));
    }
    if scene.view.toneless {
        lines.extend(banner("note: ", TONELESS, theme.trouble(), columns));
    }
    lines
}

/// What the ear will miss.
const TONELESS: &str = "tones cannot be played; why is told at the end.";

/// A text across the whole width, indented after its first line.
fn banner(lead: &str, said: &str, style: Style, columns: u16) -> Vec<Line<'static>> {
    let indent = text::width(lead);
    let across = usize::from(columns);
    text::wrap(said, columns.saturating_sub(indent).saturating_sub(1))
        .into_iter()
        .enumerate()
        .map(|(index, part)| {
            let lead = if index == 0 { lead } else { "" };
            let row = format!("{lead:indent$}{part}", indent = usize::from(indent));
            Line::styled(format!("{row:across$}"), style)
        })
        .collect()
}

/// Draws them.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let lines = lines(scene, area.width);
    text::lines(&lines, scene.theme.trouble(), area, buffer);
}
