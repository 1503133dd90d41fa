//! `steadyohm rewire`: an instrument at its jack against its job file.

mod ask;

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::{Args, Subcommand};

use crate::check::rewire::{self, Rewire, RewireOptions};
use crate::circuit::diagnosis::Meter;
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
}

/// The options of the check itself.
#[derive(Debug, Args)]
#[command(next_help_heading = "Rewire")]
pub(super) struct RewireArguments {
    /// Print the steps with what each ought to read, without a meter.
    #[arg(long)]
    pub(super) plan: bool,
    /// The instrument may be opened: probes inside are asked for too, once the jack tells no
    /// more.
    #[arg(long)]
    open: bool,
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
        let options = self.options(judged(text, origin)?);
        Ok(Task {
            name: rewire::NAME,
            kept: Some(CheckKept::Rewire(RewireKept::new(&options, text, origin))),
            check: Some(Box::new(Rewire::new(options))),
        })
    }

    fn options(&self, job: Job) -> RewireOptions {
        RewireOptions {
            job: Arc::new(job),
            tare: self.tare,
            open: self.open,
            probes: self.probes,
            wait: self.wait,
        }
    }
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    match &arguments.aside {
        Some(Aside::New(new)) => return ask::run(new),
        Some(Aside::Layouts) => return told(layouts()),
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
        let options = arguments.rewire.options(judged(&text, &origin)?);
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
    out.flush()
}

fn planned(check: &Rewire) -> io::Result<()> {
    let mut out = io::stdout().lock();
    let meter = Meter::default();
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
