//! Watching only: the reading, the trace, the statistics; no verdict.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::screen::stack::{Band, Rank, stack};
use crate::screen::{Scene, ScreenEntry, blind, frame, reading, statistics, trace, trouble};

/// Shown when no check is under way.
pub(super) const SCREEN: ScreenEntry = ScreenEntry {
    wanted: |scene| scene.session.check().is_none(),
    draw,
};

fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let troubles = trouble::lines(scene, area.width).len();
    let facts = reading::facts(scene).is_empty();
    let bands = [
        Band::fixed(Rank::Header, 1),
        Band::fixed(Rank::Note, 1),
        Band::growing(reading::heights(area)),
        Band::fixed(Rank::Note, u16::from(!facts)),
        Band::text(Rank::Trouble, u16::try_from(troubles).unwrap_or(u16::MAX)),
        Band::air(area),
        Band::text(Rank::Steps, statistics::rows(area.width)),
        Band::air(area),
        Band::growing(vec![(Rank::Trace, 4)]).filling(),
        Band::air(area),
        blind::band(scene),
        Band::fixed(Rank::Caution, 1),
        Band::fixed(Rank::Keys, 1),
    ];
    let [
        head,
        rule,
        top,
        note,
        troubles,
        _,
        numbers,
        _,
        body,
        _,
        blind_area,
        caution,
        keys,
    ] = stack(area, &bands);
    frame::header(scene, head, buffer);
    frame::rule(scene, rule, buffer);
    reading::draw(scene, top, buffer);
    reading::note(scene, note, buffer);
    trouble::draw(scene, troubles, buffer);
    statistics::draw(scene, numbers, buffer);
    trace::draw(scene, body, buffer);
    blind::draw(scene, blind_area, buffer);
    frame::caution(scene, caution, buffer);
    frame::footer(scene, keys, buffer);
}
