//! The report as Markdown (`CommonMark`, with the tables of its common extension).

use crate::record::report::input::{
    ReportInput, RunReport, Section, StateRow, States, Trace, Track,
};
use crate::record::report::text;

/// The report as Markdown: everything but the drawings.
pub fn markdown(input: &ReportInput) -> String {
    let mut out = String::new();
    let run = &input.run;
    line(&mut out, &format!("# {}", literal(&text::title(input))));
    line(&mut out, "");
    for made_by in text::made_by(input) {
        line(&mut out, &literal(&made_by));
        line(&mut out, "");
    }
    for (label, given) in input.subject.entries() {
        line(&mut out, &format!("- {label}: {}", literal(given)));
    }
    for (label, told) in facts(run) {
        line(&mut out, &format!("- {label}: {}", literal(&told)));
    }
    if let Some(before) = &input.before {
        verdict(&mut out, before, "Before");
        verdict(&mut out, run, "After");
    } else {
        verdict(&mut out, run, "Verdict");
    }
    for (which, run) in [("Before", input.before.as_ref()), ("After", Some(run))] {
        let Some(run) = run else { continue };
        let suffix = input.before.as_ref().map(|_| which);
        sections(&mut out, run, suffix);
    }
    list(&mut out, "Blind spot", &text::blind_spots(input));
    list(&mut out, "Cautions", &text::cautions(input));
    list(&mut out, "Not checked", &run.unchecked);
    out
}

fn facts(run: &RunReport) -> [(&'static str, String); 5] {
    let meter = &run.meter;
    [
        ("Date", run.date.clone()),
        ("Meter format", meter.format.clone()),
        ("Readings", text::interval(meter.interval, meter.documented)),
        ("From", meter.source.clone()),
        ("Recording", run.recording.clone()),
    ]
}

fn verdict(out: &mut String, run: &RunReport, heading: &str) {
    let word = format!("{} {}", text::sign(run.verdict), run.verdict);
    list(out, &format!("{heading}: {word}"), &run.reasons);
}

pub(super) fn sections(out: &mut String, run: &RunReport, which: Option<&str>) {
    for section in &run.sections {
        match section {
            Section::States(states) => table(out, states, which),
            Section::Traces(traces) => happenings(out, traces, which),
            Section::Track(track) => strip(out, track, which),
        }
    }
}

pub(super) fn heading(out: &mut String, title: &str, which: Option<&str>) {
    let which = which.map_or_else(String::new, |which| format!(" ({})", which.to_lowercase()));
    line(out, "");
    line(out, &format!("## {}{which}", literal(title)));
    line(out, "");
}

fn table(out: &mut String, states: &States, which: Option<&str>) {
    heading(out, &states.title, which);
    line(
        out,
        "| step | expected | measured | verdict | contact | coverage | why |",
    );
    line(out, "|---|---|---|---|---|---|---|");
    for row in &states.rows {
        line(out, &table_row(row));
    }
}

fn table_row(row: &StateRow) -> String {
    let verdict = row.verdict.map_or_else(
        || text::verdict_word(None).to_owned(),
        |verdict| format!("{} {verdict}", text::sign(verdict)),
    );
    let proof = row.proof.map_or("", text::proof);
    let reasons: Vec<String> = row
        .reasons
        .iter()
        .map(|reason| text::sentence(reason))
        .collect();
    let cells = [
        row.name.clone(),
        text::expected(&row.expected),
        text::measured(row),
        verdict,
        proof.to_owned(),
        text::coverage(row),
        reasons.join(" "),
    ];
    format!("| {} |", cells.map(|cell| literal(&cell)).join(" | "))
}

/// What the drawings would show of breaks.
fn happenings(out: &mut String, traces: &[Trace], which: Option<&str>) {
    let marked: Vec<&Trace> = traces
        .iter()
        .filter(|trace| !trace.marks.is_empty())
        .collect();
    if marked.is_empty() {
        return;
    }
    heading(out, "Breaks and touches while bent", which);
    for trace in marked {
        let told = format!("{}: {}", trace.name, text::marks(trace, trace.marks.len()));
        line(out, &format!("- {}", literal(&told)));
    }
}

fn strip(out: &mut String, track: &Track, which: Option<&str>) {
    heading(out, &track.title, which);
    line(out, &literal(&text::track(track)));
}

pub(super) fn list(out: &mut String, title: &str, sentences: &[String]) {
    if sentences.is_empty() {
        return;
    }
    heading(out, title, None);
    for sentence in sentences {
        line(
            out,
            &format!("- {}", literal(&text::sentence(&text::clean(sentence)))),
        );
    }
}

pub(super) fn line(out: &mut String, text: &str) {
    out.push_str(text);
    out.push('\n');
}

/// A text that means nothing but itself: punctuation behind a backslash is only that
/// (`CommonMark` 0.31, 2.4). What could begin a block is meant at the beginning only, and an
/// address only where a reader that links bare addresses would find one.
pub(super) fn literal(text: &str) -> String {
    let text = text::clean(text);
    let mut literal = String::new();
    for (at, character) in text.char_indices() {
        let before = text.get(..at).unwrap_or_default();
        let after = text.get(at..).unwrap_or_default();
        if is_meant(character) || begins_block(before, after) || in_address(before, after) {
            literal.push('\\');
        }
        literal.push(character);
    }
    literal
}

/// Punctuation that may mean something wherever it stands.
const fn is_meant(character: char) -> bool {
    matches!(
        character,
        '\\' | '`'
            | '*'
            | '_'
            | '{'
            | '}'
            | '['
            | ']'
            | '<'
            | '>'
            | '#'
            | '|'
            | '~'
            | '&'
            | '$'
            | '^'
            | '@'
    )
}

/// A bullet, a rule, an underline or a definition at the beginning, or the end of a number there.
fn begins_block(before: &str, after: &str) -> bool {
    if before.is_empty() {
        return after.starts_with(['-', '+', '=', ':']);
    }
    let ends = |end: char| {
        let rest = after.strip_prefix(end);
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
    };
    before.chars().all(|digit| digit.is_ascii_digit()) && (ends('.') || ends(')'))
}

/// The colon of `https://`, the point after `www`.
fn in_address(before: &str, after: &str) -> bool {
    let www = |start: &str| start.eq_ignore_ascii_case("www");
    after.starts_with("://")
        || (after.starts_with('.')
            && before
                .len()
                .checked_sub(3)
                .and_then(|at| before.get(at..))
                .is_some_and(www))
}
