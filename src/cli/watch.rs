//! `steadyohm watch`: the live trace and its statistics, without a verdict; or a trial of the
//! meter.

use clap::Args;

use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::status_of;
use crate::cli::trial::{self, TrialArguments};

/// Watch the meter: a live trace with statistics, no verdict. Ctrl-C ends it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm watch --from /dev/ttyUSB0 --protocol lcd-segments-14
  steadyohm watch --from - --protocol number-lines --json --readings < values.txt
  steadyohm watch --from /dev/ttyUSB0 --trial 5,10,20,50,100 --gaps 40 --every 1618ms

With --trial, a board of yours opens a closed loop for known times, and the meter's blind spot is
measured instead of assumed. For each length in turn the board makes one long opening of two
periods, waits a period, and makes the gaps, one a period; after the last length it makes one more
long opening. Exit status: 0 found and kept, 3 nothing concluded.")]
pub(super) struct Arguments {
    #[command(flatten)]
    meter: MeterArguments,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    trial: TrialArguments,
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let Arguments {
        meter,
        output,
        trial,
    } = arguments;
    if let Some(options) = trial.options()? {
        return trial::run(&meter, &output, options).await;
    }
    let task = Task {
        name: "watch",
        check: None,
        kept: None,
    };
    let outcome = meter::run(&meter, &output, task).await?;
    Ok(status_of(&outcome))
}
