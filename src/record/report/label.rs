//! A small label for a lead's tag, as an SVG file of its own.

use maud::{Markup, PreEscaped, html};

use crate::record::report::drawing;
use crate::record::report::input::{MeasuredValue, ReportInput, StateRow};
use crate::record::report::text;

/// Millimetres.
const WIDTH: u32 = 62;
const HEIGHT: u32 = 26;
/// Letters that fit on a line of the label.
const LETTERS: usize = 34;

/// The label: verdict, date, tag, length and ohms, 62 by 26 mm.
pub fn label(input: &ReportInput) -> String {
    let run = &input.run;
    let [outline, inner] = drawing::sign_shape(run.verdict);
    let tag = input.subject.tag.as_deref().unwrap_or("no tag");
    let day = run.date.get(..10).unwrap_or(&run.date);
    let lines = label_lines(input);
    let drawn: Markup = html! {
        svg xmlns="http://www.w3.org/2000/svg" width={(WIDTH) "mm"} height={(HEIGHT) "mm"}
            viewBox={"0 0 " (WIDTH) " " (HEIGHT)} font-family="Arial, Helvetica, sans-serif" {
            title { (text::clean(tag)) ": " (run.verdict.word()) }
            rect x="0.25" y="0.25" width=(f64::from(WIDTH) - 0.5) height=(f64::from(HEIGHT) - 0.5)
                rx="1.5" fill="#fff" stroke="#000" stroke-width="0.3" {}
            g transform="translate(2.5 2.5) scale(0.9)" fill="none" stroke="#000" {
                path d=(outline) stroke-width="0.7" {}
                path d=(inner) stroke-width="1.1" {}
            }
            text x="13.5" y="8.2" font-size="6" font-weight="700" {
                (run.verdict.word().to_uppercase())
            }
            text x=(WIDTH - 2) y="8.2" font-size="3.2" text-anchor="end" { (text::clean(day)) }
            @if run.made_by.is_some() {
                text x=(WIDTH - 2) y="4.6" font-size="2.4" text-anchor="end" {
                    "not a measurement"
                }
            }
            @for (y, line) in ["14.6", "19.2", "23.4"].into_iter().zip(&lines) {
                text x="2.5" y=(y) font-size="3" { (fitting(line)) }
            }
        }
    };
    let declaration = PreEscaped("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    format!("{}{}\n", declaration.into_string(), drawn.into_string())
}

/// Tag and length, the closed steps, the isolation.
fn label_lines(input: &ReportInput) -> [String; 3] {
    let subject = &input.subject;
    let tag = subject.tag.as_deref().unwrap_or("no tag");
    let first = match &subject.length {
        Some(length) => format!("{} · {}", text::clean(tag), text::clean(length)),
        None => text::clean(tag),
    };
    let told = |row: &StateRow| match row.measured {
        MeasuredValue::Value(ohms) => Some(format!("{} {ohms}", row.name)),
        MeasuredValue::MoreThan(Some(range)) => {
            Some(format!("{} > {}", row.name, text::ohms(range)))
        }
        MeasuredValue::MoreThan(None) | MeasuredValue::Nothing => None,
    };
    let mut values: Vec<String> = input
        .run
        .rows()
        .filter(|row| !matches!(row.name.as_str(), "tare" | "probes"))
        .filter_map(told)
        .collect();
    let last = if values.len() > 2 {
        values.split_off(2)
    } else {
        Vec::new()
    };
    [first, values.join(" · "), last.join(" · ")]
}

/// A line cut to the label, never silently.
fn fitting(line: &str) -> String {
    let line = text::clean(line);
    if line.chars().count() <= LETTERS {
        return line;
    }
    let kept: String = line.chars().take(LETTERS - 1).collect();
    format!("{kept}…")
}
