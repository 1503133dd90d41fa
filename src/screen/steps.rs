//! The steps in order, each with where it is or what it found.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;

use crate::check::notice::{Phase, Proof, StepName, StepResult, Verdict, Wants};
use crate::check::{CheckView, StepView};
use crate::screen::{Scene, text};

/// Columns that a list of steps wants when it stands beside the trace.
pub(super) const COLUMNS: u16 = 33;

/// Columns from which on proof and coverage are told too.
const WIDE: u16 = 68;

/// Columns from which on there is room for the proof alone.
const PROOF: u16 = 42;

/// The sign of a verdict; its word always stands beside it.
pub(super) const fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "✓",
        Verdict::Fail => "✗",
        Verdict::Retest => "↻",
    }
}

/// Rows that the list wants, its heading with it.
pub(super) fn rows(scene: &Scene<'_>) -> u16 {
    let steps = scene
        .session
        .check()
        .map_or(0, |check| check.view().steps.len());
    u16::try_from(steps).unwrap_or(u16::MAX).saturating_add(1)
}

/// Draws the heading and the list; the step under way stays in view.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let Some(check) = scene.session.check() else {
        return;
    };
    let theme = scene.theme;
    let view = check.view();
    let (top, list) = crate::screen::stack::top_row(area);
    let heading = heading(&view, area.width);
    text::heading(&heading, [theme.strong(), theme.quiet()], top, buffer);
    let mut lines: Vec<Line<'_>> = view
        .steps
        .iter()
        .enumerate()
        .map(|(index, step)| row(scene, &view, index, step, area.width))
        .collect();
    let rows = usize::from(list.height);
    let done = view
        .steps
        .iter()
        .take_while(|step| step.result.is_some())
        .count();
    if lines.len() > rows && done + 1 >= rows && rows >= 2 {
        // What is done goes first; it comes back with the verdict.
        let gone = (done + 2).saturating_sub(rows).min(lines.len());
        lines.drain(..gone);
        let text = format!("… {gone} done");
        lines.insert(0, Line::styled(text, theme.quiet()));
    }
    text::lines(&lines, theme.quiet(), list, buffer);
}

/// The heading; where the proof stands alone it has one of its own.
fn heading(view: &CheckView<'_>, columns: u16) -> String {
    let proven = view.steps.iter().any(|step| step.result.is_some());
    if proven && (PROOF..WIDE).contains(&columns) {
        format!("steps {} contact", "─".repeat(27))
    } else {
        "steps".to_owned()
    }
}

fn row(
    scene: &Scene<'_>,
    view: &CheckView<'_>,
    index: usize,
    step: &StepView<'_>,
    columns: u16,
) -> Line<'static> {
    let name = label(&step.name);
    let (state, style): ([String; 3], Style) = match step.result {
        Some(result) => found(scene, step.wants, result),
        None if is_now(scene, view, index) => (under_way(scene, view), scene.theme.task()),
        None => (
            ["·".to_owned(), "to do".to_owned(), step.wants.to_string()],
            scene.theme.quiet(),
        ),
    };
    let [sign, word, value] = state;
    let mut text = format!("{sign} {word:<8} {name:<11} {value:<10}");
    if let Some(result) = step.result {
        let (proof, short) = contact(result.proof);
        if columns >= WIDE {
            let coverage = (100.0 * result.coverage).floor();
            text = format!("{text} contact {proof:<12} coverage {coverage:>3.0} %");
        } else if columns >= PROOF {
            text = format!("{text} {short}");
        }
    }
    Line::styled(text::shortened(text.trim_end(), columns), style)
}

/// A step's name in a narrow list: of a step on two nets, the nets, joined or apart.
pub(super) fn label(name: &StepName) -> String {
    match (name.strip_prefix("isolation-"), name.strip_prefix("loop-")) {
        (Some(nets), _) => nets.replacen('-', "|", 1),
        (_, Some(nets)) => nets.replacen('-', "+", 1),
        _ => name.to_string(),
    }
}

/// How it is known that the probes were on the work, and the same in short.
const fn contact(proof: Proof) -> (&'static str, &'static str) {
    match proof {
        Proof::Seen => ("seen", "seen"),
        Proof::Operator => ("on your word", "your word"),
    }
}

/// Sign, word and value of a step that is over.
fn found(scene: &Scene<'_>, wants: Wants, result: &StepResult) -> ([String; 3], Style) {
    let value = match (result.ohms, wants) {
        (Some(ohms), _) => ohms.to_string(),
        (None, Wants::Open | Wants::Value) => "OL".to_owned(),
        (None, Wants::Closed | Wants::Sweep) => "no value".to_owned(),
    };
    let parts = [
        sign(result.verdict).to_owned(),
        result.verdict.word().to_uppercase(),
        value,
    ];
    (parts, scene.theme.verdict(result.verdict))
}

/// Sign, word and value of the step under way.
fn under_way(scene: &Scene<'_>, view: &CheckView<'_>) -> [String; 3] {
    let (mut word, mut value) = ("waiting", String::new());
    if let Some(track) = &view.track {
        word = track.phase.word();
    }
    if let Some(step) = view.now {
        word = step.phase().word();
        if step.phase() == Phase::Flexing
            && let Some(flexing) = step.flexing()
        {
            value = format!("{} of {}", flexing.bend_number(), flexing.pacing.flexes);
        }
    }
    if !scene.session.watchdog().is_well() {
        word = "stopped";
    }
    ["▸".to_owned(), word.to_owned(), value]
}

/// Whether the step of this index is the one under way.
fn is_now(scene: &Scene<'_>, view: &CheckView<'_>, index: usize) -> bool {
    let turned = view.track.as_ref().and_then(|track| track.step);
    scene.session.outcome().is_none()
        && (view.now.is_some() || turned.is_some())
        && view
            .steps
            .iter()
            .take_while(|step| step.result.is_some())
            .count()
            == index
}
