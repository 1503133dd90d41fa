//! The page of one check, or of the same check before and after.

use maud::{Markup, html};

use crate::check::notice::Verdict;
use crate::record::report::drawing;
use crate::record::report::input::{
    ReportInput, RunReport, Section, StateRow, States, Subject, Trace, Track,
};
use crate::record::report::sheet::sheet;
use crate::record::report::text;

/// Trace widths in millimetres: alone, and two side by side.
const WHOLE: f64 = 186.0;
const HALF: f64 = 90.5;
/// So many traces have room below each other, and so many values with all that is said of them in full size.
const MOST_WHOLE: usize = 4;

/// The report as one self-contained HTML page.
pub fn html(input: &ReportInput) -> String {
    let body = html! {
        (head(input))
        @let made_by = text::made_by(input);
        @if !made_by.is_empty() {
            p.made-by { (made_by.join(" · ")) }
        }
        main.many[input.run.rows().count() > MOST_WHOLE] {
            (runs(input))
            (sections(input))
            (notes(input))
        }
        (foot(input))
    };
    sheet(&text::title(input), None, &body)
}

fn head(input: &ReportInput) -> Markup {
    html! {
        header {
            h1 { bdi { (text::title(input)) } }
            p { (text::clean(&input.run.date)) }
        }
        (facts(&input.subject, &input.run))
    }
}

fn facts(subject: &Subject, run: &RunReport) -> Markup {
    let meter = &run.meter;
    html! {
        dl.facts {
            @for (label, given) in subject.entries() {
                div { dt { (label) } dd { bdi { (text::clean(given)) } } }
            }
            div { dt { "Meter format" } dd { (text::clean(&meter.format)) } }
            div { dt { "Readings" } dd { (text::interval(meter.interval, meter.documented)) } }
            div { dt { "From" } dd { bdi { (text::clean(&meter.source)) } } }
        }
    }
}

/// The verdicts, before and after side by side.
fn runs(input: &ReportInput) -> Markup {
    html! {
        @if let Some(before) = &input.before {
            div.runs.two {
                (verdict(before, Some("before")))
                (verdict(&input.run, Some("after")))
            }
        } @else {
            (verdict(&input.run, None))
        }
    }
}

fn verdict(run: &RunReport, which: Option<&str>) -> Markup {
    html! {
        section.verdict {
            (drawing::sign(run.verdict))
            div {
                @if let Some(which) = which {
                    p.of { (text::capital(which)) ", " (text::clean(&run.date)) }
                }
                h2.word { (run.verdict.word()) }
                @if which.is_some() && run.verdict == Verdict::Pass {
                    p { (text::all_passed(run)) }
                } @else if which.is_some() {
                    (list(&text::first_reasons(run)))
                } @else {
                    (list(&text::reasons(&run.reasons)))
                }
            }
        }
    }
}

pub(super) fn list(sentences: &[String]) -> Markup {
    html! {
        @if !sentences.is_empty() {
            ul {
                @for sentence in sentences { li { (text::sentence(&text::clean(sentence))) } }
            }
        }
    }
}

/// The sections of the run, each beside the same section of the run before.
fn sections(input: &ReportInput) -> Markup {
    let before = |index: usize| {
        input
            .before
            .as_ref()
            .and_then(|run| run.sections.get(index))
    };
    html! {
        @for (index, section) in input.run.sections.iter().enumerate() {
            @match (section, before(index)) {
                (Section::States(now), Some(Section::States(then))) => (states(&input.run, now, Some(then))),
                (Section::States(now), _) => (states(&input.run, now, None)),
                (Section::Traces(now), Some(Section::Traces(then))) => (traces_of_two(then, now)),
                (Section::Traces(now), _) => (traces(now)),
                (Section::Track(now), Some(Section::Track(then))) => {
                    (track(then, Some("before")))
                    (track(now, Some("after")))
                },
                (Section::Track(now), _) => (track(now, None)),
            }
        }
    }
}

fn states(run: &RunReport, now: &States, before: Option<&States>) -> Markup {
    let earlier =
        |name: &str| before.and_then(|states| states.rows.iter().find(|row| row.name == name));
    let gone = before.into_iter().flat_map(|states| &states.rows);
    let gone = gone.filter(|row| !now.rows.iter().any(|now| now.name == row.name));
    html! {
        section {
            h2 { (text::clean(&now.title)) }
            table {
                thead { (columns(before.is_some())) }
                tbody {
                    @for row in &now.rows {
                        @if before.is_some() {
                            (state_row(row, &Beside::Before(earlier(&row.name))))
                        } @else {
                            (state_row(row, &Beside::Reasons(unsaid(run, row))))
                        }
                    }
                    @for row in gone {
                        (gone_row(row))
                    }
                }
            }
        }
    }
}

fn columns(compared: bool) -> Markup {
    let columns: &[(&str, &str)] = if compared {
        &[
            ("name", "Step"),
            ("wanted", "Expected"),
            ("band", "▽ before, ▼ after"),
            ("value", "Before"),
            ("value", "After"),
            ("share", "Coverage"),
            ("state", "Verdict"),
        ]
    } else {
        &[
            ("name", "Step"),
            ("wanted", "Expected"),
            ("band", "▼ measured"),
            ("value", "Measured"),
            ("value", "Contact"),
            ("share", "Coverage"),
            ("state", "Verdict"),
        ]
    };
    html! {
        tr {
            @for (class, heading) in columns { th scope="col" class=(class) { (heading) } }
        }
    }
}

/// What stands beside a row.
enum Beside<'a> {
    /// What the step found besides.
    Reasons(Vec<String>),
    /// The row of the run before, if it had one.
    Before(Option<&'a StateRow>),
}

fn state_row(row: &StateRow, beside: &Beside<'_>) -> Markup {
    let (earlier, reasons) = match beside {
        Beside::Before(earlier) => (*earlier, &[][..]),
        Beside::Reasons(reasons) => (None, reasons.as_slice()),
    };
    html! {
        tr.joined[!reasons.is_empty()] {
            th scope="row" { bdi { (text::clean(&row.name)) } }
            td { (text::clean(&text::expected(&row.expected))) }
            td {
                @if let Some(band) = drawing::band(
                    &row.expected,
                    earlier.map(|row| row.measured),
                    row.measured,
                ) { (band) }
            }
            @match beside {
                Beside::Before(_) => td { (told_before(earlier)) },
                Beside::Reasons(_) => {},
            }
            td { (text::measured(row)) }
            @match beside {
                Beside::Before(_) => {},
                Beside::Reasons(_) => td { (row.proof.map_or("–", text::proof)) },
            }
            td { (text::coverage(row)) }
            td { (state(row.verdict)) }
        }
        @if !reasons.is_empty() {
            tr {
                td {}
                td colspan="6" { (reasons.join(" ")) }
            }
        }
    }
}

fn told_before(earlier: Option<&StateRow>) -> Markup {
    html! {
        @if let Some(earlier) = earlier {
            (text::measured(earlier)) " " (state(earlier.verdict))
        } @else { "not measured" }
    }
}

/// What the step found and the verdict above does not say already.
pub(super) fn unsaid(run: &RunReport, row: &StateRow) -> Vec<String> {
    let said = |reason: &&String| run.reasons.contains(&format!("{}: {reason}", row.name));
    row.reasons
        .iter()
        .filter(|reason| !said(reason))
        .map(|reason| text::sentence(&text::clean(reason)))
        .collect()
}

/// What only the run before measured.
fn gone_row(row: &StateRow) -> Markup {
    html! {
        tr {
            th scope="row" { bdi { (text::clean(&row.name)) } }
            td { (text::clean(&text::expected(&row.expected))) }
            td {}
            td { (text::measured(row)) " " (state(row.verdict)) }
            td { "not measured" }
            td { "–" }
            td { (state(None)) }
        }
    }
}

pub(super) fn state(verdict: Option<Verdict>) -> Markup {
    html! {
        span.state {
            @if let Some(verdict) = verdict { (drawing::sign(verdict)) }
            (text::verdict_word(verdict))
        }
    }
}

fn traces(traces: &[Trace]) -> Markup {
    html! {
        @if !traces.is_empty() {
            section {
                h2 { "Readings over time" }
                @if traces.len() > MOST_WHOLE {
                    div.runs.two { @for trace in traces { (figure(trace, None, HALF)) } }
                } @else {
                    @for trace in traces { (figure(trace, None, WHOLE)) }
                }
            }
        }
    }
}

fn traces_of_two(before: &[Trace], after: &[Trace]) -> Markup {
    html! {
        section {
            h2 { "Readings over time" }
            div.runs.two {
                div { @for trace in before { (figure(trace, Some("before"), HALF)) } }
                div { @for trace in after { (figure(trace, Some("after"), HALF)) } }
            }
        }
    }
}

pub(super) fn figure(trace: &Trace, which: Option<&str>, width: f64) -> Markup {
    let span = format!("{} to {}", text::clock(trace.from), text::clock(trace.to));
    html! {
        figure {
            figcaption {
                b { bdi { (text::clean(&trace.name)) } @if let Some(which) = which { ", " (which) } }
                span.when { (span) }
                @if !trace.marks.is_empty() { " · " (text::marks(trace, if which.is_some() { 2 } else { 4 })) }
            }
            (drawing::trace(trace, width))
        }
    }
}

fn track(track: &Track, which: Option<&str>) -> Markup {
    html! {
        section {
            h2 {
                bdi { (text::clean(&track.title)) }
                @if let Some(which) = which { ", " (which) }
            }
            figure {
                figcaption { (text::track(track)) }
                (drawing::track(track))
            }
        }
    }
}

fn notes(input: &ReportInput) -> Markup {
    html! {
        div.notes {
            section {
                h2 { "Blind spot" }
                @for spot in text::blind_spots(input) { p { (spot) } }
                p { (text::coverage_means(&input.run)) }
                h2 { "Cautions" }
                (list(&text::cautions(input)))
            }
            section {
                h2 { "Not checked" }
                (list(&input.run.unchecked))
            }
        }
    }
}

fn foot(input: &ReportInput) -> Markup {
    html! {
        footer {
            p {
                "steadyohm " (env!("CARGO_PKG_VERSION")) ", from "
                @if let Some(before) = &input.before {
                    bdi { (text::clean(&before.recording)) } " (before) and "
                }
                bdi { (text::clean(&input.run.recording)) }
                ". Boxed: right. Lightly hatched: retest, or the time of a break. Densely: fault. OL: over-range."
            }
            p.sign-here { "Signed ______________________" }
        }
    }
}
