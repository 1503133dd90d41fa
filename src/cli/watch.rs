//! `steadyohm watch`: the live trace and its statistics, without a verdict.

use clap::Args;

use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::status_of;

/// Watch the meter: a live trace with statistics, no verdict. Ctrl-C ends it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm watch --from /dev/ttyUSB0 --protocol lcd-segments-14
  steadyohm watch --from - --protocol number-lines --json --readings < values.txt")]
pub(super) struct Arguments {
    #[command(flatten)]
    meter: MeterArguments,
    #[command(flatten)]
    output: OutputArguments,
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let Arguments { meter, output } = arguments;
    let task = Task {
        name: "watch",
        check: None,
        kept: None,
    };
    let outcome = meter::run(&meter, &output, task).await?;
    Ok(status_of(&outcome))
}
