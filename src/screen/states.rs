//! A rewire's states: expected against measured, the likeliest faults, the next probe.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

use crate::check::notice::Phase;
use crate::check::rewire::{RewireView, StateLine};
use crate::circuit::diagnosis::Seen;
use crate::reading::Ohms;
use crate::screen::{Scene, steps, text};

/// Columns of what was measured and of the band.
const MEASURED: usize = 11;
const BAND: usize = 22;
/// Columns of what sets an explanation apart, at least.
const PARTED: u16 = 12;
/// Lines of the likeliest explanation, at most.
const WRAPPED: usize = 5;
/// Columns of sign and word.
const SIGN: usize = 9;

/// The rewire under check, if one is.
pub(super) fn of<'a>(scene: &'a Scene<'_>) -> Option<RewireView<'a>> {
    scene.session.check()?.rewire()
}

/// Rows that the list wants in so many columns.
pub(super) fn rows(view: &RewireView<'_>, columns: u16) -> u16 {
    let told = told(view.likeliest, columns).len() + usize::from(view.next.is_some());
    let rows = 1 + view.states.len() + told;
    u16::try_from(rows).unwrap_or(u16::MAX)
}

/// Rows that the list of states wants, or that of steps where there are none.
pub(super) fn list_rows(scene: &Scene<'_>, columns: u16) -> u16 {
    match of(scene) {
        Some(view) => rows(&view, columns),
        None => steps::rows(scene),
    }
}

/// Draws the list of states, or that of steps where there are none.
pub(super) fn draw_list(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    match of(scene) {
        Some(view) => draw(scene, &view, area, buffer),
        None => steps::draw(scene, area, buffer),
    }
}

/// What is to be done now, in a word or two.
pub(super) const fn headline(phase: Phase) -> &'static str {
    match phase {
        Phase::Confirm => "SET, THEN ENTER",
        Phase::Settling | Phase::Still => "HOLD STILL",
        _ => "SET",
    }
}

/// Draws the list; the state under way stays in view, and what was found stands below it.
pub(super) fn draw(scene: &Scene<'_>, view: &RewireView<'_>, area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, list) = crate::screen::stack::top_row(area);
    text::heading(
        "state, measured, expected",
        [theme.strong(), theme.quiet()],
        top,
        buffer,
    );
    let now = view.states.iter().position(|state| state.verdict.is_none());
    let mut lines: Vec<Line<'_>> = view
        .states
        .iter()
        .enumerate()
        .map(|(index, state)| row(scene, view, (state, now == Some(index)), area.width))
        .collect();
    let mut found: Vec<Line<'_>> = told(view.likeliest, area.width)
        .into_iter()
        .chain(view.next.map(|next| text::shortened(next, area.width)))
        .map(|told| Line::styled(told, theme.strong()))
        .collect();
    let height = usize::from(list.height);
    // The likeliest fault is worth more than a state long read.
    found.truncate(height.saturating_sub(3).max(1));
    let room = height.saturating_sub(found.len());
    let reach = now.map_or(lines.len(), |now| now + 2).min(lines.len());
    if lines.len() > room && reach > room && room >= 2 {
        let gone = (reach + 1).saturating_sub(room);
        lines.drain(..gone);
        lines.insert(0, Line::styled(format!("… {gone} done"), theme.quiet()));
    }
    lines.truncate(room);
    lines.extend(found);
    text::lines(&lines, theme.quiet(), list, buffer);
}

/// The explanations in their columns: the likeliest whole, the others in a line each with their
/// chance at the end, and cut so that no two look alike. Words that are common with one before are left out where the difference would be
/// cut off.
fn told(likeliest: &[String], columns: u16) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for (index, whole) in likeliest.iter().enumerate() {
        let (words, chance) = match whole.rfind(" (") {
            Some(at) if whole.ends_with(')') => whole.split_at(at),
            _ => (whole.as_str(), ""),
        };
        if index == 0 {
            lines.extend(wrapped((words, chance), columns));
            continue;
        }
        let room = columns.saturating_sub(text::width(chance));
        let cut = |words: &str| text::shortened(words, room);
        let mut short = cut(words);
        let earlier = likeliest.iter().take(index);
        let shared = earlier.map(|other| common(words, other)).max().unwrap_or(0);
        let head = words.get(..shared).unwrap_or_default();
        // The cut comes before they part, or so soon after that little is seen of it.
        if text::width(words) > room && text::width(head).saturating_add(PARTED) > room {
            let rest = words.get(shared..).unwrap_or_default();
            short = cut(&format!("… {rest}"));
        }
        lines.push(format!("{short}{chance}"));
    }
    lines
}

/// The likeliest explanation over a few lines, its chance on the last.
fn wrapped((words, chance): (&str, &str), columns: u16) -> Vec<String> {
    let mut lines = text::wrap(&format!("{words}{chance}"), columns);
    if lines.len() > WRAPPED {
        lines.truncate(WRAPPED - 1);
        let shown: usize = lines.iter().map(|line| line.len() + 1).sum();
        let rest = words.get(shown..).unwrap_or_default();
        let room = columns.saturating_sub(text::width(chance));
        lines.push(format!("{}{chance}", text::shortened(rest, room)));
    }
    lines
}

/// Bytes of the words that two texts begin with alike.
fn common(one: &str, other: &str) -> usize {
    let alike = one.split_inclusive(' ').zip(other.split_inclusive(' '));
    alike
        .take_while(|(left, right)| left == right)
        .map(|(word, _)| word.len())
        .sum()
}

fn row(
    scene: &Scene<'_>,
    view: &RewireView<'_>,
    (state, now): (&StateLine, bool),
    columns: u16,
) -> Line<'static> {
    let theme = scene.theme;
    let (sign, word, style) = match state.verdict {
        Some(verdict) => (
            steps::sign(verdict),
            verdict.word().to_uppercase(),
            theme.verdict(verdict),
        ),
        None if now && view.phase.is_some() => ("▸", "now".to_owned(), theme.task()),
        None => ("·", "to do".to_owned(), theme.quiet()),
    };
    let measured = match state.seen {
        Some(seen) if seen.unsteady => "unsteady".to_owned(),
        Some(seen) => match seen.seen {
            Seen::Ohms(ohms) => Ohms(ohms).to_string(),
            Seen::Over { .. } => "OL".to_owned(),
        },
        None if state.verdict.is_some() => "no value".to_owned(),
        None => String::new(),
    };
    let name = usize::from(columns).saturating_sub(SIGN + MEASURED + BAND + 3);
    let short = text::shortened(&state.name, u16::try_from(name).unwrap_or(u16::MAX));
    let band = state.band.to_string();
    let row = format!("{sign} {word:<7} {short:<name$} {measured:>MEASURED$} {band:>BAND$}");
    Line::styled(text::shortened(row.trim_end(), columns), style)
}
