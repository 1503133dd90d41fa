//! A check under way: the reading, what to do now, the steps, the trace.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::screen::prompt::Prompt;
use crate::screen::stack::{Band, Rank, beside, stack};
use crate::screen::{
    Scene, ScreenEntry, big, blind, frame, reading, states, steps, text, trace, track, trouble,
};

/// Shown when no other screen is.
pub(super) const SCREEN: ScreenEntry = ScreenEntry {
    wanted: |_| true,
    draw,
};

/// From this width on the steps stand beside the reading and the trace has the whole width.
const WIDE: u16 = 110;

/// From this height on the sentence stands in big letters too.
const TALL: u16 = 44;

/// Columns of the reading where something stands beside it.
const READING: u16 = 68;

fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let prompt = Prompt::of(scene);
    let wide = is_wide(area) && states::of(scene).is_none();
    let sentence = sentence(&prompt, area);
    let [
        head,
        rule,
        top,
        note,
        trouble_area,
        _,
        headline,
        bar,
        said,
        _,
        body,
        _,
        blind_area,
        caution,
        keys,
    ] = stack(area, &bands(scene, &prompt, sentence.1, area));
    frame::header(scene, head, buffer);
    frame::rule(scene, rule, buffer);
    reading::note(scene, note, buffer);
    trouble::draw(scene, trouble_area, buffer);
    prompt.headline(headline, buffer);
    prompt.bar(scene, bar, buffer);
    draw_sentence(scene, &sentence.0, said, buffer);
    if wide {
        let (left, right) = beside(top, READING, 2);
        reading::draw(scene, left, buffer);
        steps::draw(scene, right, buffer);
        match track::view(scene) {
            Some(view) => track::draw(scene, &view, body, buffer),
            None => trace::draw(scene, body, buffer),
        }
    } else {
        reading::draw(scene, top, buffer);
        draw_body(scene, body, buffer);
    }
    blind::draw(scene, blind_area, buffer);
    frame::caution(scene, caution, buffer);
    frame::footer(scene, keys, buffer);
}

/// Whether the steps stand beside the reading.
const fn is_wide(area: Rect) -> bool {
    /// Rows from which on the reading is large enough to have a list beside it.
    const ROWS: u16 = 18;
    area.width >= WIDE && area.height >= ROWS
}

/// The bands from top to bottom.
fn bands(scene: &Scene<'_>, prompt: &Prompt, sentence: u16, area: Rect) -> [Band; 15] {
    let ranks = [Rank::Prompt, Rank::LargePrompt];
    let list = match (track::view(scene), states::of(scene)) {
        (Some(view), _) => track::rows(&view),
        (None, Some(view)) => states::rows(&view, area.width),
        _ if is_wide(area) => 1,
        _ => steps::rows(scene),
    };
    [
        Band::fixed(Rank::Header, 1),
        Band::fixed(Rank::Note, 1),
        Band::growing(reading::heights(area)),
        Band::fixed(Rank::Note, 1),
        Band::text(Rank::Trouble, rows(trouble::lines(scene, area.width).len())),
        Band::air(area),
        Band::growing(big::heights(prompt.letters(), area, ranks)),
        Band::fixed(Rank::Prompt, u16::from(prompt.has_bar())),
        Band::text(Rank::Prompt, sentence),
        Band::air(area),
        Band::growing(vec![(Rank::Steps, list), (Rank::Trace, list.max(7))]).filling(),
        Band::air(area),
        blind::band(scene),
        Band::fixed(Rank::Caution, 1),
        Band::fixed(Rank::Keys, 1),
    ]
}

/// Steps and trace: side by side, or one above the other on a narrow screen.
fn draw_body(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    /// Columns below which two things side by side are both too narrow.
    const BOTH: u16 = 64;
    if let Some(view) = track::view(scene).filter(|_| area.width >= BOTH) {
        return track::draw(scene, &view, area, buffer);
    }
    if let Some(view) = states::of(scene) {
        return states::draw(scene, &view, area, buffer);
    }
    if area.width >= BOTH {
        let (left, right) = beside(area, steps::COLUMNS, 2);
        steps::draw(scene, left, buffer);
        trace::draw(scene, right, buffer);
    } else {
        let height = steps::rows(scene).min(area.height);
        steps::draw(scene, Rect { height, ..area }, buffer);
        let rest = Rect {
            y: area.y.saturating_add(height),
            height: area.height - height,
            ..area
        };
        trace::draw(scene, rest, buffer);
    }
}

/// The sentence in lines, and the rows they take.
fn sentence(prompt: &Prompt, area: Rect) -> (Vec<String>, u16) {
    /// Lines of big letters that leave room for the trace.
    const MOST: usize = 3;
    let Some(said) = &prompt.sentence else {
        return (Vec::new(), 0);
    };
    let large = text::wrap(said, area.width / big::COLUMNS);
    // Once the bending goes on, the trace is worth more than the sentence.
    if prompt.bend.is_none() && area.height >= TALL && area.width >= WIDE && large.len() <= MOST
    {
        let height = rows(large.len()).saturating_mul(big::ROWS);
        return (large, height);
    }
    let plain = text::wrap(said, area.width);
    let height = rows(plain.len());
    (plain, height)
}

fn draw_sentence(scene: &Scene<'_>, lines: &[String], area: Rect, buffer: &mut Buffer) {
    let style = scene.theme.strong();
    if usize::from(area.height) > lines.len() {
        return big::paragraph(lines, style, area, buffer);
    }
    let lines: Vec<_> = lines
        .iter()
        .map(|line| ratatui::text::Line::styled(line.as_str(), style))
        .collect();
    text::lines(&lines, scene.theme.quiet(), area, buffer);
}

fn rows(count: usize) -> u16 {
    u16::try_from(count).unwrap_or(u16::MAX)
}
