//! The page of a job as HTML, and the same as Markdown.

use maud::{Markup, html};

use crate::check::notice::Verdict;
use crate::record::report::drawing;
use crate::record::report::input::{RunReport, StateRow, Trace};
use crate::record::report::job::room::{Room, Values, told};
use crate::record::report::job::{JobInput, JobPart, Shown};
use crate::record::report::markdown::{self, literal};
use crate::record::report::page;
use crate::record::report::sheet::sheet;
use crate::record::report::text;

/// The width of a trace in millimetres: three side by side.
const THIRD: f64 = 58.6;

/// The job as one self-contained HTML page.
pub fn job_html(input: &JobInput) -> String {
    let shown: Vec<Shown<'_>> = input
        .parts
        .iter()
        .map(|part| Shown::of(&part.run))
        .collect();
    let room = Room::of(input, &shown);
    let made_by = input.made_by();
    let body = html! {
        header {
            h1 { bdi { (input.title()) } }
            p { (text::clean(&input.dates())) }
        }
        (facts(input))
        @if !made_by.is_empty() {
            p.made-by { (made_by.iter().map(|line| text::sentence(line)).collect::<Vec<_>>().join(" ")) }
        }
        main {
            section.verdict {
                (drawing::sign(input.verdict()))
                div {
                    h2.word { (input.verdict().word()) }
                    p { (input.reason()) }
                }
            }
            (checks(input, room.values))
            @for (number, (part, shown)) in input.parts.iter().zip(&shown).enumerate() {
                (section(part, shown, &room, number))
            }
            @if let Some(left_out) = left_out(&room) {
                p { (left_out) }
            }
            (notes(input, room.values.is_brief()))
        }
        footer {
            p {
                "steadyohm " (env!("CARGO_PKG_VERSION"))
                ". Boxed: right. Lightly hatched: retest, or the time of a break. Densely: fault. "
                "OL: over-range."
            }
            p.sign-here { "Signed ______________________" }
        }
    };
    sheet(&input.title(), Some("job"), &body)
}

/// What one sheet has no room for.
fn left_out(room: &Room<'_>) -> Option<String> {
    let values = match room.values {
        Values::Bands | Values::All => None,
        Values::Others => Some("the values of the checks that passed".to_owned()),
        Values::None | Values::Short => Some("the values".to_owned()),
    };
    let traces = (room.left_out > 0).then(|| format!("{} traces of readings", room.left_out));
    let all: Vec<String> = [values, traces].into_iter().flatten().collect();
    (!all.is_empty()).then(|| {
        let all = text::capital(&all.join(" and "));
        format!("{all} have no room here: each check's own page (steadyohm report) shows them.")
    })
}

fn facts(input: &JobInput) -> Markup {
    html! {
        dl.facts {
            @for (label, given) in input.subject.entries() {
                div { dt { (label) } dd { bdi { (text::clean(given)) } } }
            }
            @for (label, told) in input.meter() {
                div { dt { (label) } dd { bdi { (text::clean(&told)) } } }
            }
        }
    }
}

/// Every check with its verdict and why.
fn checks(input: &JobInput, values: Values) -> Markup {
    html! {
        section {
            h2 { "Checks" }
            table.checks {
                thead { tr {
                    th scope="col" class="name" { "Check" }
                    th scope="col" class="when" { "Date" }
                    th scope="col" class="state" { "Verdict" }
                    th scope="col" { "Why" }
                } }
                tbody {
                    @for part in &input.parts {
                        @if let Some(before) = &part.before {
                            (check(&format!("{}, before", part.name), before, values))
                        }
                        (check(&part.name, &part.run, values))
                    }
                }
            }
        }
    }
}

fn check(name: &str, run: &RunReport, values: Values) -> Markup {
    let why: Vec<String> = if run.verdict == Verdict::Pass {
        vec![all_passed(run)]
    } else {
        let reasons = values.reasons(run).iter();
        reasons
            .map(|why| text::sentence(&text::clean(why)))
            .collect()
    };
    html! {
        tr {
            th scope="row" { bdi { (text::clean(name)) } }
            td { (minute(&run.date)) }
            td { (page::state(Some(run.verdict))) }
            td.why { (why.join(" ")) }
        }
    }
}

fn all_passed(run: &RunReport) -> String {
    format!("All {} steps passed.", run.rows().count())
}

/// A date as it is printed, without its distance from universal time.
fn minute(date: &str) -> String {
    text::clean(date).chars().take(16).collect()
}

/// A part's values and drawings.
fn section(part: &JobPart, shown: &Shown<'_>, room: &Room<'_>, number: usize) -> Markup {
    let before = part.before.as_ref().map(Shown::of);
    let traces = room.traces.get(number).map_or(&[][..], Vec::as_slice);
    let has_track = room.tracks.get(number) == Some(&true);
    let has_rows = !shown.rows.is_empty() && room.values.of(&part.run);
    html! {
        @if has_rows || has_track || !traces.is_empty() {
            section {
                h2 { bdi { (text::clean(&part.name)) } }
                @if has_rows {
                    (rows(&part.run, (shown, before.as_ref()), room.values == Values::Bands))
                }
                @if has_track {
                    @for track in &shown.tracks {
                        figure {
                            figcaption {
                                b { bdi { (text::clean(&track.title)) } } (text::track(track))
                            }
                            (drawing::track(track))
                        }
                    }
                }
                (figures(traces))
            }
        }
    }
}

fn rows(
    run: &RunReport,
    (shown, before): (&Shown<'_>, Option<&Shown<'_>>),
    bands: bool,
) -> Markup {
    let earlier = |name: &str| {
        let rows = before.into_iter().flat_map(|before| &before.rows);
        rows.copied().find(|row| row.name == name)
    };
    html! {
        table {
            thead { tr {
                th scope="col" class="name" { "Step" }
                th scope="col" class="wanted" { "Expected" }
                @if bands { th scope="col" class="band" { "▼ measured" } }
                @if before.is_some() { th scope="col" { "Before" } }
                th scope="col" { "Measured" }
                th scope="col" { "Contact" }
                th scope="col" class="share" { "Coverage" }
                th scope="col" class="state" { "Verdict" }
            } }
            tbody {
                @for row in &shown.rows {
                    (state_row(row, &Beside { compared: before.is_some(), earlier: earlier(&row.name), bands, why: told(run, row) }))
                }
            }
        }
    }
}

/// What stands beside a row's value.
struct Beside<'a> {
    /// Whether there was a run before.
    compared: bool,
    /// The same row of it.
    earlier: Option<&'a StateRow>,
    /// Whether the band is drawn.
    bands: bool,
    /// What is told under it.
    why: Vec<String>,
}

fn state_row(row: &StateRow, beside: &Beside<'_>) -> Markup {
    let why = &beside.why;
    html! {
        tr.joined[!why.is_empty()] {
            th scope="row" { bdi { (text::clean(&row.name)) } }
            td { (text::clean(&text::expected(&row.expected))) }
            @if beside.bands {
                td {
                    @let earlier = beside.earlier.map(|row| row.measured);
                    @if let Some(band) = drawing::band(&row.expected, earlier, row.measured) {
                        (band)
                    }
                }
            }
            @if beside.compared {
                td {
                    @if let Some(earlier) = beside.earlier {
                        (text::measured(earlier)) " " (page::state(earlier.verdict))
                    } @else { "not measured" }
                }
            }
            td { (text::measured(row)) }
            td { (row.proof.map_or("–", text::proof)) }
            td { (text::coverage(row)) }
            td { (page::state(row.verdict)) }
        }
        @if !why.is_empty() {
            tr {
                td {}
                td colspan=(5 + usize::from(beside.bands) + usize::from(beside.compared)) {
                    (why.join(" "))
                }
            }
        }
    }
}

fn figures(traces: &[&Trace]) -> Markup {
    html! {
        @if !traces.is_empty() {
            div.three { @for trace in traces { (page::figure(trace, None, THIRD)) } }
        }
    }
}

fn notes(input: &JobInput, brief: bool) -> Markup {
    html! {
        div.notes {
            h2 { "Blind spot" }
            (page::list(&input.blind_spots()))
            @for meaning in input.coverage_meanings() { p { (meaning) } }
            @let cautions = input.cautions(brief);
            @if !cautions.is_empty() {
                h2 { "Cautions" }
                (page::list(&cautions))
            }
            h2 { "Not checked" }
            (page::list(&input.unchecked(brief)))
        }
    }
}

/// The job as Markdown: everything but the drawings.
pub fn job_markdown(input: &JobInput) -> String {
    let mut out = String::new();
    markdown::line(&mut out, &format!("# {}", literal(&input.title())));
    markdown::line(&mut out, "");
    for made_by in input.made_by() {
        markdown::line(&mut out, &literal(&text::sentence(&made_by)));
        markdown::line(&mut out, "");
    }
    markdown::line(&mut out, &format!("- Date: {}", literal(&input.dates())));
    for (label, given) in input.subject.entries() {
        markdown::line(&mut out, &format!("- {label}: {}", literal(given)));
    }
    for (label, told) in input.meter() {
        markdown::line(&mut out, &format!("- {label}: {}", literal(&told)));
    }
    let verdict = input.verdict();
    let word = format!("Verdict: {} {verdict}", text::sign(verdict));
    markdown::list(&mut out, &word, &[input.reason()]);
    for part in &input.parts {
        for (which, run) in [("before", part.before.as_ref()), ("", Some(&part.run))] {
            let Some(run) = run else { continue };
            let name = [part.name.as_str(), which].join(" ");
            let word = format!("{} {}", text::sign(run.verdict), run.verdict);
            let title = format!("{}: {word}, {}", name.trim(), run.date);
            let reasons = match run.verdict {
                Verdict::Pass => &[all_passed(run)],
                _ => run.reasons.as_slice(),
            };
            markdown::list(&mut out, &title, reasons);
            markdown::sections(&mut out, run, None);
        }
    }
    markdown::list(&mut out, "Blind spot", &input.blind_spots());
    markdown::list(&mut out, "Cautions", &input.cautions(false));
    markdown::list(&mut out, "Not checked", &input.unchecked(false));
    out
}
