//! `steadyohm lead --stock`: a whole stock of leads, one after the other.
#![expect(
    clippy::print_stderr,
    reason = "a damaged row is told beside the lines of the run"
)]

mod job;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use crate::check::lead::LeadOptions;
use crate::check::stock::{Sampling, Stock, StockPlan, Tags};
use crate::circuit::Celsius;
use crate::cli::lead::LeadArguments;
use crate::cli::meter::{self, Bench, MeterArguments, OutputArguments};
use crate::cli::status::Failure;
use crate::protocol::Protocol;
use crate::run::{Batch, Keeping, Plan, Recordings, StockRun};
use crate::session::{Outcome, Setup};
use job::Job;

/// A stock: many leads one after the other.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Stock")]
pub(super) struct StockArguments {
    /// Run a whole stock through, described in a job file: name, tags, kind, length...; what it
    /// does not say, these options say. It goes on where it was left.
    #[arg(long, value_name = "JOB.toml")]
    pub(super) stock: Option<PathBuf>,
    /// The stock's name, which names its table; with it, or with tags, leads are run through
    /// without a job file.
    #[arg(long, value_name = "NAME")]
    stock_name: Option<String>,
    /// The leads' tags: 1..80, A001..A080, A001.. (goes on), blue,red,green, or typed (or
    /// scanned, each when its turn has come).
    #[arg(long, value_name = "TAGS")]
    tags: Option<Tags>,
    /// The leads tested are a sample of a lot of so many.
    #[arg(long, value_name = "N", requires = "tolerated")]
    lot_size: Option<u32>,
    /// The leads tested are a sample: it is to show that fewer than this share are bad.
    #[arg(long, value_name = "PERCENT", value_parser = share)]
    tolerated: Option<f64>,
}

/// A stock as it is meant.
pub(super) struct StockTask {
    plan: StockPlan,
    /// Where the table goes; none to keep none.
    table: Option<PathBuf>,
    /// The temperature of the workshop, if the job tells it.
    workshop: Option<Celsius>,
}

impl StockArguments {
    /// Whether a stock is asked for.
    pub(super) const fn is_meant(&self) -> bool {
        self.stock.is_some() || self.stock_name.is_some() || self.tags.is_some()
    }

    /// The stock meant.
    pub(super) fn task(
        &self,
        lead: &LeadArguments,
        output: &OutputArguments,
    ) -> Result<StockTask, Failure> {
        let job = self.stock.as_deref().map(Job::read).transpose()?;
        let workshop = job.as_ref().map(Job::temperature).transpose()?.flatten();
        let temperature = workshop.unwrap_or_else(|| output.keep.temperature());
        let options = match &job {
            Some(job) => job.over(lead)?.options(temperature)?,
            None => lead.options(temperature)?,
        };
        let task = self.plan(job.as_ref(), options, output)?;
        Ok(StockTask { workshop, ..task })
    }

    fn plan(
        &self,
        job: Option<&Job>,
        lead: LeadOptions,
        output: &OutputArguments,
    ) -> Result<StockTask, Failure> {
        let stem = self
            .stock
            .as_deref()
            .and_then(Path::file_stem)
            .map(|stem| stem.to_string_lossy().into_owned());
        let name = self
            .stock_name
            .clone()
            .or_else(|| job.and_then(|job| job.name.clone()))
            .or(stem)
            .unwrap_or_else(|| "stock".to_owned());
        let name = file_name(&name)?;
        let tags = match &self.tags {
            Some(tags) => tags.clone(),
            None => match job {
                Some(job) => job.tags()?,
                None => Tags::Counter {
                    prefix: String::new(),
                    first: 1,
                    last: None,
                    width: 1,
                },
            },
        };
        let tolerated = match (self.tolerated, job) {
            (None, Some(job)) => job.tolerated()?,
            (given, _) => given,
        };
        let sampling = tolerated.map(|tolerated| Sampling {
            lot: self.lot_size.or_else(|| job.and_then(|job| job.lot)),
            tolerated,
            confidence: lead.pace.goal.confidence,
        });
        let folder = match (&self.stock, meter::record_folder(output)) {
            (_, None) => None,
            (Some(job), Some(_)) => Some(
                job.parent()
                    .filter(|folder| !folder.as_os_str().is_empty())
                    .map_or_else(|| PathBuf::from("."), Path::to_path_buf),
            ),
            (None, folder) => folder,
        };
        Ok(StockTask {
            table: folder.map(|folder| folder.join(format!("{name}.csv"))),
            workshop: None,
            plan: StockPlan {
                name,
                lead,
                tags,
                sampling,
            },
        })
    }
}

impl StockTask {
    /// An invented stock of so many leads.
    pub(super) fn of_demo(
        count: u32,
        lead: &LeadArguments,
        output: &OutputArguments,
    ) -> Result<Self, Failure> {
        let arguments = StockArguments {
            stock_name: Some("demo".to_owned()),
            tags: Some(Tags::Counter {
                prefix: "D".to_owned(),
                first: 1,
                last: Some(count),
                width: 3,
            }),
            ..StockArguments::default()
        };
        arguments.task(lead, output)
    }
}

/// Runs a stock through on an open port.
pub(super) async fn on_bench(
    bench: Bench,
    protocol: Arc<Protocol>,
    meter: &MeterArguments,
    output: &OutputArguments,
    task: StockTask,
) -> Result<Outcome, Failure> {
    let facts = meter::facts_of(&bench, &protocol, meter, output)?;
    let voice = meter::voice_on(&bench, output);
    let mut sidecar = meter::sidecar(&bench, (&protocol, &facts), (meter, output), None)?;
    if let (Some(run), Some(workshop)) = (&mut sidecar.run, task.workshop) {
        // What the job says stands over the options, here too.
        run.about.temperature_c = Some(workshop.0);
    }
    let ledger = output.ledger(true)?;
    let recordings = meter::record_folder(output).map(|folder| Recordings {
        folder,
        sidecar,
        ledger,
        batch: task.plan.name.clone(),
    });
    let (batch, stock) = opened(task)?;
    let plan = Plan {
        setup: Setup {
            protocol,
            source: bench.place,
            facts,
            check: None,
            patience: meter.patience,
        },
        link: bench.link,
        began: bench.began,
        voice,
        keeping: Keeping::default(),
        enter_from_input: bench.input_is_free,
        companion: bench.companion,
    };
    let run = StockRun {
        plan,
        stock,
        batch,
        recordings,
    };
    Ok(crate::run::stock(run).await?)
}

/// The table, and the stock as far as it was done.
fn opened(task: StockTask) -> Result<(Option<Batch>, Stock), Failure> {
    let StockTask { plan, table, .. } = task;
    let Some(path) = table else {
        return Ok((None, Stock::new(plan)));
    };
    let (batch, rows, damage) = Batch::open(&path).map_err(crate::run::RunError::from)?;
    let kind = &plan.lead.kind.id;
    if let Some(other) = rows.iter().find(|row| row.kind != *kind) {
        return Err(Failure::Usage(format!(
            "{} holds leads of kind {}, and this stock is of kind {kind}: give it another name",
            path.display(),
            other.kind
        )));
    }
    for damaged in damage {
        eprintln!(
            "steadyohm: {}: row {} is left out: {}",
            path.display(),
            damaged.row,
            damaged.why
        );
    }
    Ok((Some(batch), Stock::fold(plan, &rows)))
}

/// A name that names a file.
fn file_name(name: &str) -> Result<String, Failure> {
    let sound = !name.is_empty()
        && !name.starts_with('.')
        && !name.contains(['/', '\\'])
        && !name.contains(char::is_control);
    if sound {
        return Ok(name.to_owned());
    }
    Err(Failure::Usage(format!(
        "{name:?} names no file: a stock's name must not be empty, begin with a dot or hold a \
         slash"
    )))
}

/// A share in percent, above 0 and below 100.
pub(super) fn share(text: &str) -> Result<f64, String> {
    text.trim()
        .trim_end_matches('%')
        .trim_end()
        .parse::<f64>()
        .ok()
        .filter(|percent| *percent > 0.0 && *percent < 100.0)
        .map(|percent| percent / 100.0)
        .ok_or_else(|| {
            format!("`{text}` is no share in percent; write a number above 0 and below 100")
        })
}
