//! The check is over: the verdict, large, and what it rests on.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

use crate::check::notice::CheckResult;
use crate::screen::stack::{Band, Rank, beside, stack, top_row};
use crate::screen::{
    Scene, ScreenEntry, big, blind, frame, states, steps, text, trace, track, trouble,
};

/// Shown once there is a verdict.
pub(super) const SCREEN: ScreenEntry = ScreenEntry {
    wanted: |scene| scene.session.history().verdict().is_some(),
    draw,
};

/// From this width on trace and reasons stand side by side.
const WIDE: u16 = 108;

/// From this width on the steps stand beside the verdict.
const BESIDE: u16 = 76;

fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let Some(result) = scene.session.history().verdict() else {
        return;
    };
    let (wide, beside_it) = (area.width >= WIDE, stands_beside(scene, area));
    let list = states::list_rows(scene, area.width);
    let mut heights = big::heights(LETTERS, area, [Rank::Reading, Rank::LargeReading]);
    if beside_it && let Some((_, large)) = heights.get_mut(1) {
        *large = (*large).max(list);
    }
    let reasons = reasons(result, if wide { area.width / 2 } else { area.width });
    let wanted = rows(reasons.len()).saturating_add(1);
    let bands = [
        Band::fixed(Rank::Header, 1),
        Band::fixed(Rank::Note, 1),
        Band::growing(heights),
        Band::fixed(Rank::Prompt, 1),
        Band::text(Rank::Trouble, rows(trouble::lines(scene, area.width).len())),
        Band::text(Rank::Steps, if beside_it { 0 } else { list }),
        Band::air(area),
        Band::growing(vec![(Rank::Steps, wanted.min(4)), (Rank::Trace, wanted)])
            .shrinking()
            .filling(),
        Band::air(area),
        blind::band(scene),
        Band::fixed(Rank::Caution, 1),
        Band::fixed(Rank::Keys, 1),
    ];
    let [
        head,
        rule,
        top,
        plain,
        notes,
        list,
        _,
        body,
        _,
        blind_area,
        caution,
        keys,
    ] = stack(area, &bands);
    let style = scene.theme.verdict(result.verdict);
    frame::header(scene, head, buffer);
    frame::rule(scene, rule, buffer);
    let word = result.verdict.word().to_uppercase();
    let (left, right) = beside(top, if wide { area.width / 2 } else { WORD }, 2);
    big::draw(&word, style, if beside_it { left } else { top }, buffer);
    states::draw_list(scene, if beside_it { right } else { list }, buffer);
    text::line(&sentence(result), style, plain, buffer);
    trouble::draw(scene, notes, buffer);
    if wide {
        let (left, right) = beside(body, area.width / 2, 2);
        draw_reasons(scene, &reasons, left, buffer);
        draw_beside(scene, right, buffer);
    } else {
        draw_reasons(scene, &reasons, body, buffer);
    }
    blind::draw(scene, blind_area, buffer);
    frame::caution(scene, caution, buffer);
    frame::footer(scene, keys, buffer);
}

/// The track of a control, or else the trace.
fn draw_beside(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    match track::view(scene) {
        Some(view) => track::strip(scene, &view, area, buffer),
        None => trace::draw(scene, area, buffer),
    }
}

/// Whether the steps stand beside the verdict; states want the whole width.
fn stands_beside(scene: &Scene<'_>, area: Rect) -> bool {
    area.width >= BESIDE && states::of(scene).is_none()
}

/// Letters of the longest verdict.
const LETTERS: u16 = 6;

/// Columns of the verdict where the steps stand beside it.
const WORD: u16 = 33;

fn rows(count: usize) -> u16 {
    u16::try_from(count).unwrap_or(u16::MAX)
}

/// Sign, word and meaning in one line.
fn sentence(result: &CheckResult) -> String {
    use crate::check::notice::Verdict;
    let meaning = match result.verdict {
        Verdict::Pass if result.check == crate::check::rewire::NAME => {
            "every state reads within its band; not every fault shows there"
        }
        Verdict::Pass => "all steps seen whole, and no fault in them",
        Verdict::Fail => "a fault was seen",
        Verdict::Retest => "the evidence carries neither pass nor fail",
    };
    format!(
        "{} {} {}: {meaning}",
        steps::sign(result.verdict),
        result.check,
        result.verdict.word().to_uppercase()
    )
}

/// The reasons, wrapped, each behind a dash.
fn reasons(result: &CheckResult, columns: u16) -> Vec<String> {
    const LEAD: &str = "- ";
    let room = columns.saturating_sub(text::width(LEAD));
    result
        .reasons
        .iter()
        .flat_map(|reason| {
            let lines = text::wrap(reason, room).into_iter().enumerate();
            lines.map(|(index, line)| {
                let lead = if index == 0 { LEAD } else { "  " };
                format!("{lead}{line}")
            })
        })
        .collect()
}

fn draw_reasons(scene: &Scene<'_>, reasons: &[String], area: Rect, buffer: &mut Buffer) {
    let theme = scene.theme;
    let (top, list) = top_row(area);
    text::heading("why", [theme.strong(), theme.quiet()], top, buffer);
    let lines: Vec<Line<'_>> = reasons
        .iter()
        .map(|line| Line::raw(line.as_str()))
        .collect();
    text::lines(&lines, theme.strong(), list, buffer);
}
