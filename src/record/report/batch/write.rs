//! The page of a batch as HTML, and the same as Markdown.

use maud::{Markup, html};

use crate::check::notice::Verdict;
use crate::record::ledger::{Group, Histogram};
use crate::record::report::batch::{BatchInput, NOT_HERE, PieceLine, bars};
use crate::record::report::drawing;
use crate::record::report::markdown::{self, literal};
use crate::record::report::page;
use crate::record::report::sheet::sheet;
use crate::record::report::text;

/// The most causes and groups that are told, and resistances that are drawn.
const MOST_CAUSES: usize = 8;
const MOST_GROUPS: usize = 8;
const MOST_HISTOGRAMS: usize = 2;
/// Heights in millimetres, somewhat on the safe side; the sheet is Letter between its margins.
const SHEET: f64 = 254.0;
const FIXED: f64 = 62.0;
const LINE: f64 = 4.1;
/// The columns of the list of pieces, and the letters that fit on a line of one.
const COLUMNS: usize = 5;
const LETTERS: usize = 24;
const SENTENCE_LETTERS: usize = 125;

/// The batch as one self-contained HTML page.
pub fn batch_html(input: &BatchInput) -> String {
    let mut histograms = shown_histograms(input);
    let (mut pieces, mut more) = fitting(input, &histograms);
    // The list before the second drawing.
    if more > 0 && histograms.len() > 1 {
        histograms.truncate(1);
        (pieces, more) = fitting(input, &histograms);
    }
    let body = html! {
        header {
            h1 { bdi { (input.title()) } }
            p { (input.dates()) }
        }
        dl.facts {
            @for (label, given) in input.subject.entries() {
                div { dt { (label) } dd { bdi { (text::clean(given)) } } }
            }
            div { dt { "Pieces" } dd { (input.figures.all.pieces) } }
            div { dt { "Runs" } dd { (input.figures.all.runs) } }
        }
        @if let Some(made_by) = input.made_by() {
            p.made-by { (made_by) }
        }
        main {
            section.verdict { div {
                h2.word { (input.headline()) }
                (page::list(&input.sentences()))
            } }
            div.halves {
                (causes(input))
                section {
                    @for histogram in &histograms {
                        h2 { (resistances(histogram)) }
                        (bars::bars(histogram))
                    }
                }
            }
            @if input.figures.groups.len() > 1 { (groups(&input.figures.groups)) }
            section {
                h2 { "Pieces" }
                ul.pieces { @for piece in &pieces { (line_of(piece)) } }
                @if more > 0 { p { (not_listed(more, &pieces)) } }
            }
            div.notes {
                h2 { "Not on this page" }
                (page::list(&NOT_HERE.map(str::to_owned)))
            }
        }
        footer {
            p { "steadyohm " (env!("CARGO_PKG_VERSION")) ", from the ledger." }
            p.sign-here { "Signed ______________________" }
        }
    };
    sheet(&input.title(), Some("lot"), &body)
}

fn resistances(histogram: &Histogram) -> String {
    format!(
        "{} {} at rest, median {}",
        text::capital(&text::clean(&histogram.kind)),
        text::clean(&histogram.step),
        text::ohms(crate::reading::Ohms(histogram.median_ohms))
    )
}

fn shown_histograms(input: &BatchInput) -> Vec<&Histogram> {
    let of_work =
        |histogram: &&Histogram| !matches!(histogram.step.as_str(), "tare" | "probes");
    let all = input.figures.histograms.iter().filter(of_work);
    all.take(MOST_HISTOGRAMS).collect()
}

/// The pieces that one sheet has room for: those that do not pass before those that do; and how
/// many there are besides.
fn fitting<'a>(
    input: &'a BatchInput,
    histograms: &[&Histogram],
) -> (Vec<&'a PieceLine>, usize) {
    let drawn: f64 = histograms.iter().map(|each| bars::height(each) + 7.0).sum();
    let told = length(input.figures.causes.len().min(MOST_CAUSES)) * LINE + 12.0;
    let groups = match input.figures.groups.len() {
        0 | 1 => 0.0,
        several => length(several.min(MOST_GROUPS) + 1) * LINE + 8.0,
    };
    let sentences: usize = input
        .sentences()
        .iter()
        .map(|sentence| sentence.chars().count().div_ceil(SENTENCE_LETTERS))
        .sum();
    let mut left = SHEET - FIXED - drawn.max(told) - groups - length(sentences) * 3.6;
    left *= length(COLUMNS);
    let room = |piece: &&PieceLine| {
        let letters = piece.name().chars().count() + piece.told().chars().count() + 4;
        length(letters.div_ceil(LETTERS)) * LINE
    };
    let passes = |piece: &&PieceLine| piece.verdict() == Some(Verdict::Pass);
    let others = input.pieces.iter().filter(|piece| !passes(piece));
    let mut fit: Vec<&PieceLine> = Vec::new();
    for piece in others.chain(input.pieces.iter().filter(passes)) {
        left -= room(&piece);
        if left < 0.0 {
            break;
        }
        fit.push(piece);
    }
    let more = input.pieces.len() - fit.len();
    if more == 0 {
        // All of them: in their own order.
        fit = input.pieces.iter().collect();
    }
    (fit, more)
}

/// What has no room. All that do not pass come first: if one that passes is listed, the others
/// pass.
fn not_listed(more: usize, pieces: &[&PieceLine]) -> String {
    let last = pieces.last().and_then(|piece| piece.verdict());
    let pass = if last == Some(Verdict::Pass) {
        ", which all pass"
    } else {
        ""
    };
    format!("And {more} more{pass}: steadyohm ledger list --batch shows them.")
}

fn line_of(piece: &PieceLine) -> Markup {
    html! {
        li {
            @if let Some(verdict) = piece.verdict() {
                (drawing::sign(verdict))
            }
            b { bdi { (piece.name()) } }
            @if piece.verdict() != Some(Verdict::Pass) { (text::clean(&piece.verdict)) " " }
            (piece.told())
        }
    }
}

fn causes(input: &BatchInput) -> Markup {
    let causes = &input.figures.causes;
    let all = causes.last().map_or(0, |last| last.up_to_here);
    html! {
        section {
            h2 { "What did not pass, by cause" }
            @if causes.is_empty() {
                p { "Every run passed." }
            } @else {
                table {
                    thead { tr {
                        th scope="col" { "Step and what was seen" }
                        th scope="col" class="share" { "Runs" }
                        th scope="col" class="state" { "Up to here" }
                    } }
                    tbody {
                        @for cause in causes.iter().take(MOST_CAUSES) {
                            tr {
                                th scope="row" { bdi { (text::clean(&cause.seen)) } }
                                td { (cause.runs) }
                                td { (100 * cause.up_to_here / all.max(1)) " %" }
                            }
                        }
                    }
                }
                @if causes.len() > MOST_CAUSES {
                    p { "And " (causes.len() - MOST_CAUSES) " rarer ones." }
                }
            }
        }
    }
}

fn groups(groups: &[Group]) -> Markup {
    html! {
        section {
            h2 { "By check, length and lot" }
            table {
                thead { tr {
                    @for heading in GROUP_HEADINGS { th scope="col" { (heading) } }
                } }
                tbody {
                    @for group in groups.iter().take(MOST_GROUPS) {
                        tr { @for cell in group_cells(group) { td { bdi { (cell) } } } }
                    }
                }
            }
            @if groups.len() > MOST_GROUPS {
                p { "And " (groups.len() - MOST_GROUPS) " more: steadyohm ledger batch." }
            }
        }
    }
}

const GROUP_HEADINGS: [&str; 7] = [
    "Check",
    "Length",
    "Lot",
    "Pieces",
    "Passed first",
    "Pass now",
    "Retests",
];

fn group_cells(group: &Group) -> [String; 7] {
    let percent = |share: Option<f64>| {
        share.map_or_else(|| "–".to_owned(), |share| format!("{:.1} %", 100.0 * share))
    };
    let told = |text: Option<String>| text.unwrap_or_else(|| "–".to_owned());
    [
        told(group.kind.as_deref().map(text::clean)),
        told(group.length_m.map(|length| format!("{length} m"))),
        told(group.lot.as_deref().map(text::clean)),
        group.pieces.to_string(),
        percent(group.share_of_pieces(group.passed_first)),
        percent(group.share_of_pieces(group.passed_last)),
        percent(group.retest_rate()),
    ]
}

fn length(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}

/// The batch as Markdown: everything but the drawings, and every piece.
pub fn batch_markdown(input: &BatchInput) -> String {
    let mut out = String::new();
    let mut line = |text: &str| markdown::line(&mut out, text);
    line(&format!("# {}", literal(&input.title())));
    line("");
    if let Some(made_by) = input.made_by() {
        line(&literal(&made_by));
        line("");
    }
    line(&format!("- Date: {}", input.dates()));
    for (label, given) in input.subject.entries() {
        line(&format!("- {label}: {}", literal(given)));
    }
    let causes = input.figures.causes.iter();
    let causes: Vec<String> = causes
        .map(|cause| format!("{}: {} runs", cause.seen, cause.runs))
        .collect();
    markdown::list(&mut out, &input.headline(), &input.sentences());
    markdown::list(&mut out, "What did not pass, by cause", &causes);
    markdown::heading(&mut out, "Pieces", None);
    markdown::line(&mut out, "| tag | verdict | reads, or what is wrong |");
    markdown::line(&mut out, "|---|---|---|");
    for piece in &input.pieces {
        let sign = piece.verdict().map_or("", text::sign);
        let verdict = format!("{sign} {}", piece.verdict);
        let cells = [piece.name(), verdict, piece.told()];
        let row = cells.map(|cell| literal(cell.trim())).join(" | ");
        markdown::line(&mut out, &format!("| {row} |"));
    }
    markdown::list(&mut out, "Not on this page", &NOT_HERE.map(str::to_owned));
    out
}
