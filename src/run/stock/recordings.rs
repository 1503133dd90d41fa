//! A recording for each lead of a stock, with its own start time.

use std::path::PathBuf;

use crate::check::lead::LeadOptions;
use uuid::Uuid;

use crate::record::{CheckKept, LeadKept, RunId, Sidecar};
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
}
