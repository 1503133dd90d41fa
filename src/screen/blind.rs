//! What could not have been seen at this meter's rate.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

use crate::check::step::Rest;
use crate::screen::stack::{Band, Rank};
use crate::screen::{Scene, text};
use crate::signal::BlindSpot;

/// The blind spot of the verdict, or of the step under way, or of the meter at its rate.
pub(super) fn spot(scene: &Scene<'_>) -> Option<BlindSpot> {
    let session = scene.session;
    if let Some(result) = session.history().verdict() {
        return result.blind_spot;
    }
    let lift = session
        .check()
        .and_then(|check| check.view().now)
        .and_then(|step| step.rest())
        .map(Rest::lift);
    session.meter().blind_spot(lift)
}

/// The rows it takes: none before it is known, then one, and two where there is room.
pub(super) fn band(scene: &Scene<'_>) -> Band {
    Band::growing(match spot(scene) {
        None => Vec::new(),
        Some(_) => vec![(Rank::Blind, 1), (Rank::Header, 2)],
    })
}

/// The longest telling that goes into so many rows; the shortest, if none does.
fn lines(scene: &Scene<'_>, columns: u16, rows: u16) -> Vec<String> {
    let Some(spot) = spot(scene) else {
        return Vec::new();
    };
    let tellings = [spot.sentence(), spot.short(), spot.shortest()]
        .map(|telling| text::wrap(&format!("Blind spot: {}", lowered(&telling)), columns));
    let fitting = tellings
        .iter()
        .find(|lines| lines.len() <= usize::from(rows));
    fitting
        .or_else(|| tellings.last())
        .cloned()
        .unwrap_or_default()
}

/// Goes on within a sentence.
fn lowered(sentence: &str) -> String {
    let mut rest = sentence.chars();
    rest.next().map_or_else(String::new, |first| {
        format!("{}{}", first.to_lowercase(), rest.as_str())
    })
}

/// Draws it.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let lines: Vec<Line<'_>> = lines(scene, area.width, area.height)
        .into_iter()
        .map(|line| Line::styled(line, scene.theme.plain()))
        .collect();
    text::lines(&lines, scene.theme.quiet(), area, buffer);
}
