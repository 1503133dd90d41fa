//! `steadyohm ledger history`: every run of one tag, and how its resistances drifted.

use clap::Args;
use serde::Serialize;

use crate::cli::ledger::out::{self, FormArguments, Lines as _};
use crate::cli::ledger::select::SelectArguments;
use crate::cli::ledger::{list, plot};
use crate::cli::status::{Failure, Status};
use crate::reading::Ohms;
use crate::record::ledger::{Drift, Filter, Past, reckoned};
use crate::run::LedgerFile;

/// Every run of one tag or instrument, the oldest first, and the drift of its resistances.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger history L-014
  steadyohm ledger history L-014 --step tip --csv > drift.csv
  steadyohm ledger history 'the blue one'

Resistances of copper (a lead's conductors without the probe leads, pickups at the jack) are
reckoned to 20 °C (IEC 60028) where a run has a temperature; tracks and probe leads never are.")]
pub(super) struct Arguments {
    /// The tag; or an instrument's name, if there is no such tag.
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
    let by_tag = Filter {
        tag: Some(arguments.tag.clone()),
        ..arguments.select.filter()
    };
    let by_instrument = Filter {
        instrument: Some(arguments.tag.clone()),
        ..arguments.select.filter()
    };
    let asked = |filter: &Filter| ledger.pasts(filter).map_err(|error| file.failed(error));
    let mut pasts = asked(&by_tag)?;
    let of_instrument = pasts.is_empty();
    if of_instrument {
        pasts = asked(&by_instrument)?;
    }
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
        out::write(&text(&pasts, of_instrument))?;
    }
    Ok(Status::Pass)
}

fn rows(past: &Past) -> impl Iterator<Item = StepRow<'_>> {
    let line = &past.line;
    past.steps.iter().map(move |step| StepRow {
        run: line.id.to_string(),
        began: &line.began,
        kind: &line.kind,
        verdict: &line.verdict,
        step: &step.step,
        step_verdict: &step.verdict,
        ohms: step.ohms,
        ohms_at_20_c: reckoned(line, step).map(|ohms| ohms.0),
        temperature_c: line.temperature_c,
        tare: line.tare.as_deref(),
    })
}

fn text(pasts: &[Past], of_instrument: bool) -> String {
    if pasts.is_empty() {
        return "no such run\n".to_owned();
    }
    let lines: Vec<Vec<String>> = pasts
        .iter()
        .map(|past| run_cells(past, of_instrument))
        .collect();
    let mut text = out::columns(&lines);
    for drift in Drift::of(pasts) {
        text.push('\n');
        text.push_str(&drift_text(&drift));
    }
    text
}

/// A run in cells; its tag only where not all have the same.
fn run_cells(past: &Past, tagged: bool) -> Vec<String> {
    let mut cells = list::cells(&past.line);
    // What it was about is what was asked for.
    cells.truncate(5);
    if !tagged {
        cells.remove(2);
    }
    let celsius = past.line.temperature_c;
    cells.push(celsius.map_or_else(String::new, |celsius| format!("{celsius:.1} °C")));
    let ohms: Vec<String> = past
        .steps
        .iter()
        .filter_map(|step| {
            Some(format!(
                "{} {}",
                out::harmless(&step.step),
                in_digits(Ohms(step.ohms?), step.resolution_ohms)
            ))
        })
        .collect();
    cells.push(ohms.join("  "));
    cells
}

/// A resistance with no more places than the meter showed.
fn in_digits(ohms: Ohms, digit: Option<f64>) -> String {
    let Some(digit) = digit.filter(|digit| *digit > 0.0) else {
        return ohms.to_string();
    };
    let (scale, unit) = match ohms.0.abs() {
        large if large >= 1e6 => (1e6, "MΩ"),
        large if large >= 1e3 => (1e3, "kΩ"),
        _ => (1.0, "Ω"),
    };
    let places = (0..=6_u8)
        .find(|places| digit / scale * 10_f64.powi(i32::from(*places)) > 1.0 - 1e-9)
        .unwrap_or(6);
    let shown = (ohms.0 / digit).round() * digit / scale;
    format!("{shown:.*} {unit}", usize::from(places))
}

/// How the last differs from the first; two readings a digit apart may be of one resistance.
fn change((from, to): (Ohms, Ohms), digit: Option<f64>) -> String {
    let change = to.0 - from.0;
    if let Some(digit) = digit.filter(|digit| change.abs() <= digit * (1.0 + 1e-6)) {
        return format!("no difference within the last digit ({})", Ohms(digit));
    }
    let sign = if change < 0.0 { "-" } else { "+" };
    let told = in_digits(Ohms(change.abs()), digit);
    if from.0 <= 0.0 {
        return format!("{sign}{told}");
    }
    // No finer than a digit is of the whole.
    let coarse = digit.is_some_and(|digit| digit / from.0 > 1e-3);
    let places = usize::from(!coarse);
    format!("{sign}{told} ({:+.places$} %)", 100.0 * change / from.0)
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
    let digit = drift.digit();
    if drift.points.len() < 2 {
        let only = in_digits(first.best(), digit);
        return format!("{name}: one resistance so far, {only}\n");
    }
    let Some((from, to)) = drift.ends() else {
        return String::new();
    };
    let reckoned = if first.at_20.is_some() && last.at_20.is_some() {
        ", at 20 °C"
    } else {
        ""
    };
    let mut text = format!(
        "{name}: from {} ({}) to {} ({}): {}{reckoned}\n",
        in_digits(from, digit),
        out::local(&first.began),
        in_digits(to, digit),
        out::local(&last.began),
        change((from, to), digit),
    );
    for caution in drift.cautions() {
        text.push_str(&out::wrapped(&caution, "  ", out::width()));
    }
    text.push_str(&plot::drift(drift));
    if drift.points.iter().any(|point| point.at_20.is_none()) {
        text.line(format_args!("  * at 20 °C   o as read"));
    }
    text
}
