//! `steadyohm ledger merge`: another bench's runs into this ledger, each once.

use std::path::PathBuf;

use clap::Args;

use crate::cli::ledger::out::{self, Lines as _};
use crate::cli::status::{Failure, Status};
use crate::record::ledger::{Kept, Known, NewRun, Tally};
use crate::run::LedgerFile;

/// Take another ledger's runs in, each once; the other ledger is only read.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  steadyohm ledger merge /media/stick/ledger.sqlite")]
pub(super) struct Arguments {
    /// The other ledger's file.
    other: PathBuf,
}

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let other = LedgerFile::at(arguments.other.clone());
    let theirs = other.to_read()?;
    let mut runs = Vec::new();
    theirs
        .each_sidecar(&mut |line, sidecar| {
            // Named from here; a recording below neither ledger keeps its whole path.
            let recording = line
                .recording
                .map(|named| file.named(&other.recording(&named)));
            runs.push(NewRun { sidecar, recording });
        })
        .map_err(|error| other.failed(error))?;
    let mut ledger = file.to_write()?;
    let kept = ledger
        .keep_all(&runs, Known::Stays)
        .map_err(|error| file.failed(error))?;
    let tally: Tally = kept.iter().collect();
    let mut text = format!(
        "{}: {} runs came in, {} were here already\n",
        file.path().display(),
        tally.new,
        tally.same + tally.differs
    );
    for (run, kept) in runs.iter().zip(&kept) {
        if let (Kept::Differs, Some(kept)) = (kept, &run.sidecar.run) {
            text.line(format_args!(
                "run {}: the two ledgers tell it differently; this one's stays",
                kept.id
            ));
        }
    }
    out::write(&text)?;
    Ok(Status::Pass)
}
