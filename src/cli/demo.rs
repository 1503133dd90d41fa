//! `steadyohm demo`: a check on the simulated bench, through a real pseudo-terminal.

pub(super) mod instrument;

use std::sync::Arc;

use clap::{Args, Subcommand};

use crate::bench::{
    BenchSettings, Crate, CrateOrder, Display, Hands, Hunting, Lead, LeadFault, MeterSettings,
    OperatorStyle,
};
use crate::circuit::lead::LeadKind;
use crate::cli::lead::LeadArguments;
use crate::cli::meter::{self, Bench, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::stock::{self, StockTask};
use crate::cli::{formats, pot_bench, status_of};
use crate::protocol::{Protocol, SerialSettings, encode};
use crate::reading::{Annunciators, Magnitude, Measured, Quantity, Seconds};
use crate::run::Companion;
use crate::session::Outcome;
use crate::source::{self, LinkSettings, Pseudo, Where};

/// Watch a check at work on the simulated bench: lead, meter and operator are all invented.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  steadyohm demo lead --fault tip-opens-when-flexed")]
pub(super) struct Arguments {
    #[command(subcommand)]
    work: Work,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// A simulated lead; needs no meter and no lead.
    #[command(after_help = "Examples:
  steadyohm demo lead
  steadyohm demo lead --fault tip-opens-when-flexed --seed 7
  steadyohm demo lead --fault moisture-leakage --rate 3 --method loop
  steadyohm demo lead --stock 12 --pace 0.1 --rate 50")]
    Lead(Box<LeadDemo>),
    /// A simulated control, turned by a simulated hand; needs no meter and no control.
    #[command(after_help = "Examples:
  steadyohm demo pot
  steadyohm demo pot --fault dirty-zone --law audio --hand 20
  steadyohm demo pot --in-circuit --fault cracked --rate 20")]
    Pot(Box<pot_bench::Demo>),
    /// A simulated instrument at its jack; needs no meter and no instrument.
    #[command(after_help = "Examples:
  steadyohm demo rewire
  steadyohm demo rewire --layout two-volumes-two-tones --fault 12 --seed 3")]
    Rewire(Box<instrument::RewireDemo>),
}

#[derive(Debug, Args)]
struct LeadDemo {
    #[command(flatten)]
    bench: LeadBench,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    lead: LeadArguments,
    #[command(flatten)]
    crated: CrateArguments,
}

/// A crate of simulated leads.
#[derive(Debug, Args)]
#[command(next_help_heading = "Simulated stock")]
struct CrateArguments {
    /// A whole stock of so many invented leads, a quarter of them faulty.
    #[arg(long, value_name = "N", num_args = 0..=1, default_missing_value = "12",
          value_parser = clap::value_parser!(u32).range(1..=1000))]
    stock: Option<u32>,
    /// The operator's pace: 1 is human, 0.1 ten times as fast, ticks too.
    #[arg(long, value_name = "X", default_value_t = 1.0, value_parser = pace)]
    pace: f64,
}

/// The simulated bench for a lead.
#[derive(Debug, Args)]
#[command(next_help_heading = "Simulated bench")]
pub(super) struct LeadBench {
    /// What is wrong with the lead: `good`, `tip-opens-when-flexed`, `sleeve-open`, `tip-sleeve-short`...: a wrong word
    /// lists all that the kind of lead can have.
    #[arg(long, value_name = "NAME", default_value = "good")]
    pub(super) fault: String,
    /// Everything left to chance follows from this.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) seed: u64,
    /// The meter's readings a second.
    #[arg(long, value_name = "R", default_value_t = 10.0, value_parser = rate)]
    pub(super) rate: f64,
    /// The format the meter speaks.
    #[arg(long, value_name = "ID|FILE", default_value = "lcd-segments-14")]
    pub(super) protocol: String,
}

impl LeadBench {
    /// The bench meant, for a meter that speaks this format.
    pub(super) fn settings(
        &self,
        kind: &Arc<LeadKind>,
        protocol: &Protocol,
        operator: OperatorStyle,
    ) -> Result<BenchSettings, Failure> {
        let fault = LeadFault::from_word(&self.fault, kind).ok_or_else(|| {
            let words: Vec<String> = LeadFault::all(kind)
                .iter()
                .map(|fault| fault.word(kind))
                .collect();
            Failure::Usage(format!(
                "there is no fault {1:?} of a kind {0:?}; there are: {2}",
                kind.title,
                self.fault,
                words.join(", ")
            ))
        })?;
        Ok(BenchSettings {
            piece: Lead::of(Arc::clone(kind)).with_fault(fault).into(),
            meter: meter_settings(self.rate, protocol),
            operator,
            hands: Hands::default(),
            seed: self.seed,
        })
    }
}

/// The shortest wait at a quick pace: the simulated hand still has to get there.
const SHORTEST_WAIT: Seconds = Seconds(5.0);

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let demo = match arguments.work {
        Work::Lead(demo) => demo,
        Work::Pot(demo) => return pot_bench::demo(*demo).await,
        Work::Rewire(demo) => return of_rewire(*demo).await,
    };
    let LeadDemo {
        bench,
        mut output,
        mut lead,
        crated,
    } = *demo;
    lead.tick = Seconds(lead.tick.0 * crated.pace);
    // Slower hands are waited for no longer than patient ones.
    lead.wait = Seconds((lead.wait.0 * crated.pace.min(1.0)).max(SHORTEST_WAIT.0));
    output.leave_nothing()?;
    let protocol = formats::load(&bench.protocol)?;
    let operator = OperatorStyle::Follows(lead.options(output.keep.temperature())?.method);
    let mut settings = bench.settings(&lead.kind, &protocol, operator)?;
    settings.hands.pace = crated.pace;
    let leads = crated.stock.map(|count| {
        let order = CrateOrder::of(Arc::clone(&lead.kind), count, bench.seed);
        Crate::fill(&order)
    });
    let Some(count) = crated.stock else {
        let task = lead.task(output.keep.temperature())?;
        let outcome = run_on(&settings, &protocol, &output, task).await?;
        return Ok(status_of(&outcome));
    };
    let live = on_simulated(&settings, leads, &protocol).await?;
    let meter = MeterArguments::for_demo(&protocol);
    let task = StockTask::of_demo(count, &lead, &output)?;
    let outcome = stock::on_bench(live, protocol, &meter, &output, task).await?;
    Ok(status_of(&outcome))
}

async fn of_rewire(mut demo: instrument::RewireDemo) -> Result<Status, Failure> {
    demo.output.leave_nothing()?;
    let protocol = formats::load(&demo.bench.protocol)?;
    let (settings, task) = demo.meant(&protocol)?;
    let outcome = run_on(&settings, &protocol, &demo.output, task).await?;
    Ok(status_of(&outcome))
}

/// Runs a task on a simulated bench.
pub(super) async fn run_on(
    settings: &BenchSettings,
    protocol: &Arc<Protocol>,
    output: &OutputArguments,
    task: Task,
) -> Result<Outcome, Failure> {
    let live = on_simulated(settings, None, protocol).await?;
    let meter = MeterArguments::for_demo(protocol);
    meter::on_bench(live, Arc::clone(protocol), &meter, output, task).await
}

/// A simulated bench at the other end of a pseudo-terminal that has been opened.
async fn on_simulated(
    settings: &BenchSettings,
    leads: Option<Crate>,
    protocol: &Arc<Protocol>,
) -> Result<Bench, Failure> {
    let pseudo = Pseudo::new()?;
    let place = Where::Serial(pseudo.path().to_path_buf());
    let began = meter::clock();
    // A pseudo-terminal has no modem lines, and everybody knows that here.
    let serial = SerialSettings {
        dtr: None,
        rts: None,
        ..protocol.serial()
    };
    let link = source::open(&place, LinkSettings::new(serial, began)).await?;
    let companion =
        Companion::with_crate((settings, leads), Arc::clone(protocol), pseudo, began);
    let live = Bench {
        link,
        place: format!("{place} (demo, all invented)"),
        began,
        companion: Some(companion),
        input_is_free: true,
        tried: None,
    };
    Ok(live)
}

fn pace(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|pace| *pace >= 0.01 && *pace <= 10.0)
        .ok_or_else(|| "a pace, from 0.01 to 10; 1 is human".to_owned())
}

/// A meter at this rate that speaks this format.
pub(super) fn meter_settings(rate: f64, protocol: &Protocol) -> MeterSettings {
    let display = match protocol.counts() {
        Some(counts) => Display::Counts(counts),
        None => Display::Digits,
    };
    let meter = match display {
        Display::Counts(_) => MeterSettings {
            display,
            ..MeterSettings::handheld(rate)
        },
        Display::Digits => MeterSettings::text_interface(rate),
    };
    let blank = Measured {
        quantity: Quantity::Resistance,
        magnitude: Magnitude::Blank,
        resolution: None,
        annunciators: Annunciators::NONE,
    };
    // What a format cannot say, its meter does not do.
    let hunting = if encode(protocol, &blank).is_ok() {
        meter.hunting
    } else {
        Hunting::Coarse
    };
    MeterSettings { hunting, ..meter }
}

pub(super) fn rate(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|rate| *rate >= 0.2 && *rate <= 2_000.0)
        .ok_or_else(|| "readings a second, from 0.2 to 2000".to_owned())
}
