//! `steadyohm ledger history`: every run of one tag, and how its resistances drifted.

use clap::Args;
use serde::Serialize;

use crate::cli::ledger::out::{self, FormArguments, Lines as _};
use crate::cli::ledger::select::SelectArguments;
use crate::cli::ledger::{list, plot};
use crate::cli::status::{Failure, Status};
use crate::reading::Ohms;
use crate::record::ledger::{Drift, Filter, Past};
use crate::run::LedgerFile;

/// Every run of one tag, the oldest first, and the drift of its resistances.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger history L-014
  steadyohm ledger history L-014 --step tip --csv > drift.csv

Resistances are reckoned to 20 °C with the coefficient of copper (IEC 60028) where a run has a
temperature.")]
pub(super) struct Arguments {
    /// The tag.
    tag: String,
    /// Only this step's resistance.
    #[arg(long, value_name = "NAME")]
    step: Option<String>,
    #[command(flatten)]
    select: SelectArguments,
    #[command(flatten)]
    form: FormArguments,
}

/// One step of one run, as a row.
#[derive(Debug, Serialize)]
struct StepRow<'p> {
    run: String,
    began: &'p str,
    kind: &'p str,
    verdict: &'p str,
    step: &'p str,
    step_verdict: &'p str,
    ohms: Option<f64>,
    ohms_at_20_c: Option<f64>,
    temperature_c: Option<f64>,
    tare: Option<&'p str>,
}

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let ledger = file.to_read()?;
    let filter = Filter {
        tag: Some(arguments.tag.clone()),
        ..arguments.select.filter()
    };
    let mut pasts = ledger.pasts(&filter).map_err(|error| file.failed(error))?;
    if let Some(wanted) = &arguments.step {
        for past in &mut pasts {
            past.steps.retain(|step| step.step == *wanted);
        }
    }
    if arguments.form.json || arguments.form.csv {
        let rows: Vec<StepRow<'_>> = pasts.iter().flat_map(rows).collect();
        if arguments.form.json {
            out::json(&rows)?;
        } else {
            out::csv(&rows)?;
        }
    } else {
        out::write(&text(&pasts))?;
    }
    Ok(Status::Pass)
}

fn rows(past: &Past) -> impl Iterator<Item = StepRow<'_>> {
    let line = &past.line;
    let celsius = line.temperature_c.map(crate::circuit::Celsius);
    past.steps.iter().map(move |step| StepRow {
        run: line.id.to_string(),
        began: &line.began,
        kind: &line.kind,
        verdict: &line.verdict,
        step: &step.step,
        step_verdict: &step.verdict,
        ohms: step.ohms,
        ohms_at_20_c: step
            .ohms
            .zip(celsius)
            .map(|(ohms, celsius)| crate::record::ledger::at_reference(Ohms(ohms), celsius).0),
        temperature_c: line.temperature_c,
        tare: line.tare.as_deref(),
    })
}

fn text(pasts: &[Past]) -> String {
    if pasts.is_empty() {
        return "no such run\n".to_owned();
    }
    let lines: Vec<Vec<String>> = pasts.iter().map(run_cells).collect();
    let mut text = out::columns(&lines);
    for drift in Drift::of(pasts) {
        text.push('\n');
        text.push_str(&drift_text(&drift));
    }
    text
}

fn run_cells(past: &Past) -> Vec<String> {
    let mut cells = list::cells(&past.line);
    let ohms: Vec<String> = past
        .steps
        .iter()
        .filter_map(|step| {
            Some(format!(
                "{} {}",
                out::harmless(&step.step),
                Ohms(step.ohms?)
            ))
        })
        .collect();
    cells.insert(4, ohms.join("  "));
    if let Some(celsius) = past.line.temperature_c {
        cells.insert(4, format!("{celsius:.1} °C"));
    } else {
        cells.insert(4, String::new());
    }
    cells
}

/// From the first to the last, in words and as a picture.
fn drift_text(drift: &Drift) -> String {
    let (Some(first), Some(last)) = (drift.points.first(), drift.points.last()) else {
        return String::new();
    };
    let name = format!(
        "{} {}",
        out::harmless(&drift.kind),
        out::harmless(&drift.step)
    );
    if drift.points.len() < 2 {
        return format!("{name}: one resistance so far, {}\n", first.best());
    }
    let change = last.best().0 - first.best().0;
    let sign = if change < 0.0 { "-" } else { "+" };
    let part = if first.best().0 > 0.0 {
        format!(" ({:+.1} %)", 100.0 * change / first.best().0)
    } else {
        String::new()
    };
    let reckoned = if drift.points.iter().all(|point| point.at_20.is_some()) {
        ", at 20 °C"
    } else {
        ""
    };
    let mut text = format!(
        "{name}: from {} ({}) to {} ({}): {sign}{}{part}{reckoned}\n",
        first.best(),
        out::local(&first.began),
        last.best(),
        out::local(&last.began),
        Ohms(change.abs()),
    );
    for caution in drift.cautions() {
        text.line(format_args!("  {caution}"));
    }
    text.push_str(&plot::drift(drift));
    if drift.points.iter().any(|point| point.at_20.is_none()) {
        text.line(format_args!(
            "  * at 20 °C   o as read, no temperature kept"
        ));
    }
    text
}
