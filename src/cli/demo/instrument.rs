//! `steadyohm demo rewire` and `steadyohm simulate rewire`: a simulated instrument at its jack.
#![expect(
    clippy::print_stderr,
    reason = "the path alone goes to standard output"
)]

use std::io::{self, Write as _};

use clap::Args;
use tokio::io::{AsyncBufReadExt as _, BufReader};

use crate::bench::{BenchSettings, Hands, Instrument, OperatorStyle, Piece};
use crate::check::notice::{Notice, StepBegins, StepName, Wants};
use crate::check::rewire::{planned, step_name};
use crate::circuit::diagnosis::Meter;
use crate::circuit::{Circuit, Job, LAYOUTS, Layout};
use crate::cli::demo::{meter_settings, rate};
use crate::cli::formats;
use crate::cli::meter::{self, OutputArguments, Task};
use crate::cli::protocols::quietly;
use crate::cli::rewire::{RewireArguments, judged};
use crate::cli::status::{Failure, Status};
use crate::protocol::Protocol;
use crate::run::{Companion, stamp_since};
use crate::source::Pseudo;

#[derive(Debug, Args)]
pub(super) struct RewireDemo {
    #[command(flatten)]
    pub(super) bench: RewireBench,
    #[command(flatten)]
    pub(super) output: OutputArguments,
    #[command(flatten)]
    rewire: RewireArguments,
}

/// The simulated bench for an instrument.
#[derive(Debug, Args)]
#[command(next_help_heading = "Simulated bench")]
pub(super) struct RewireBench {
    /// How the instrument is wired: one of `steadyohm rewire layouts`.
    #[arg(long, value_name = "NAME", default_value = "two-pickups-three-way")]
    layout: String,
    /// What is wrong with it: `good`, a number of its list, or words of one; two with ` + `
    /// between. A wrong word lists some.
    #[arg(long, value_name = "N|WORDS", default_value = "good")]
    fault: String,
    /// Everything left to chance follows from this.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// The meter's readings a second.
    #[arg(long, value_name = "R", default_value_t = 10.0, value_parser = rate)]
    rate: f64,
    /// The format the meter speaks.
    #[arg(long, value_name = "ID|FILE", default_value = "lcd-segments-14")]
    pub(super) protocol: String,
}

impl RewireBench {
    /// The layout and its job.
    fn job(&self) -> Result<(&'static Layout, Job), Failure> {
        let layout = LAYOUTS.iter().find(|layout| layout.id == self.layout);
        let layout = layout.ok_or_else(|| {
            Failure::Usage(format!(
                "there is no layout {:?}; `steadyohm rewire layouts` lists them",
                self.layout
            ))
        })?;
        Ok((layout, judged(layout.text, layout.id)?))
    }

    /// The bench meant, for a meter that speaks this format.
    fn settings(
        &self,
        circuit: &Circuit,
        protocol: &Protocol,
    ) -> Result<BenchSettings, Failure> {
        let faults = Instrument::faults_of(circuit, &self.fault).map_err(Failure::Usage)?;
        let piece = Instrument::drawn(circuit.clone(), faults, self.seed);
        Ok(BenchSettings {
            piece: Piece::Instrument(Box::new(piece)),
            meter: meter_settings(self.rate, protocol),
            operator: OperatorStyle::default(),
            hands: Hands::default(),
            seed: self.seed,
        })
    }
}

impl RewireDemo {
    /// The bench and the check meant, for a meter that speaks this format.
    pub(super) fn meant(&self, protocol: &Protocol) -> Result<(BenchSettings, Task), Failure> {
        let (layout, job) = self.bench.job()?;
        let settings = self.bench.settings(job.circuit(), protocol)?;
        Ok((settings, self.rewire.task(layout.text, layout.id)?))
    }
}

/// A simulated instrument on a port of its own.
#[derive(Debug, Args)]
pub(crate) struct RewireSimulation {
    #[command(flatten)]
    bench: RewireBench,
}

/// Simulates an instrument for the real command in another terminal. Whoever sits at this one
/// is its hands: a state's number sets it.
pub(crate) async fn simulate(simulation: RewireSimulation) -> Result<Status, Failure> {
    let bench = &simulation.bench;
    let protocol = formats::load(&bench.protocol)?;
    let (layout, job) = bench.job()?;
    let circuit = job.circuit();
    let settings = bench.settings(circuit, &protocol)?;
    let states = states(circuit);
    let pseudo = Pseudo::new()?;
    let path = pseudo.path().display().to_string();
    eprintln!(
        "a simulated meter waits at {path}, its probes in the air; in a second terminal:\n  \
         steadyohm rewire new --layout {} --out guitar.toml\n  \
         steadyohm rewire guitar.toml --from {path} --protocol {}\n\
         You are the hands: type here the number of what it asks for, and Enter.",
        layout.id,
        protocol.id()
    );
    for (number, state) in states.iter().enumerate() {
        eprintln!("{:4}  {state}", number + 1);
    }
    eprintln!("Enter alone sets the next one; Ctrl-C ends this.");
    // Whoever waits for the path has read what stands above it.
    let mut out = io::stdout().lock();
    let told = writeln!(out, "{path}").and_then(|()| out.flush());
    drop(out);
    quietly(told)?;
    let began = meter::clock();
    let companion = Companion::start(&settings, protocol, pseudo, began);
    let mut lines = BufReader::new(tokio::io::stdin()).lines();
    let mut last = None;
    while let Ok(Some(line)) = lines.next_line().await {
        let wanted = match line.trim() {
            "" => Some(last.map_or(0, |last: usize| last + 1)),
            typed => typed.parse::<usize>().ok().and_then(|it| it.checked_sub(1)),
        };
        let Some((place, step)) = wanted.and_then(|at| Some((at, states.get(at)?))) else {
            eprintln!("a number from 1 to {}, or Enter for the next", states.len());
            continue;
        };
        last = Some(place);
        eprintln!("set: {step}");
        let set = Notice::Step(StepBegins {
            step: step.clone(),
            wants: Wants::Value,
            prompt: String::new(),
        });
        companion.hear(stamp_since(began), &set).await;
    }
    companion.finished().await;
    Ok(Status::Pass)
}

/// What can be set and probed, by the names of the check's steps: what it plans first.
fn states(circuit: &Circuit) -> Vec<StepName> {
    let table = circuit.predict(&circuit.faults(), &circuit.measurements());
    let planned = planned(&table, circuit, &Meter::default());
    let rest = (0..table.measurements.len()).filter(|at| !planned.contains(at));
    let order: Vec<usize> = planned.iter().copied().chain(rest).collect();
    order
        .into_iter()
        .filter_map(|at| Some(step_name(circuit, table.measurements.get(at)?)))
        .collect()
}
