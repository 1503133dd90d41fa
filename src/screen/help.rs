//! Every key, the cautions, and what the signs mean.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use crate::check::notice::Verdict;
use crate::keys::{KEYS, Key, KeyAction};
use crate::screen::stack::{Band, Rank, stack};
use crate::screen::{Panel, Scene, ScreenEntry, frame, steps, text};

/// Shown when it is asked for.
pub(super) const SCREEN: ScreenEntry = ScreenEntry {
    wanted: |scene| scene.view.panel == Panel::Help,
    draw,
};

/// What to take care of (common practice, no source).
const CAUTIONS: [&str; 4] = [
    frame::CAUTION,
    "Never put an ohmmeter on an amplifier or on anything that is switched on.",
    "Keep fingers off the probe tips: skin reads as leakage.",
    "Range on the lowest for tip and sleeve, on the highest or on auto for isolation.",
];

/// What the trace shows.
const TRACE: [&str; 3] = [
    "top row OL, over-range; a hole where no reading came",
    "dashed line: the limit of the step; dotted line: where an event ends again",
    "below it B break, T touch, F flicker",
];

fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let bands = [
        Band::fixed(Rank::Header, 1),
        Band::fixed(Rank::Note, 1),
        Band::fixed(Rank::Reading, 1).filling(),
        Band::fixed(Rank::Caution, 1),
        Band::fixed(Rank::Keys, 1),
    ];
    let [head, rule, body, caution, keys] = stack(area, &bands);
    frame::header(scene, head, buffer);
    frame::rule(scene, rule, buffer);
    let lines = lines(scene, body.width);
    let past = lines.len().saturating_sub(usize::from(body.height));
    let past = past.min(usize::from(scene.view.scrolled));
    let shown = lines.get(past..).unwrap_or_default();
    text::lines(shown, scene.theme.strong(), body, buffer);
    frame::caution(scene, caution, buffer);
    frame::footer(scene, keys, buffer);
}

fn lines(scene: &Scene<'_>, columns: u16) -> Vec<Line<'static>> {
    let theme = scene.theme;
    let heading = |text: &'static str| Line::styled(text, theme.strong());
    let mut lines = vec![heading("keys")];
    let works =
        |key: &&Key| scene.stock.is_some() || !matches!(key.action, KeyAction::Stock(_));
    for key in KEYS.iter().filter(works) {
        lines.extend(item(scene, key.name, key.long, columns));
    }
    lines.push(heading("cautions"));
    for caution in CAUTIONS {
        lines.extend(item(scene, "!", caution, columns));
    }
    lines.push(heading("verdicts"));
    for (verdict, meaning) in [
        (Verdict::Pass, "all steps seen whole, and no fault in them"),
        (Verdict::Fail, "a fault was seen"),
        (
            Verdict::Retest,
            "the evidence carries neither of the others",
        ),
    ] {
        let text = format!("{}: {meaning}", verdict.word().to_uppercase());
        lines.extend(item(scene, steps::sign(verdict), &text, columns));
    }
    lines.push(heading("trace"));
    for text in TRACE {
        lines.extend(item(scene, "", text, columns));
    }
    lines
}

/// A name and its text, wrapped beside it.
fn item(scene: &Scene<'_>, name: &str, said: &str, columns: u16) -> Vec<Line<'static>> {
    const NAME: u16 = 8;
    text::wrap(said, columns.saturating_sub(NAME))
        .into_iter()
        .enumerate()
        .map(|(index, part)| {
            let name = if index == 0 { name } else { "" };
            Line::from_iter([
                Span::styled(format!("  {name:<6}"), scene.theme.strong()),
                Span::raw(part),
            ])
        })
        .collect()
}
