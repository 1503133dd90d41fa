//! The reading, large, and the line of facts below it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget as _;

use crate::check::notice::{Trouble, Wants};
use crate::check::step::Rest;
use crate::reading::{Ohms, Reading, Seconds};
use crate::screen::stack::Rank;
use crate::screen::{Scene, big, text};

/// Letters that every ordinary resistance fits in: `-0.318 Ω`, `100.0 kΩ`.
pub(super) const LETTERS: u16 = 8;

/// The resistance of the probe leads, if it was taken.
pub(super) fn tare(scene: &Scene<'_>) -> Option<Ohms> {
    scene.session.check()?.view().tare
}

/// The heights worth giving to the reading, smallest first.
pub(super) fn heights(area: Rect) -> Vec<(Rank, u16)> {
    big::heights(LETTERS, area, [Rank::Reading, Rank::LargeReading])
}

/// Draws the reading as large as the area allows.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let shown = scene.session.history().last().map_or_else(
        || text::BLANK.to_owned(),
        |last| text::reading(&last.measured, tare(scene)),
    );
    let style = if stalled(scene).is_some() {
        scene.theme.quiet()
    } else {
        scene.theme.strong()
    };
    big::draw(&shown, style, area, buffer);
}

/// How old the reading is, if it is older than it should be.
fn stalled(scene: &Scene<'_>) -> Option<Seconds> {
    let session = scene.session;
    let last = session.history().last()?;
    let gone = session
        .watchdog()
        .active()
        .any(|trouble| matches!(trouble, Trouble::Stalled | Trouble::Lost));
    (gone && session.outcome().is_none()).then(|| scene.now.since(last.at))
}

/// Draws the facts that belong to the reading, as many as fit.
pub(super) fn note(scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
    let mut line = Line::default();
    for (label, fact) in facts(scene) {
        let gap = if line.width() == 0 { "" } else { "   " };
        let entry = [
            Span::raw(gap),
            Span::styled(label, scene.theme.quiet()),
            Span::styled(fact, scene.theme.plain()),
        ];
        let wide = line.width() + entry.iter().map(Span::width).sum::<usize>();
        if wide > usize::from(row.width) {
            break;
        }
        line.extend(entry);
    }
    line.render(row, buffer);
}

/// Labels and facts, the most needed first.
pub(super) fn facts(scene: &Scene<'_>) -> Vec<(&'static str, String)> {
    let session = scene.session;
    let mut facts = Vec::new();
    match session.history().last() {
        None => facts.push(("", "no reading yet".to_owned())),
        Some(Reading { measured, .. }) => {
            if let Some(age) = stalled(scene) {
                facts.push(("", format!("{:.1} s old", age.0)));
            }
            if !measured.quantity.is_resistance() {
                facts.push(("", format!("the meter is on {}", measured.quantity.plain())));
            }
        }
    }
    let Some(check) = session.check() else {
        return facts;
    };
    let view = check.view();
    let off = view.tare.map_or(0.0, |tare| tare.0);
    if let Some(tare) = view.tare {
        facts.push(("tare taken off ", tare.to_string()));
    }
    if let Some(step) = view.now {
        facts.push(("wanted ", step.plan().wants().to_string()));
        match step.rest() {
            Some(Rest::Closed(rest)) => {
                facts.push(("at rest ", Ohms(rest.raw.0 - off).to_string()));
                facts.push(("break above ", Ohms(rest.enter.0 - off).to_string()));
            }
            Some(Rest::Open(rest)) => {
                facts.push(("touch below ", rest.enter.to_string()));
            }
            None => {
                let limit = match step.plan().wants() {
                    Wants::Closed => "at most ",
                    Wants::Open | Wants::Sweep => "at least ",
                    Wants::Value => "about ",
                };
                facts.push((limit, pass(step.plan()).to_string()));
            }
        }
    }
    facts
}

/// The limit a step passes at.
pub(super) const fn pass(plan: &crate::check::step::StepPlan) -> Ohms {
    use crate::check::step::Limit;
    match plan.limit {
        Limit::Closed { pass, .. } | Limit::Open { pass, .. } => pass,
    }
}
