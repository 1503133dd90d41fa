//! `steadyohm ledger`: what was measured, a year later.

pub(super) mod batch;
mod check;
pub(super) mod files;
mod history;
pub(super) mod list;
mod merge;
pub(super) mod out;
mod plot;
mod rebuild;
pub(super) mod select;
mod show;

use std::path::PathBuf;

use clap::{Args, Subcommand};

use crate::cli::formats;
use crate::cli::status::{Failure, Status};
use crate::run::LedgerFile;

/// Ask the ledger: every check that was kept, by tag, batch, verdict and date.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger list --verdict fail --since 2026-01-01
  steadyohm ledger show 019a2b3c
  steadyohm ledger history L-014
  steadyohm ledger batch spring-stock
  steadyohm ledger rebuild
  steadyohm ledger merge /media/stick/ledger.sqlite")]
pub(super) struct Arguments {
    /// The ledger's file; without it the one in the user's data folder.
    #[arg(long, value_name = "FILE", global = true)]
    ledger: Option<PathBuf>,
    #[command(subcommand)]
    asked: Asked,
}

#[derive(Debug, Subcommand)]
enum Asked {
    List(list::Arguments),
    Show(show::Arguments),
    History(history::Arguments),
    Batch(batch::Arguments),
    Rebuild(rebuild::Arguments),
    Check(check::Arguments),
    Merge(merge::Arguments),
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    let path = arguments.ledger.clone();
    let file = LedgerFile::at(path.unwrap_or_else(formats::ledger_file));
    match &arguments.asked {
        Asked::List(list) => list::run(&file, list),
        Asked::Show(show) => show::run(&file, show),
        Asked::History(history) => history::run(&file, history),
        Asked::Batch(batch) => batch::run(&file, batch),
        Asked::Rebuild(rebuild) => rebuild::run(&file, rebuild),
        Asked::Check(check) => check::run(&file, check),
        Asked::Merge(merge) => merge::run(&file, merge),
    }
}
