//! The command line: arguments as typed, then the plan as meant; one file a command.
mod demo;
mod formats;
mod hearing;
mod identify;
mod input;
mod keep;
mod lead;
mod ledger;
mod meter;
mod ports;
mod pot;
mod pot_bench;
mod protocols;
mod replay;
mod report;
mod rewire;
mod simulate;
mod status;
mod stock;
mod trial;
mod trials;
mod watch;

use std::io::{self, Write as _};
use std::process::ExitCode;

use clap::{CommandFactory as _, FromArgMatches as _, Parser, Subcommand};

use crate::session::Outcome;
use status::{Failure, Status};

/// What is true of all resistance measuring; printed by every help.
const CAUTION: &str = "Measure resistance only on work without power: unplug the lead at both ends, unplug the \
amplifier, take the battery out of an active instrument. A valve amplifier holds a lethal charge after it is unplugged: \
leave it closed. Local codes and licensed practice come first.";

/// Watches a multimeter's serial output while a lead is bent, and says pass, fail or retest.
#[derive(Debug, Parser)]
#[command(name = "steadyohm", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Lead(Box<lead::Arguments>),
    Pot(Box<pot::Arguments>),
    Rewire(Box<rewire::Arguments>),
    Watch(watch::Arguments),
    Replay(replay::Arguments),
    Report(report::Arguments),
    Ledger(ledger::Arguments),
    Demo(demo::Arguments),
    Simulate(simulate::Arguments),
    Identify(identify::Arguments),
    Protocols(protocols::Arguments),
    Ports(ports::Arguments),
}

/// Runs the program: its arguments are the process's own.
pub fn run() -> ExitCode {
    let parsed = cautioned(Arguments::command())
        .try_get_matches()
        .and_then(|matches| Arguments::from_arg_matches(&matches));
    let arguments = match parsed {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version come this way too; printing fails only if nobody listens.
            drop(error.print());
            return if error.use_stderr() {
                Status::Usage.into()
            } else {
                Status::Pass.into()
            };
        }
    };
    match dispatch(arguments.command) {
        Ok(status) => status.into(),
        Err(failure) => {
            // The status must stand though nobody can be told, be it that the disk is full.
            drop(writeln!(io::stderr(), "steadyohm: {failure}"));
            failure.status().into()
        }
    }
}

/// The command and all below it, with the caution at the end of each help.
fn cautioned(command: clap::Command) -> clap::Command {
    let help = match command.get_after_help() {
        Some(examples) => format!("{examples}\n\n{CAUTION}"),
        None => CAUTION.to_owned(),
    };
    command.after_help(help).mut_subcommands(cautioned)
}

fn dispatch(command: Command) -> Result<Status, Failure> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(Failure::Runtime)?;
    let done = runtime.block_on(async {
        match command {
            Command::Lead(arguments) => lead::run(*arguments).await,
            Command::Pot(arguments) => pot::run(*arguments).await,
            Command::Rewire(arguments) => rewire::run(*arguments).await,
            Command::Watch(arguments) => watch::run(arguments).await,
            Command::Replay(arguments) => replay::run(&arguments),
            Command::Report(arguments) => report::run(&arguments),
            Command::Ledger(arguments) => ledger::run(&arguments),
            Command::Demo(arguments) => demo::run(arguments).await,
            Command::Simulate(arguments) => simulate::run(arguments).await,
            Command::Identify(arguments) => identify::run(&arguments).await,
            Command::Protocols(arguments) => protocols::run(&arguments),
            Command::Ports(arguments) => ports::run(&arguments),
        }
    });
    // A thread that waits for a key which never comes must not keep the program from leaving.
    runtime.shutdown_background();
    done
}

/// The exit status of an outcome.
const fn status_of(outcome: &Outcome) -> Status {
    use crate::check::notice::Verdict;
    match outcome {
        Outcome::Watched
        | Outcome::Judged {
            verdict: Verdict::Pass,
            ..
        } => Status::Pass,
        Outcome::Judged {
            verdict: Verdict::Fail,
            ..
        } => Status::Fail,
        Outcome::NeverHeard
        | Outcome::Judged {
            meter_heard: false, ..
        } => Status::Meter,
        Outcome::Judged {
            verdict: Verdict::Retest,
            ..
        } => Status::Retest,
    }
}
