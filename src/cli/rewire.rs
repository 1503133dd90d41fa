//! `steadyohm rewire`: an instrument at its jack against its job file.

mod ask;

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::{Args, Subcommand};

use crate::check::rewire::{self, Rewire, RewireOptions};
use crate::circuit::diagnosis::{Meter, Priors, priors};
use crate::circuit::{Job, LAYOUTS};
use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::protocols::quietly;
use crate::cli::status::{Failure, Status};
use crate::cli::{formats, input, status_of};
use crate::reading::{Ohms, Seconds};
use crate::record::{CheckKept, RewireKept};

/// Check a rewired instrument at its jack, and name the fault that explains its readings.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:
  steadyohm rewire new --layout two-pickups-three-way --out guitar.toml
  steadyohm rewire guitar.toml --plan
  steadyohm rewire guitar.toml --from /dev/ttyUSB0 --protocol lcd-segments-14
  steadyohm rewire guitar.toml --open --probes 10
  steadyohm rewire priors > chances.toml
  steadyohm rewire guitar.toml --priors chances.toml

Exit status: 0 pass, 1 fail, 2 wrong use, 3 retest, 4 the meter could not be used."
)]
pub(super) struct Arguments {
    #[command(subcommand)]
    aside: Option<Aside>,
    /// The job file: the instrument's parts and layout.
    job: Option<PathBuf>,
    #[command(flatten)]
    meter: MeterArguments,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    rewire: RewireArguments,
}

#[derive(Debug, Subcommand)]
enum Aside {
    /// Ask a few questions and write a job file.
    New(ask::Arguments),
    /// List the common layouts.
    Layouts,
    /// Print the built-in table of how often each fault is met and what each measurement costs,
    /// to copy and change for --priors.
    Priors,
}

/// The options of the check itself.
#[derive(Debug, Args)]
#[command(next_help_heading = "Rewire")]
pub(super) struct RewireArguments {
    /// Print the steps with what each ought to read, without a meter.
    #[arg(long)]
    pub(super) plan: bool,
    /// The instrument is open, or may be opened: probes inside are asked for too, once the jack
    /// tells no more.
    #[arg(long)]
    open: bool,
    /// Your own table of chances and efforts: start from what `steadyohm rewire priors` prints.
    #[arg(long, value_name = "FILE")]
    priors: Option<PathBuf>,
    /// Measurements beyond the planned states, at most.
    #[arg(long, value_name = "N", default_value_t = 6)]
    probes: usize,
    /// The resistance of the probe leads and the lead to the jack in ohms, taken off every
    /// reading.
    #[arg(long, value_name = "OHMS", value_parser = input::ohms)]
    tare: Option<Ohms>,
    /// How long a state waits before it asks for Enter.
    #[arg(long, value_name = "TIME", default_value = "30s", value_parser = input::seconds)]
    wait: Seconds,
}

impl RewireArguments {
    /// The check meant, of a job's text.
    pub(super) fn task(&self, text: &str, origin: &str) -> Result<Task, Failure> {
        let table = self.table()?;
        let options = self.options(judged(text, origin)?, table.as_ref());
        let kept = RewireKept::new(&options, text, origin);
        let kept = match &table {
            Some(table) => kept.with_priors(&table.text, &table.origin),
            None => kept,
        };
        Ok(Task {
            name: rewire::NAME,
            kept: Some(CheckKept::Rewire(kept)),
            check: Some(Box::new(Rewire::new(options))),
        })
    }

    /// The table of the user's own.
    fn table(&self) -> Result<Option<Table>, Failure> {
        let Some(path) = &self.priors else {
            return Ok(None);
        };
        let text = formats::read_text(path)?;
        let priors = Priors::from_text(&text, &path.display().to_string())
            .map_err(|error| Failure::Usage(error.to_string()))?;
        Ok(Some(Table {
            text,
            origin: name_of(path),
            priors: Arc::new(priors),
        }))
    }

    fn options(&self, job: Job, table: Option<&Table>) -> RewireOptions {
        RewireOptions {
            job: Arc::new(job),
            priors: table.map(|table| Arc::clone(&table.priors)),
            tare: self.tare,
            open: self.open,
            probes: self.probes,
            wait: self.wait,
        }
    }
}

/// A table of chances and efforts with the text it was read from.
struct Table {
    text: String,
    origin: String,
    priors: Arc<Priors>,
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    match &arguments.aside {
        Some(Aside::New(new)) => return ask::run(new),
        Some(Aside::Layouts) => return told(layouts()),
        Some(Aside::Priors) => {
            return told(io::stdout().lock().write_all(priors::BUILT_IN.as_bytes()));
        }
        None => {}
    }
    let Some(path) = &arguments.job else {
        return Err(Failure::Usage(
            "which instrument? give its job file, or write one: steadyohm rewire new --out \
             guitar.toml"
                .to_owned(),
        ));
    };
    let text = formats::read_text(path)?;
    let origin = path.display().to_string();
    if arguments.rewire.plan {
        let table = arguments.rewire.table()?;
        let options = arguments
            .rewire
            .options(judged(&text, &origin)?, table.as_ref());
        return told(planned(&Rewire::new(options)));
    }
    let task = arguments.rewire.task(&text, &name_of(path))?;
    let outcome = meter::run(&arguments.meter, &arguments.output, task).await?;
    Ok(status_of(&outcome))
}

/// A recording keeps the file's name, and not where it lay.
fn name_of(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

pub(super) fn judged(text: &str, origin: &str) -> Result<Job, Failure> {
    Job::from_text(text, origin).map_err(|error| Failure::Usage(error.to_string()))
}

/// Done, if it could be told.
fn told(said: io::Result<()>) -> Result<Status, Failure> {
    quietly(said)?;
    Ok(Status::Pass)
}

fn layouts() -> io::Result<()> {
    let mut out = io::stdout().lock();
    for layout in LAYOUTS {
        let title = layout.plan().ok().and_then(|plan| plan.title);
        writeln!(out, "{:<24} {}", layout.id, title.unwrap_or_default())?;
    }
    writeln!(
        out,
        "{:<24} anything else, by its own parts and wires",
        "free"
    )?;
    out.flush()
}

fn planned(check: &Rewire) -> io::Result<()> {
    let mut out = io::stdout().lock();
    let meter = Meter::default();
    if let Some(caution) = check.caution() {
        writeln!(out, "{caution}")?;
    }
    for (number, (plan, limits)) in check.plans().iter().enumerate() {
        writeln!(
            out,
            "{}. {}: {}",
            number + 1,
            plan.name,
            plan.band(&meter, 0.0)
        )?;
        writeln!(out, "   {}", plan.prompt)?;
        writeln!(out, "   {limits}")?;
    }
    writeln!(out, "{}", check.not_covered())?;
    out.flush()
}
