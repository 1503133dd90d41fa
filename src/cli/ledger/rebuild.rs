//! `steadyohm ledger rebuild`: the ledger anew from the recordings.
use std::collections::HashMap;
use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::ledger::files;
use crate::cli::ledger::out::{self, Lines as _};
use crate::cli::status::{Failure, Status};
use crate::record::RunId;
use crate::record::ledger::{
    Doubt, Kept, Known, Ledger, LedgerError, NewRun, NoLine, RunLine, Tally,
};
use crate::run::{LedgerFile, LedgerFileError};

/// Make the ledger anew from the recordings: runs it does not have come in, lines that differ
/// from their recording are put right, and runs without a recording stay.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger rebuild
  steadyohm ledger rebuild --ledger new.sqlite --from /media/stick/recordings")]
pub(super) struct Arguments {
    /// Folders of recordings; without it, where recordings go by themselves, and wherever the
    /// ledger has one.
    #[arg(long, value_name = "DIR", num_args = 1..)]
    from: Vec<PathBuf>,
}

/// So many runs go into one transaction: enough to be quick, few enough that a check that ends
/// meanwhile need not wait.
const AT_ONCE: usize = 500;

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let mut ledger = open(file)?;
    let folders = files::folders(&arguments.from, file, Some(&ledger))?;
    let tables = files::recordings(&folders)?;
    let mut tally = Tally::default();
    let mut seen: HashMap<RunId, PathBuf> = HashMap::new();
    for some in tables.chunks(AT_ONCE) {
        let runs: Vec<NewRun> = some
            .iter()
            .filter_map(|table| run_of(file, table, &mut seen))
            .collect();
        let kept = ledger
            .keep_all(&runs, Known::Replaced)
            .map_err(|error| file.failed(error))?;
        tally.extend(&kept);
        for (run, kept) in runs.iter().zip(&kept) {
            if let Kept::Not(why @ NoLine::Time(_)) = kept {
                let named = run.recording.as_deref().unwrap_or_default();
                out::tell(format_args!("{named}: {why}; it is left out"));
            }
        }
    }
    let known = ledger.recordings().map_err(|error| file.failed(error))?;
    let others = known
        .iter()
        .filter(|(id, _)| !seen.contains_key(id))
        .count();
    out::write(&text(file, &tally, others))?;
    Ok(Status::Pass)
}

/// The ledger; one that is damaged is set aside, never thrown away.
fn open(file: &LedgerFile) -> Result<Ledger, Failure> {
    match file.to_write() {
        Ok(ledger) => match ledger.doubts() {
            Ok(doubts) if !doubts.iter().any(Doubt::is_of_the_file) => {
                return Ok(ledger);
            }
            Ok(_) | Err(LedgerError::Damaged(_)) => {}
            Err(error) => return Err(file.failed(error).into()),
        },
        Err(LedgerFileError::Ledger {
            source: LedgerError::Damaged(_),
            ..
        }) => {}
        Err(error) => return Err(error.into()),
    }
    let stamp = jiff::Timestamp::now()
        .strftime("%Y%m%dT%H%M%SZ")
        .to_string();
    let aside = file.set_aside(&stamp).map_err(|source| Failure::Read {
        path: file.path().to_path_buf(),
        source,
    })?;
    out::tell(format_args!(
        "the ledger was damaged; it is set aside as {}, since runs without a \
         recording stand nowhere else",
        aside.display()
    ));
    Ok(file.to_write()?)
}

/// The run of a recording; told and left out if it cannot be read or is there twice.
fn run_of(
    file: &LedgerFile,
    table: &Path,
    seen: &mut HashMap<RunId, PathBuf>,
) -> Option<NewRun> {
    let found = files::read(table.to_path_buf())?;
    if let Err(why) = &found.sidecar {
        out::tell(format_args!("{why}; it is left out"));
    }
    let run = found.run(file)?;
    let Ok(line) = RunLine::of(&run.sidecar, None) else {
        return Some(run);
    };
    if let Some(first) = seen.get(&line.id) {
        out::tell(format_args!(
            "{} and {} are the same run; the first is taken",
            first.display(),
            table.display()
        ));
        return None;
    }
    if let Some(why) = found.shortage() {
        out::tell(format_args!("run {}: {why}", line.id));
    }
    seen.insert(line.id, table.to_path_buf());
    Some(run)
}

fn text(file: &LedgerFile, tally: &Tally, others: usize) -> String {
    let mut text = format!(
        "{}: {} runs came in, {} stood as they are, {} were put right\n",
        file.path().display(),
        tally.new,
        tally.same,
        tally.differs
    );
    if tally.not > 0 {
        text.line(format_args!(
            "{} recordings have no line: watches, and runs that ended before their verdict",
            tally.not
        ));
    }
    if others > 0 {
        text.line(format_args!(
            "{others} runs have no recording in these folders; they stay as they were"
        ));
    }
    text
}
