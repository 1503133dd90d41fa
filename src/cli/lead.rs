//! `steadyohm lead`: check a lead.

use clap::{Args, ValueEnum};

use crate::check::lead::{self, Lead, LeadOptions, MOST_TARE, Method, Tare};
use crate::check::step::Pace;
use crate::circuit::{Gauge, Metres};
use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::{input, status_of};
use crate::reading::{Ohms, Seconds};
use crate::record::{CheckKept, LeadKept};
use crate::signal::Goal;

/// Check a lead: tip and sleeve closed, tip to sleeve apart, all of it while you bend it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm lead --from /dev/ttyUSB0 --protocol lcd-segments-14
  steadyohm lead --method loop --length 6m --gauge 24AWG --tare 0.21
  steadyohm lead --from tcp://bench:5025 --protocol scpi-polled --range 100M --json

Exit status: 0 pass, 1 fail, 2 wrong use, 3 retest, 4 the meter could not be used.")]
pub(super) struct Arguments {
    #[command(flatten)]
    meter: MeterArguments,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    lead: LeadArguments,
}

/// The options of the check itself.
#[derive(Debug, Args)]
#[command(next_help_heading = "Lead")]
pub(super) struct LeadArguments {
    /// How the lead is measured: one probe at each end, or both at one end with a shorting
    /// plug on the other.
    #[arg(long, default_value = "end-to-end")]
    pub(super) method: MethodArgument,
    /// The resistance of the probe leads in ohms, or `touch` to take it as a first step.
    #[arg(long, value_name = "OHMS|touch", value_parser = tare)]
    tare: Option<Tare>,
    /// Bend the probe leads alone first: that must give no event.
    #[arg(long)]
    probes: bool,
    /// The lead's length: 6m, 300cm, 20ft.
    #[arg(long, requires = "gauge")]
    length: Option<Metres>,
    /// The conductor: 24AWG, 0.22mm2.
    #[arg(long, requires = "length")]
    gauge: Option<Gauge>,
    /// The limit of a conductor where length and gauge are not given.
    #[arg(long, value_name = "OHMS", default_value = "2", value_parser = limit)]
    limit: Ohms,
    /// The least that tip to sleeve must read.
    #[arg(long, value_name = "OHMS", default_value = "20M", value_parser = isolation)]
    isolation: Ohms,
    /// The momentary opening that must not be missed.
    #[arg(long, value_name = "TIME", default_value = "100ms", value_parser = input::opening)]
    gap: Seconds,
    /// How surely, in percent.
    #[arg(long, value_name = "PERCENT", default_value = "95", value_parser = input::percent)]
    confidence: f64,
    /// The shortest time from one bend to the next.
    #[arg(long, value_name = "TIME", default_value = "0.8s", value_parser = input::seconds)]
    pub(super) tick: Seconds,
    /// How long a step waits for contact before it asks again.
    #[arg(long, value_name = "TIME", default_value = "30s", value_parser = input::seconds)]
    wait: Seconds,
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
    /// The options meant.
    pub(super) fn options(&self) -> LeadOptions {
        let standard = Pace::default();
        LeadOptions {
            method: self.method.into(),
            tare: self.tare.unwrap_or(Tare::None),
            probes_first: self.probes,
            conductor: self.length.zip(self.gauge),
            limit: self.limit,
            isolation: self.isolation,
            pace: Pace {
                goal: Goal {
                    momentary: self.gap,
                    confidence: self.confidence,
                    ..standard.goal
                },
                tick: self.tick,
                // The hand needs half of the shortest beat to reach the bend.
                moving: Seconds(standard.moving.0.min(self.tick.0 / 2.0)),
                wait: self.wait,
            },
        }
    }

    /// The check meant.
    pub(super) fn task(&self) -> Task {
        let options = self.options();
        Task {
            name: lead::NAME,
            kept: Some(CheckKept::Lead(LeadKept::from(&options))),
            check: Some(Box::new(Lead::new(options))),
        }
    }
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let Arguments {
        meter,
        output,
        lead,
    } = arguments;
    let outcome = meter::run(&meter, &output, lead.task()).await?;
    Ok(status_of(&outcome))
}

/// Below this a short, or damp, could be called isolation (common practice, no source).
const LEAST_ISOLATION: Ohms = Ohms(100e3);

fn tare(text: &str) -> Result<Tare, String> {
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

fn limit(text: &str) -> Result<Ohms, String> {
    match input::ohms(text)? {
        Ohms(0.0) => Err("nothing conducts that well: give a limit above 0".to_owned()),
        above => Ok(above),
    }
}

fn isolation(text: &str) -> Result<Ohms, String> {
    match input::ohms(text)? {
        apart if apart >= LEAST_ISOLATION => Ok(apart),
        low => Err(format!(
            "{low} between tip and sleeve is no isolation, a short could pass: give \
             {LEAST_ISOLATION} or more; 20M is usual"
        )),
    }
}
