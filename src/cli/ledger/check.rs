//! `steadyohm ledger check`: is the ledger sound, and does it agree with the recordings?

use std::collections::BTreeSet;
use std::path::PathBuf;

use clap::Args;

use crate::cli::ledger::files;
use crate::cli::ledger::out::{self, Lines as _};
use crate::cli::status::{Failure, Status};
use crate::record::ledger::{Ledger, RunLine};
use crate::record::{RunId, Sidecar};
use crate::run::LedgerFile;

/// Check the ledger: sound as a file, every line as its description has it, every recording
/// there and in agreement.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  steadyohm ledger check

Exit status: 0 sound, 1 something is not as it should be.")]
pub(super) struct Arguments {
    /// Folders of recordings; without it, where recordings go by themselves, and wherever the
    /// ledger has one.
    #[arg(long, value_name = "DIR", num_args = 1..)]
    from: Vec<PathBuf>,
}

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let ledger = file.to_read()?;
    let mut wrong: Vec<String> = ledger
        .doubts()
        .map_err(|error| file.failed(error))?
        .iter()
        .map(ToString::to_string)
        .collect();
    let mut notes = Vec::new();
    let mut runs = 0_u64;
    if wrong.is_empty() {
        ledger
            .each_sidecar(&mut |line, sidecar| {
                runs += 1;
                match agreement(file, &line, &sidecar) {
                    Agreement::Whole => {}
                    Agreement::Missing(note) => notes.push(note),
                    Agreement::Differs(doubt) => wrong.push(doubt),
                }
            })
            .map_err(|error| file.failed(error))?;
        notes.extend(unknown(file, &ledger, &arguments.from)?);
    }
    let mut text = String::new();
    for line in wrong.iter().chain(&notes) {
        text.line(format_args!("{}", out::harmless(line)));
    }
    if wrong.is_empty() {
        text.line(format_args!(
            "{}: {runs} runs, sound",
            file.path().display()
        ));
    } else {
        text.push_str(
            "`steadyohm ledger rebuild` puts right what a recording tells; the rest stays as it \
             is\n",
        );
    }
    out::write(&text)?;
    Ok(if wrong.is_empty() {
        Status::Pass
    } else {
        Status::Fail
    })
}

/// How a run's line and its recording agree.
enum Agreement {
    Whole,
    Missing(String),
    Differs(String),
}

fn agreement(file: &LedgerFile, line: &RunLine, sidecar: &Sidecar) -> Agreement {
    let Some(named) = &line.recording else {
        return Agreement::Whole;
    };
    let table = file.recording(named);
    let told = table.display().to_string();
    if !table.is_file() {
        return Agreement::Missing(format!(
            "run {}: its recording {told} is not there; the line stands without it",
            line.id
        ));
    }
    let found = files::read(table);
    let shortage = found.as_ref().and_then(files::Found::shortage);
    match found.map(|found| found.sidecar) {
        Some(Ok(kept)) if kept == *sidecar => match shortage {
            None => Agreement::Whole,
            Some(why) => Agreement::Differs(format!("run {}: {why}", line.id)),
        },
        Some(Ok(_)) => Agreement::Differs(format!(
            "run {}: the recording {told} tells another story than the ledger",
            line.id
        )),
        Some(Err(why)) => Agreement::Differs(format!("run {}: {why}", line.id)),
        None => Agreement::Differs(format!(
            "run {}: the description beside {told} is missing",
            line.id
        )),
    }
}

/// Recordings with a verdict that the ledger does not have.
fn unknown(
    file: &LedgerFile,
    ledger: &Ledger,
    given: &[PathBuf],
) -> Result<Option<String>, Failure> {
    let known = ledger.recordings().map_err(|error| file.failed(error))?;
    let known: BTreeSet<RunId> = known.into_iter().map(|(id, _)| id).collect();
    let folders = files::folders(given, file, Some(ledger))?;
    let missing = files::recordings(&folders)?
        .into_iter()
        .filter_map(files::read)
        .filter_map(|found| found.sidecar.ok())
        .filter_map(|sidecar| RunLine::of(&sidecar, None).ok())
        .filter(|line| !known.contains(&line.id))
        .count();
    Ok((missing > 0).then(|| {
        format!(
            "{missing} recordings with a verdict are not in the ledger; `steadyohm ledger \
             rebuild` takes them in"
        )
    }))
}
