//! A recording for each lead of a stock, with its own start time.

#![expect(
    clippy::disallowed_methods,
    reason = "a description that is undone is read here, at the edge"
)]

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::check::lead::LeadOptions;
use uuid::Uuid;

use crate::record::{CheckKept, LeadKept, RunId, Sidecar};
use crate::run::recorder::write_sidecar;
use crate::run::{Keeping, LedgerFile, Recorder, RecorderError};

/// Where the leads' recordings go.
#[derive(Debug)]
pub struct Recordings {
    /// The folder.
    pub folder: PathBuf,
    /// What they have in common.
    pub sidecar: Sidecar,
    /// The ledger that each of them is entered in.
    pub ledger: Option<LedgerFile>,
    /// The stock's name, which is the batch they belong to if none was named.
    pub batch: String,
}

impl Recordings {
    /// Begins the recording of a lead.
    pub(super) fn begin(
        &self,
        tag: &str,
        options: &LeadOptions,
        began: &str,
    ) -> Result<Keeping, RecorderError> {
        let stamp = jiff::ZonedDateTime::now().strftime("%Y%m%d-%H%M%S");
        // A tag may hold what a file's name must not.
        let file: String = tag
            .chars()
            .map(|character| match character {
                sound if sound.is_alphanumeric() || "-_.".contains(sound) => sound,
                _ => '_',
            })
            .collect();
        // Each lead is a run of its own.
        let mut run = self.sidecar.run.clone();
        if let Some(run) = &mut run {
            run.id = RunId::new(Uuid::now_v7());
            run.about.tag = Some(tag.to_owned());
            run.about.batch.get_or_insert_with(|| self.batch.clone());
        }
        let sidecar = Sidecar {
            run,
            began: began.to_owned(),
            check: Some(CheckKept::Lead(LeadKept::from(options))),
            ..self.sidecar.clone()
        };
        let recorder =
            Recorder::begin(&self.folder, &format!("{stamp}-lead-{file}"), &sidecar)?;
        Ok(Keeping::new(sidecar, Some(recorder), self.ledger.clone()))
    }

    /// Marks a lead's run as undone: first beside its recording, from which the ledger can be
    /// made anew, then in the ledger.
    pub(super) fn undo(&self, recording: &str) -> Result<(), RecorderError> {
        let mut table = PathBuf::from(recording);
        if !table.is_file()
            && let Some(name) = table.file_name()
        {
            // The stock is gone on with from another folder.
            table = self.folder.join(name);
        }
        let failed = |why: String| RecorderError::Undo {
            path: table.clone(),
            why,
        };
        let sidecar = undone(&table).map_err(|error| failed(error.to_string()))?;
        match &self.ledger {
            Some(ledger) => ledger
                .enter_anew(&sidecar, &table)
                .map_err(|error| failed(error.to_string())),
            None => Ok(()),
        }
    }
}

/// The recording's description, once it says that the run was undone.
fn undone(table: &Path) -> io::Result<Sidecar> {
    let text = fs::read(table.with_extension("json"))?;
    let mut sidecar: Sidecar = serde_json::from_slice(&text)?;
    if let Some(run) = &mut sidecar.run {
        run.undone = true;
    }
    write_sidecar(table, &sidecar)?;
    Ok(sidecar)
}
