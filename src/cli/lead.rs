//! `steadyohm lead`: check a lead.

use std::path::Path;
use std::sync::Arc;

use clap::{Args, ValueEnum};

use crate::check::lead::{self, Lead, LeadOptions, MOST_TARE, Method, Tare};
use crate::check::step::Pace;
use crate::circuit::lead::LeadKind;
use crate::circuit::{Celsius, Gauge, Metres};
use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::stock::{self, StockArguments};
use crate::cli::{formats, input, status_of};
use crate::reading::{Ohms, Seconds};
use crate::record::{CheckKept, LeadKept};
use crate::signal::Goal;
use crate::source::Where;

/// Check a lead: tip and sleeve closed, tip to sleeve apart, all of it while you bend it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm lead --from /dev/ttyUSB0 --protocol lcd-segments-14
  steadyohm lead --method loop --length 6m --gauge 24AWG --tare 0.21
  steadyohm lead --from tcp://bench:5025 --protocol scpi-polled --range 100M --json
  steadyohm lead --stock crate.toml
  steadyohm lead --stock-name crate --tags A001..A080 --kind patch --method loop

Exit status: 0 pass, 1 fail, 2 wrong use, 3 retest, 4 the meter could not be used.")]
pub(super) struct Arguments {
    #[command(flatten)]
    meter: MeterArguments,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    lead: LeadArguments,
    #[command(flatten)]
    stock: StockArguments,
}

/// The options of the check itself.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Lead")]
pub(super) struct LeadArguments {
    /// What kind of lead it is: instrument, patch, balanced, speaker, insert, or a TOML file
    /// that describes one.
    #[arg(long, value_name = "KIND|FILE", default_value = "instrument", value_parser = kind)]
    pub(super) kind: Arc<LeadKind>,
    /// How the lead is measured: one probe at each end, or both at one end with a shorting
    /// plug on the other.
    #[arg(long, default_value = "end-to-end")]
    pub(super) method: MethodArgument,
    /// The resistance of the probe leads in ohms, or `touch` to take it as a first step.
    #[arg(long, value_name = "OHMS|touch", value_parser = tare)]
    pub(super) tare: Option<Tare>,
    /// Bend the probe leads alone first: that must give no event.
    #[arg(long)]
    pub(super) probes: bool,
    /// The lead's length: 6m, 300cm, 20ft.
    #[arg(long, requires = "gauge")]
    pub(super) length: Option<Metres>,
    /// The conductor: 24AWG, 0.22mm2.
    #[arg(long, requires = "length")]
    pub(super) gauge: Option<Gauge>,
    /// The limit of a conductor where length and gauge are not given; without it, the kind's.
    #[arg(long, value_name = "OHMS", value_parser = limit)]
    pub(super) limit: Option<Ohms>,
    /// The least that conductors apart must read; without it, the kind's.
    #[arg(long, value_name = "OHMS", value_parser = isolation)]
    pub(super) isolation: Option<Ohms>,
    /// The momentary opening that must not be missed.
    #[arg(long, value_name = "TIME", default_value = "100ms", value_parser = input::opening)]
    pub(super) gap: Seconds,
    /// How surely, in percent.
    #[arg(long, value_name = "PERCENT", default_value = "95", value_parser = input::percent)]
    pub(super) confidence: f64,
    /// The shortest time from one bend to the next.
    #[arg(long, value_name = "TIME", default_value = "0.8s", value_parser = input::seconds)]
    pub(super) tick: Seconds,
    /// How long a step waits for contact before it asks again.
    #[arg(long, value_name = "TIME", default_value = "30s", value_parser = input::seconds)]
    pub(super) wait: Seconds,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum MethodArgument {
    EndToEnd,
    Loop,
}

impl From<MethodArgument> for Method {
    fn from(argument: MethodArgument) -> Self {
        match argument {
            MethodArgument::EndToEnd => Self::EndToEnd,
            MethodArgument::Loop => Self::Loop,
        }
    }
}

impl LeadArguments {
    /// The options meant; a sentence if they do not make a check.
    pub(super) fn options(&self, temperature: Celsius) -> Result<LeadOptions, Failure> {
        let standard = LeadOptions::of(Arc::clone(&self.kind));
        let conductor = self.length.zip(self.gauge);
        if conductor.is_none() && self.limit.or(self.kind.limit).is_none() {
            return Err(Failure::Usage(format!(
                "what a {} may read follows from its conductor: give --length and --gauge, or \
                 a --limit of your own",
                self.kind.title
            )));
        }
        Ok(LeadOptions {
            method: self.method.into(),
            tare: self.tare.unwrap_or(Tare::None),
            probes_first: self.probes,
            conductor,
            temperature,
            limit: self.limit.unwrap_or(standard.limit),
            isolation: self.isolation.unwrap_or(standard.isolation),
            pace: Pace {
                goal: Goal {
                    momentary: self.gap,
                    confidence: self.confidence,
                    ..standard.pace.goal
                },
                tick: self.tick,
                // The hand needs half of the shortest beat to reach the bend.
                moving: Seconds(standard.pace.moving.0.min(self.tick.0 / 2.0)),
                wait: self.wait,
            },
            ..standard
        })
    }

    /// The check meant.
    pub(super) fn task(&self, temperature: Celsius) -> Result<Task, Failure> {
        let options = self.options(temperature)?;
        Ok(Task {
            name: lead::NAME,
            kept: Some(CheckKept::Lead(LeadKept::from(&options))),
            check: Some(Box::new(Lead::new(options))),
        })
    }
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let Arguments {
        meter,
        output,
        lead,
        stock,
    } = arguments;
    if stock.is_meant() {
        let task = stock.task(&lead, &output)?;
        let place = meter::place_of(&meter)?;
        if let Where::Recording(_) = place {
            return Err(Failure::Usage(
                "a recording is of one lead: replay it by itself, without --stock".to_owned(),
            ));
        }
        let (bench, protocol) = meter::open(&place, &meter).await?;
        let outcome = stock::on_bench(bench, protocol, &meter, &output, task).await?;
        return Ok(status_of(&outcome));
    }
    let task = lead.task(output.keep.temperature())?;
    let outcome = meter::run(&meter, &output, task).await?;
    Ok(status_of(&outcome))
}

/// Below this a short, or damp, could be called isolation (common practice, no source).
const LEAST_ISOLATION: Ohms = Ohms(100e3);

/// A built-in kind, or one described in a file.
pub(super) fn kind(text: &str) -> Result<Arc<LeadKind>, String> {
    if let Some(kind) = LeadKind::find(text) {
        return Ok(Arc::new(kind));
    }
    let known: Vec<&str> = LeadKind::built_in().collect();
    if Path::new(text).extension().is_none() {
        return Err(format!(
            "there is no kind of lead {text:?}; there are {}, or name a .toml file that \
             describes one",
            known.join(", ")
        ));
    }
    let described = formats::read_text(Path::new(text)).map_err(|error| error.to_string())?;
    LeadKind::from_text(&described, text)
        .map(Arc::new)
        .map_err(|error| error.to_string())
}

pub(super) fn tare(text: &str) -> Result<Tare, String> {
    match text {
        "touch" => Ok(Tare::Touch),
        _ => match input::ohms(text)? {
            sound if sound <= MOST_TARE => Ok(Tare::Given(sound)),
            high => Err(format!(
                "probe leads of {high} are at fault: mend the probe leads; sound ones have at \
                 most {MOST_TARE}"
            )),
        },
    }
}

pub(super) fn limit(text: &str) -> Result<Ohms, String> {
    match input::ohms(text)? {
        Ohms(0.0) => Err("nothing conducts that well: give a limit above 0".to_owned()),
        above => Ok(above),
    }
}

pub(super) fn isolation(text: &str) -> Result<Ohms, String> {
    match input::ohms(text)? {
        apart if apart >= LEAST_ISOLATION => Ok(apart),
        low => Err(format!(
            "{low} between tip and sleeve is no isolation, a short could pass: give \
             {LEAST_ISOLATION} or more; 20M is usual"
        )),
    }
}
