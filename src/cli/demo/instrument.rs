//! `steadyohm demo rewire`: a simulated instrument at its jack.

use clap::Args;

use crate::bench::{BenchSettings, Hands, Instrument, OperatorStyle, Piece};
use crate::circuit::LAYOUTS;
use crate::cli::demo::{meter_settings, rate};
use crate::cli::meter::{OutputArguments, Task};
use crate::cli::rewire::{RewireArguments, judged};
use crate::cli::status::Failure;
use crate::protocol::Protocol;

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
    /// What is wrong with it: `good`, a number of its list, or words of one: a wrong word
    /// lists some.
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

impl RewireDemo {
    /// The bench and the check meant, for a meter that speaks this format.
    pub(super) fn meant(&self, protocol: &Protocol) -> Result<(BenchSettings, Task), Failure> {
        let bench = &self.bench;
        let layout = LAYOUTS.iter().find(|layout| layout.id == bench.layout);
        let layout = layout.ok_or_else(|| {
            Failure::Usage(format!(
                "there is no layout {:?}; `steadyohm rewire layouts` lists them",
                bench.layout
            ))
        })?;
        let job = judged(layout.text, layout.id)?;
        let circuit = job.circuit();
        let fault = Instrument::fault_of(circuit, &bench.fault).map_err(Failure::Usage)?;
        let piece = Instrument::drawn(circuit.clone(), fault, bench.seed);
        let settings = BenchSettings {
            piece: Piece::Instrument(Box::new(piece)),
            meter: meter_settings(bench.rate, protocol),
            operator: OperatorStyle::default(),
            hands: Hands::default(),
            seed: bench.seed,
        };
        Ok((settings, self.rewire.task(layout.text, layout.id)?))
    }
}
