//! The simulated control of `demo pot` and `simulate pot`.

use std::sync::Arc;

use clap::Args;

use crate::bench::{
    BenchSettings, Hands, MeterSettings, OperatorStyle, Pot, PotFault, Seat, TurnPlan, Turning,
};
use crate::check::pot::Place;
use crate::circuit::control::Law;
use crate::cli::demo;
use crate::cli::meter::OutputArguments;
use crate::cli::pot::{JackArguments, PotArguments};
use crate::cli::status::{Failure, Status};
use crate::cli::{formats, input, simulate, status_of};
use crate::protocol::Protocol;
use crate::reading::{Ohms, Seconds};

/// A simulated control; needs no meter and no control.
#[derive(Debug, Args)]
pub(super) struct Demo {
    #[command(flatten)]
    bench: PotBench,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    pot: PotArguments,
}

/// A simulated control on a port of its own.
#[derive(Debug, Args)]
pub(super) struct Simulation {
    #[command(flatten)]
    bench: PotBench,
    #[command(flatten)]
    jack: JackArguments,
}

/// The simulated bench for a control.
#[derive(Debug, Args)]
#[command(next_help_heading = "Simulated bench")]
struct PotBench {
    /// What is wrong with it: good, dead-spot, dirty-zone, open-end, cracked, worn-wiper,
    /// high-end-resistance, intermittent-turn.
    #[arg(long, value_name = "NAME", default_value = "good", value_parser = fault)]
    fault: PotFault,
    /// How its resistance goes with the turn: linear, audio, reverse.
    #[arg(long, value_name = "LAW", default_value = "linear", value_parser = law)]
    law: Law,
    /// How long the hand takes from stop to stop.
    #[arg(long, value_name = "SECONDS", default_value = "15s", value_parser = input::seconds)]
    hand: Seconds,
    /// The hand takes no heed of being told to go slower.
    #[arg(long)]
    heedless: bool,
    /// Everything left to chance follows from this.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// The meter's readings a second.
    #[arg(long, value_name = "R", default_value_t = 10.0, value_parser = demo::rate)]
    rate: f64,
    /// The format the meter speaks.
    #[arg(long, value_name = "ID|FILE", default_value = "lcd-segments-14")]
    protocol: String,
}

/// The simulated pickup.
const PICKUP: Ohms = Ohms(6e3);

impl PotBench {
    fn settings(
        &self,
        place: Place,
        protocol: &Protocol,
        operator: OperatorStyle,
    ) -> BenchSettings {
        let pot = Pot {
            seat: match place {
                Place::Bench(_) => Seat::Lugs,
                Place::Jack { wiring, .. } => Seat::Jack(wiring, PICKUP),
            },
            turning: Turning {
                pass: self.hand,
                heeds: !self.heedless,
                ..Turning::default()
            },
            ..Pot::new(self.law, self.fault)
        };
        BenchSettings {
            piece: pot.into(),
            meter: self.meter(protocol),
            operator,
            hands: Hands::default(),
            seed: self.seed,
        }
    }

    fn meter(&self, protocol: &Protocol) -> MeterSettings {
        demo::meter_settings(self.rate, protocol)
    }
}

/// Watches the check of a simulated control.
pub(super) async fn demo(demo: Demo) -> Result<Status, Failure> {
    let Demo {
        bench,
        mut output,
        pot,
    } = demo;
    output.leave_nothing()?;
    let protocol = formats::load(&bench.protocol)?;
    let place = pot.options()?.place;
    let settings = bench.settings(place, &protocol, OperatorStyle::default());
    let outcome = demo::run_on(&settings, &protocol, &output, pot.task()?).await?;
    Ok(status_of(&outcome))
}

/// Simulates a control for the real command in another terminal.
pub(super) async fn simulate(simulation: Simulation) -> Result<Status, Failure> {
    let Simulation { bench, jack } = simulation;
    let protocol = formats::load(&bench.protocol)?;
    let place = if jack.in_circuit {
        Place::Jack {
            wiring: jack.wiring.into(),
            total: None,
            pickup: None,
        }
    } else {
        Place::Bench(crate::check::pot::BenchPlan::default())
    };
    let interval = bench.meter(&protocol).interval();
    let plan = TurnPlan::of(!jack.in_circuit, interval, bench.hand);
    let settings = bench.settings(place, &protocol, OperatorStyle::Turns(plan));
    let more = if jack.in_circuit {
        "--in-circuit"
    } else {
        "--value 250k"
    };
    let said = |path: &str| {
        format!(
            "steadyohm pot --from {path} --protocol {} {more}",
            protocol.id()
        )
    };
    simulate::serve(&settings, Arc::clone(&protocol), said).await
}

fn fault(text: &str) -> Result<PotFault, String> {
    PotFault::from_word(text).ok_or_else(|| {
        let words: Vec<&str> = PotFault::ALL.iter().map(|fault| fault.word()).collect();
        format!(
            "a control has no fault {text:?}; it has: {}",
            words.join(", ")
        )
    })
}

fn law(text: &str) -> Result<Law, String> {
    match text {
        "linear" => Ok(Law::Linear),
        "audio" => Ok(Law::Exponential { mid: 0.15 }),
        "reverse" => Ok(Law::Reverse { mid: 0.15 }),
        other => Err(format!(
            "there is no law {other:?}; there are linear, audio and reverse"
        )),
    }
}
