//! The recordings in folders, as the ledger needs them: their sidecars.
#![expect(
    clippy::disallowed_methods,
    reason = "recordings are looked for here, at the edge"
)]

use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::cli::formats;
use crate::cli::status::Failure;
use crate::record::ledger::{Ledger, NewRun};
use crate::record::{Shortage, Sidecar};
use crate::run::LedgerFile;

/// A recording found in a folder.
#[derive(Debug)]
pub(in crate::cli) struct Found {
    /// Its table.
    pub(in crate::cli) table: PathBuf,
    /// Its sidecar, or why there is none that can be read.
    pub(in crate::cli) sidecar: Result<Sidecar, String>,
}

impl Found {
    /// What is missing from the recording, in a sentence with what to do; none if it is whole.
    pub(super) fn shortage(&self) -> Option<String> {
        let missing = missing(&self.table, self.sidecar.as_ref().ok())?;
        Some(format!(
            "the recording {} is not whole: {missing}. The verdict of its day stands in the \
             ledger, but a replay or a page of the recording is of what is left: bring the whole \
             file back from a copy",
            self.table.display()
        ))
    }

    /// The run, as a ledger would name it.
    pub(super) fn run(&self, file: &LedgerFile) -> Option<NewRun> {
        Some(NewRun {
            sidecar: self.sidecar.as_ref().ok()?.clone(),
            recording: Some(file.named(&self.table)),
        })
    }
}

/// What is missing from a recording, in a few words; none if it is whole.
pub(in crate::cli) fn missing(table: &Path, sidecar: Option<&Sidecar>) -> Option<String> {
    let raw = fs::metadata(table.with_extension("bin")).ok();
    match fs::read(table) {
        Ok(table) => {
            let shortage = Shortage::of(sidecar?, &table, raw.map(|raw| raw.len()))?;
            Some(shortage.to_string())
        }
        Err(error) => Some(error.to_string()),
    }
}

/// The folders given; or else where recordings go by themselves, and wherever the ledger has
/// one.
pub(in crate::cli) fn folders(
    given: &[PathBuf],
    file: &LedgerFile,
    ledger: Option<&Ledger>,
) -> Result<Vec<PathBuf>, Failure> {
    if !given.is_empty() {
        return Ok(given.to_vec());
    }
    let mut folders = BTreeSet::from([formats::recordings_folder()]);
    if let Some(ledger) = ledger {
        let known = ledger.recordings().map_err(|error| file.failed(error))?;
        let tables = known.into_iter().filter_map(|(_, named)| named);
        folders.extend(tables.filter_map(|named| {
            let table = file.recording(&named);
            table.parent().map(Path::to_path_buf)
        }));
    }
    // What the ledger remembers may be gone; a folder that was asked for may not.
    Ok(folders
        .into_iter()
        .filter(|folder| folder.is_dir())
        .collect())
}

/// Every recording in these folders, in the order of their names; folders in them are not
/// entered.
pub(in crate::cli) fn recordings(folders: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut tables = BTreeSet::new();
    for folder in folders {
        let failed = |source| Failure::Read {
            path: folder.clone(),
            source,
        };
        for entry in fs::read_dir(folder).map_err(failed)? {
            let path = entry.map_err(failed)?.path();
            if path.extension().is_some_and(|end| end == "csv") && path.is_file() {
                tables.insert(path.canonicalize().unwrap_or(path));
            }
        }
    }
    Ok(tables.into_iter().collect())
}

/// Reads a recording's sidecar; none if the table is not a recording's at all.
pub(in crate::cli) fn read(table: PathBuf) -> Option<Found> {
    let beside = table.with_extension("json");
    let text = match fs::read(&beside) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return None,
        Err(error) => {
            let sidecar = Err(format!("{}: {error}", beside.display()));
            return Some(Found { table, sidecar });
        }
    };
    let sidecar = match serde_json::from_slice::<Sidecar>(&text) {
        Ok(sidecar) if sidecar.layout > Sidecar::LAYOUT => Err(format!(
            "{}: written by a newer version of this program",
            beside.display()
        )),
        Ok(sidecar) => Ok(sidecar),
        Err(error) => Err(format!(
            "{}: this does not describe a recording ({error})",
            beside.display()
        )),
    };
    Some(Found { table, sidecar })
}
