//! `steadyohm ledger show`: everything that is known of one run.

use clap::Args;
use serde::Serialize;

use crate::cli::ledger::list;
use crate::cli::ledger::out::{self, Lines as _, harmless};
use crate::cli::status::{Failure, Status};
use crate::reading::Ohms;
use crate::record::ledger::{Ledger, RunLine, Whole};
use crate::record::{FindingKept, FoundKept, Sidecar};
use crate::run::LedgerFile;

/// Show one run: its steps, reasons and findings.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger show 019a2b3c-4d5e
  steadyohm ledger show --json lead.csv")]
pub(super) struct Arguments {
    /// The run: the beginning of its identity, or its recording's path.
    run: String,
    /// One JSON object.
    #[arg(long)]
    json: bool,
}

/// A run as JSON: its line, and the sidecar it comes from.
#[derive(Debug, Serialize)]
struct Shown<'w> {
    #[serde(flatten)]
    line: &'w RunLine,
    sidecar: &'w Sidecar,
}

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let ledger = file.to_read()?;
    let whole = find(file, &ledger, &arguments.run)?;
    if arguments.json {
        out::json(&[Shown {
            line: &whole.line,
            sidecar: &whole.sidecar,
        }])?;
    } else {
        out::write(&text(file, &whole))?;
    }
    Ok(Status::Pass)
}

/// The one run that a text names.
fn find(file: &LedgerFile, ledger: &Ledger, text: &str) -> Result<Whole, Failure> {
    let asked = |text: &str| ledger.named(text).map_err(|error| file.failed(error));
    let mut lines = asked(text)?;
    if lines.is_empty() {
        lines = asked(&file.named(text.as_ref()))?;
    }
    match lines.as_slice() {
        [] => Err(Failure::Usage(format!(
            "no run begins with `{}`, and no recording is there by that path; `steadyohm ledger \
             list` shows them",
            harmless(text)
        ))),
        [line] => ledger
            .whole(line.id)
            .map_err(|error| file.failed(error))?
            .ok_or_else(|| {
                Failure::Usage(format!(
                    "the description of run {} is missing; see `steadyohm ledger check`",
                    line.id
                ))
            }),
        several => {
            let rows: Vec<Vec<String>> = several.iter().map(list::cells).collect();
            Err(Failure::Usage(format!(
                "several runs begin with `{}`; give more of it:\n{}",
                harmless(text),
                out::columns(&rows).trim_end()
            )))
        }
    }
}

fn text(file: &LedgerFile, whole: &Whole) -> String {
    let Whole { line, sidecar } = whole;
    let run = sidecar.run.as_ref();
    let recording = line.recording.as_deref().map_or_else(
        || "none".to_owned(),
        |named| {
            let path = file.recording(named);
            let there = if path.is_file() {
                ""
            } else {
                "  (not there now)"
            };
            format!("{}{there}", harmless(&path.display().to_string()))
        },
    );
    let about = run.map(|run| &run.about);
    let rows = [
        ("run", Some(line.id.to_string())),
        ("began", Some(out::local(&line.began))),
        ("check", Some(line.kind.clone())),
        ("verdict", Some(verdict(whole))),
        ("tag", line.tag.clone()),
        ("instrument", line.instrument.clone()),
        ("batch", line.batch.clone()),
        ("lot", line.lot.clone()),
        ("note", about.and_then(|about| about.note.clone())),
        ("length", line.length_m.map(|length| format!("{length} m"))),
        (
            "temperature",
            line.temperature_c.map(|c| format!("{c:.1} °C")),
        ),
        (
            "meter",
            Some(format!("{} on {}", line.protocol, sidecar.source)),
        ),
        (
            "accuracy",
            about.and_then(|about| Some(about.accuracy.as_ref()?.source.clone())),
        ),
        ("made by", line.made_by.clone()),
    ];
    let mut cells: Vec<Vec<String>> = rows
        .into_iter()
        .filter_map(|(name, value)| Some(vec![name.to_owned(), harmless(&value?)]))
        .collect();
    cells.push(vec!["recording".to_owned(), recording]);
    let mut text = out::columns(&cells);
    let reasons = sidecar.verdict.iter().flat_map(|verdict| &verdict.reasons);
    text.push_str("\nreasons\n");
    for reason in reasons {
        text.push_str(&out::wrapped(&harmless(reason), "  ", out::width()));
    }
    if let Some(found) = run.and_then(|run| run.found.as_ref()) {
        text.push_str(&found_text(found));
    }
    text.line(format_args!(
        "\n`steadyohm report {}` makes a page of it",
        out::short(line.id)
    ));
    text
}

/// How the run stands; of one that judges nothing also what was said on the day.
fn verdict(whole: &Whole) -> String {
    let stands = whole.line.verdict.to_uppercase();
    match &whole.sidecar.verdict {
        Some(kept) if whole.line.judges_nothing() => {
            format!("{stands} (on the day: {})", kept.verdict)
        }
        _ => stands,
    }
}

fn found_text(found: &FoundKept) -> String {
    let mut text = String::from("\nsteps\n");
    let rows: Vec<Vec<String>> = found
        .steps
        .iter()
        .map(|step| {
            vec![
                format!("  {}", harmless(&step.step)),
                harmless(&step.verdict).to_uppercase(),
                step.ohms
                    .map_or_else(String::new, |ohms| Ohms(ohms).to_string()),
                format!("proof {}", harmless(&step.proof)),
                format!("coverage {:.0} %", 100.0 * step.coverage),
            ]
        })
        .collect();
    text.push_str(&out::columns(&rows));
    if !found.findings.is_empty() {
        text.push_str("\nseen on the way\n");
        let rows: Vec<Vec<String>> = found.findings.iter().map(finding_cells).collect();
        text.push_str(&out::columns(&rows));
    }
    text
}

fn finding_cells(finding: &FindingKept) -> Vec<String> {
    let lasted = match (finding.at_least_s, finding.at_most_s) {
        (Some(least), Some(most)) => format!("lasted {least:.3} to {most:.3} s"),
        _ => finding.text.as_deref().map_or_else(String::new, harmless),
    };
    vec![
        format!("  {:.2} s", finding.from_s),
        harmless(&finding.what),
        finding.step.as_deref().map_or_else(String::new, harmless),
        lasted,
        finding
            .ohms
            .map_or_else(String::new, |ohms| Ohms(ohms).to_string()),
    ]
}
