//! A stock under way: which lead now, which next, how many are left, and the tally beside what
//! every check shows.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget as _;

use crate::check::notice::Verdict;
use crate::check::stock::{Next, Tally, What};
use crate::screen::prompt::Prompt;
use crate::screen::stack::{Band, Rank, beside, stack, top_row};
use crate::screen::view::{Stage, StockView};
use crate::screen::{Scene, ScreenEntry, big, frame, reading, steps, text, trace, trouble};

/// Shown when there is a stock.
pub(super) const SCREEN: ScreenEntry = ScreenEntry {
    wanted: |scene| scene.stock.is_some(),
    draw,
};

/// From this width on the trace has room beside tally and steps.
const WIDE: u16 = 110;

/// Columns of the tally.
const TALLY: u16 = 34;

fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let Some(stock) = scene.stock else { return };
    let tally = stock.stock.tally();
    let prompt = prompt(scene, stock, &tally);
    let said = prompt
        .sentence
        .as_ref()
        .map_or_else(Vec::new, |said| text::wrap(said, area.width));
    let troubles = rows(trouble::lines(scene, area.width).len());
    let list = steps::rows(scene).max(rows(tally_lines(scene, &tally).len() + 1));
    let bands = [
        Band::fixed(Rank::Header, 1),
        Band::fixed(Rank::Note, 1),
        Band::fixed(Rank::Prompt, 1),
        Band::growing(reading::heights(area)),
        Band::text(Rank::Trouble, troubles),
        Band::growing(big::heights(
            prompt.letters(),
            area,
            [Rank::Prompt, Rank::LargePrompt],
        )),
        Band::fixed(Rank::Prompt, u16::from(prompt.has_bar())),
        Band::text(Rank::Prompt, rows(said.len())),
        Band::air(area),
        Band::growing(vec![(Rank::Steps, 5), (Rank::Trace, list)])
            .shrinking()
            .filling(),
        Band::air(area),
        Band::fixed(Rank::Caution, 1),
        Band::fixed(Rank::Keys, 1),
    ];
    let [
        head,
        rule,
        turn,
        top,
        notes,
        headline,
        bar,
        sentence,
        _,
        body,
        _,
        caution,
        keys,
    ] = stack(area, &bands);
    frame::header(scene, head, buffer);
    frame::rule(scene, rule, buffer);
    draw_turn(scene, (stock, &tally), turn, buffer);
    reading::draw(scene, top, buffer);
    trouble::draw(scene, notes, buffer);
    prompt.headline(headline, buffer);
    prompt.bar(scene, bar, buffer);
    let said: Vec<Line<'_>> = said
        .iter()
        .map(|line| Line::styled(line.as_str(), scene.theme.strong()))
        .collect();
    text::lines(&said, scene.theme.quiet(), sentence, buffer);
    draw_body(scene, &tally, body, buffer);
    frame::caution(scene, caution, buffer);
    frame::footer(scene, keys, buffer);
}

/// Tally and steps side by side, and the trace where there is room.
fn draw_body(scene: &Scene<'_>, tally: &Tally, area: Rect, buffer: &mut Buffer) {
    let (left, right) = beside(area, TALLY.max(area.width / 3).min(44), 2);
    draw_tally(scene, tally, left, buffer);
    let under_way = scene.session.check().is_some();
    if area.width >= WIDE && under_way {
        let (list, rest) = beside(right, steps::COLUMNS + 6, 2);
        steps::draw(scene, list, buffer);
        trace::draw(scene, rest, buffer);
    } else if under_way {
        steps::draw(scene, right, buffer);
    } else {
        draw_last(scene, right, buffer);
    }
}

/// What is to be done: within a lead what its check says, between leads what the stock does.
fn prompt(scene: &Scene<'_>, stock: &StockView<'_>, tally: &Tally) -> Prompt {
    let next = coming(stock).map_or_else(String::new, |tag| format!(" Next: {tag}."));
    match stock.stage {
        Stage::Lead => Prompt::of(scene),
        Stage::Lift => Prompt::saying(
            scene,
            "LIFT",
            format!("Lift the probes and lay the lead aside.{next}"),
        ),
        Stage::Tag => {
            let again = match stock.stock.next() {
                Next::Ask(Some(turn)) => format!(" Enter alone takes {} again.", turn.tag),
                _ => String::new(),
            };
            Prompt::saying(
                scene,
                &format!("TAG: {}_", stock.typed),
                format!("Type or scan the next lead's tag, then Enter.{again}"),
            )
        }
        Stage::Paused => Prompt::saying(
            scene,
            "PAUSED",
            format!("Nothing is judged. p goes on.{next}"),
        ),
        Stage::Lost => Prompt::saying(
            scene,
            "PORT LOST",
            format!("Plug the meter's cable in again; the stock goes on by itself.{next}"),
        ),
        Stage::Over => {
            let (verdict, _) = stock.stock.verdict();
            let word = verdict.word().to_uppercase();
            Prompt::saying(
                scene,
                &word,
                format!("The stock is done. {}.", tally.words().join(". ")),
            )
        }
    }
}

fn coming(stock: &StockView<'_>) -> Option<String> {
    match stock.stock.next() {
        Next::Lead(turn) => Some(turn.tag),
        Next::Ask(_) => stock.ahead.first().cloned(),
        Next::Over => None,
    }
}

/// Which lead now, which next, how many left.
fn draw_turn(
    scene: &Scene<'_>,
    (stock, tally): (&StockView<'_>, &Tally),
    row: Rect,
    buffer: &mut Buffer,
) {
    let theme = scene.theme;
    let mut spans = vec![Span::styled(stock.stock.plan().name.clone(), theme.quiet())];
    if let Some(turn) = stock.turn {
        let of = turn.of.map_or_else(String::new, |of| format!(" of {of}"));
        spans.push(Span::styled(format!("  now {}", turn.tag), theme.task()));
        spans.push(Span::raw(format!("  {}{of}", turn.number)));
        if turn.attempt > 1 {
            spans.push(Span::raw(format!(", attempt {}", turn.attempt)));
        }
    }
    if let Some(tag) = after(stock) {
        spans.push(Span::styled("  next ", theme.quiet()));
        spans.push(Span::styled(tag, theme.strong()));
    }
    if let [_, more @ ..] = stock.ahead
        && !more.is_empty()
    {
        spans.push(Span::raw(format!(", then {}", more.join(", "))));
    }
    if let Some(left) = tally.left() {
        spans.push(Span::styled(format!("  {left} left"), theme.plain()));
    }
    Line::from(spans).render(row, buffer);
}

/// The tag after the one now, which is the next where none is.
fn after(stock: &StockView<'_>) -> Option<String> {
    let Some(turn) = stock.turn else {
        return coming(stock);
    };
    // As if this one were left out: what comes then comes after it.
    let mut without = stock.stock.clone();
    without.skip(&turn.tag);
    match without.next() {
        Next::Lead(next) => Some(next.tag),
        Next::Ask(_) | Next::Over => None,
    }
}

fn draw_tally(scene: &Scene<'_>, tally: &Tally, area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, list) = top_row(area);
    text::heading("tally", [theme.strong(), theme.quiet()], top, buffer);
    text::lines(&tally_lines(scene, tally), theme.quiet(), list, buffer);
}

fn tally_lines(scene: &Scene<'_>, tally: &Tally) -> Vec<Line<'static>> {
    let theme = scene.theme;
    let verdict = |verdict: Verdict, count: u32, more: String| {
        let word = verdict.word().to_uppercase();
        let sign = steps::sign(verdict);
        let style = if count > 0 {
            theme.verdict(verdict)
        } else {
            theme.quiet()
        };
        Line::styled(format!("{sign} {word:<7} {count:>4}{more}"), style)
    };
    let again = match tally.again {
        0 => String::new(),
        again => format!("  {again} to try again"),
    };
    let mut lines = vec![
        verdict(Verdict::Pass, tally.pass, String::new()),
        verdict(Verdict::Fail, tally.fail, String::new()),
        verdict(Verdict::Retest, tally.retest, again),
    ];
    if tally.skipped > 0 {
        let text = format!("- LEFT OUT {:>3}", tally.skipped);
        lines.push(Line::styled(text, theme.quiet()));
    }
    for (finding, count) in &tally.findings {
        lines.push(Line::styled(format!("{count:>3} {finding}"), Style::new()));
    }
    lines
}

/// What the last lead came to.
fn draw_last(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let Some(row) = scene.stock.and_then(|stock| stock.last) else {
        return;
    };
    let What::Done(attempt) = &row.what else {
        return;
    };
    let theme = scene.theme;
    let (top, list) = top_row(area);
    text::heading("last", [theme.strong(), theme.quiet()], top, buffer);
    let standing = scene.stock.and_then(|stock| stock.stock.standing(&row.tag));
    let stands = standing
        .and_then(|lead| lead.verdict)
        .unwrap_or(attempt.verdict);
    let word = stands.word().to_uppercase();
    let this_time = if stands == attempt.verdict {
        String::new()
    } else {
        format!(" (this time {})", attempt.verdict.word())
    };
    let mut lines = vec![Line::styled(
        format!("{} {} {word}{this_time}", steps::sign(stands), row.tag),
        theme.verdict(stands),
    )];
    for why in text::wrap(&attempt.reasons, list.width) {
        lines.push(Line::raw(why));
    }
    text::lines(&lines, theme.quiet(), list, buffer);
}

fn rows(count: usize) -> u16 {
    u16::try_from(count).unwrap_or(u16::MAX)
}
