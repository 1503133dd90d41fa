//! `steadyohm simulate`: a simulated meter on a pseudo-terminal, for the real command in
//! another terminal.
#![expect(
    clippy::print_stderr,
    reason = "the path alone goes to standard output"
)]

use std::io::{self, Write as _};
use std::sync::Arc;

use clap::{Args, Subcommand};

use crate::bench::{BenchSettings, OperatorStyle, Piece, TimedPlan};
use crate::check::lead::derive;
use crate::circuit::lead::LeadKind;
use crate::cli::demo::{LeadBench, instrument};
use crate::cli::formats;
use crate::cli::lead::MethodArgument;
use crate::cli::meter;
use crate::cli::pot_bench;
use crate::cli::status::{Failure, Status};
use crate::protocol::Protocol;
use crate::run::Companion;
use crate::signal::{BlindSpot, Goal};
use crate::source::Pseudo;

/// Simulate a meter on a lead, and wait for the real command in a second terminal.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  steadyohm simulate lead --fault tip-opens-when-flexed")]
pub(super) struct Arguments {
    #[command(subcommand)]
    work: Work,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// A simulated lead: prints the port's path; the operator begins when the port is opened.
    #[command(after_help = "Example, in two terminals:
  steadyohm simulate lead --fault tip-opens-when-flexed
  steadyohm lead --from /dev/pts/N --protocol lcd-segments-14")]
    Lead(LeadSimulation),
    /// A simulated control: prints the port's path; the hand begins to turn when the port is opened.
    #[command(after_help = "Example, in two terminals:
  steadyohm simulate pot --fault dirty-zone
  steadyohm pot --from /dev/pts/N --protocol lcd-segments-14 --value 250k")]
    Pot(Box<pot_bench::Simulation>),
    /// A simulated instrument at its jack: prints the port's path; you set its states here.
    #[command(after_help = "Example, in two terminals:
  steadyohm simulate rewire --layout one-pickup --fault 'tip touches'
  steadyohm rewire new --layout one-pickup --out guitar.toml
  steadyohm rewire guitar.toml --from /dev/pts/N --protocol lcd-segments-14")]
    Rewire(Box<instrument::RewireSimulation>),
}

#[derive(Debug, Args)]
struct LeadSimulation {
    #[command(flatten)]
    bench: LeadBench,
    /// What kind of lead it is.
    #[arg(long, value_name = "KIND|FILE", default_value = "instrument", value_parser = super::lead::kind)]
    kind: Arc<LeadKind>,
    /// How the lead is measured.
    #[arg(long, default_value = "end-to-end")]
    method: MethodArgument,
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let simulation = match arguments.work {
        Work::Lead(simulation) => simulation,
        Work::Pot(simulation) => return pot_bench::simulate(*simulation).await,
        Work::Rewire(simulation) => return instrument::simulate(*simulation).await,
    };
    let protocol = formats::load(&simulation.bench.protocol)?;
    let by_default =
        simulation
            .bench
            .settings(&simulation.kind, &protocol, OperatorStyle::default())?;
    let waits =
        matches!(&by_default.piece, Piece::Lead(lead) if lead.fault.keeps_a_step_waiting());
    if waits && simulation.method == MethodArgument::EndToEnd {
        return Err(Failure::Usage(format!(
            "at {0} the real command waits and asks, and the simulated hand, which goes by the \
             clock, would be at the next step by then: take --method loop, or steadyohm demo lead \
             --fault {0}",
            simulation.bench.fault
        )));
    }
    let meter_settings = by_default.meter;
    let spot = BlindSpot::assumed(meter_settings.interval());
    let flexes = Goal::DEFAULT
        .flexes(spot.chance(Goal::DEFAULT.momentary))
        .unwrap_or(10);
    let steps = derive(&simulation.kind, simulation.method.into()).steps;
    let plan = TimedPlan::for_meter(steps, meter_settings.interval(), spot.aperture, flexes);
    let settings =
        simulation
            .bench
            .settings(&simulation.kind, &protocol, OperatorStyle::Timed(plan))?;
    let method = match simulation.method {
        MethodArgument::EndToEnd => "end-to-end",
        MethodArgument::Loop => "loop",
    };
    let said = |path: &str| {
        format!(
            "steadyohm lead --from {path} --protocol {} --method {method}",
            protocol.id()
        )
    };
    serve(&settings, Arc::clone(&protocol), said).await
}

/// Serves a simulated bench on a port of its own; `said` is the command for it.
pub(super) async fn serve(
    settings: &BenchSettings,
    protocol: Arc<Protocol>,
    said: impl Fn(&str) -> String,
) -> Result<Status, Failure> {
    let pseudo = Pseudo::new()?;
    let path = pseudo.path().display().to_string();
    let mut out = io::stdout().lock();
    let told = writeln!(out, "{path}").and_then(|()| out.flush());
    drop(out);
    super::protocols::quietly(told)?;
    eprintln!(
        "a simulated meter waits there; in a second terminal:\n  {}\nThe simulated operator begins \
         when the port is opened, goes by the clock and presses no key; Ctrl-C ends this.",
        said(&path)
    );
    let began = meter::clock();
    Companion::start(settings, protocol, pseudo, began)
        .finished()
        .await;
    Ok(Status::Pass)
}
