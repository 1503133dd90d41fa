//! How a run is kept: its recording, and its line in the ledger.
//!
//! The recording is ended first, then the run is entered in one transaction; only then is it
//! said to be kept. Whatever goes wrong is told, and takes nothing from the verdict.

use std::collections::BTreeMap;
use std::path::Path;

use crate::check::notice::{CheckResult, Notice, StepName, StepResult};
use crate::reading::{Magnitude, Measured, Stamp};
use crate::record::{Entry, FindingKept, FoundKept, Sidecar, StepKept, VerdictKept};
use crate::run::{LedgerFile, LedgerFileError, Recorder, RecorderError};

/// The most findings kept of one run: a meter gone wild must not fill the disk.
const MOST_FINDINGS: usize = 1_000;

/// What could not be kept.
#[derive(Debug, thiserror::Error)]
pub(super) enum Unkept {
    /// The recording.
    #[error(transparent)]
    Recording(#[from] RecorderError),
    /// The line in the ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerFileError),
}

/// With which last digit each step was read: that of most of its numbers, the coarser of two
/// that are alike.
#[derive(Debug, Default)]
struct Digits {
    /// Numbers of the step under way by the power of ten of their last digit.
    now: BTreeMap<i8, u32>,
    done: Vec<(StepName, i8)>,
}

impl Digits {
    fn reading(&mut self, measured: &Measured) {
        if let (Magnitude::Number(_), Some(digit)) = (measured.magnitude, measured.resolution) {
            *self.now.entry(digit).or_default() += 1;
        }
    }

    fn step_done(&mut self, result: &StepResult) {
        let most = std::mem::take(&mut self.now)
            .into_iter()
            .max_by_key(|(_, count)| *count);
        if let Some((digit, _)) = most {
            self.done.push((result.step.clone(), digit));
        }
    }

    fn put_into(&self, steps: &mut [StepKept]) {
        for step in steps.iter_mut().filter(|step| step.ohms.is_some()) {
            let of_step = self
                .done
                .iter()
                .find(|(name, _)| name.as_str() == step.step);
            step.resolution_ohms = of_step.map(|(_, digit)| 10_f64.powi(i32::from(*digit)));
        }
    }
}

/// How a run is kept; by default not at all.
#[derive(Debug, Default)]
pub struct Keeping {
    sidecar: Option<Sidecar>,
    recorder: Option<Recorder>,
    ledger: Option<LedgerFile>,
    findings: Vec<FindingKept>,
    digits: Digits,
    /// The identity under which the ledger has it.
    entered: Option<String>,
    troubles: Vec<Unkept>,
}

impl Keeping {
    /// A run described by the sidecar.
    pub fn new(
        sidecar: Sidecar,
        recorder: Option<Recorder>,
        ledger: Option<LedgerFile>,
    ) -> Self {
        Self {
            sidecar: Some(sidecar),
            recorder,
            ledger,
            ..Self::default()
        }
    }

    /// Goes on with another run; what went wrong before is still to be told.
    pub(super) fn begin_next(&mut self, next: Self) {
        let before = std::mem::replace(self, next).troubles;
        self.troubles.splice(0..0, before);
    }

    /// Keeps one entry of the recording.
    pub(super) fn entry(&mut self, entry: Entry) {
        if let Some(recorder) = &mut self.recorder
            && let Err(error) = recorder.keep(entry)
        {
            self.troubles.push(error.into());
        }
    }

    /// Takes note of what was said; a verdict ends the recording and enters the run.
    pub(super) fn heard(&mut self, at: Stamp, notice: &Notice) {
        let finding = match notice {
            Notice::Disturbance(seen) => FindingKept::from(seen),
            Notice::Trouble { what, text } => FindingKept::trouble(at, *what, text),
            Notice::Verdict(result) => return self.end(Some(result), at),
            Notice::Reading(reading) => return self.digits.reading(&reading.measured),
            Notice::StepDone(result) => return self.digits.step_done(result),
            _ => return,
        };
        if self.findings.len() < MOST_FINDINGS {
            self.findings.push(finding);
        }
    }

    /// Ends the recording, and enters the run if it has a verdict; ending again changes nothing.
    pub(super) fn end(&mut self, result: Option<&CheckResult>, at: Stamp) {
        let Some(mut sidecar) = self.sidecar.take() else {
            return;
        };
        sidecar.verdict = result.map(VerdictKept::from);
        if let (Some(result), Some(run)) = (result, &mut sidecar.run) {
            let findings = std::mem::take(&mut self.findings);
            let mut found = FoundKept::of(result, findings, at);
            self.digits.put_into(&mut found.steps);
            run.found = Some(found);
        }
        if let Some(recorder) = &mut self.recorder
            && let Err(error) = recorder.end(&mut sidecar)
        {
            self.troubles.push(error.into());
        }
        let Some(ledger) = self.ledger.as_ref().filter(|_| result.is_some()) else {
            return;
        };
        match ledger.enter(&sidecar, self.recording()) {
            Ok(_kept) => self.entered = sidecar.run.map(|run| run.id.to_string()),
            Err(error) => self.troubles.push(error.into()),
        }
    }

    /// The recording's table, if all of it was kept so far.
    pub(super) fn recording(&self) -> Option<&Path> {
        self.recorder
            .as_ref()
            .filter(|recorder| recorder.is_whole())
            .map(Recorder::path)
    }

    /// Something more that could not be kept.
    pub(super) fn trouble(&mut self, unkept: Unkept) {
        self.troubles.push(unkept);
    }

    /// What is said of it when it is kept.
    pub(super) fn said(&self) -> Kept {
        Kept {
            recording: self.recording().map(|path| path.display().to_string()),
            entered: self.entered.clone(),
        }
    }

    /// What could not be kept, to be told when the screen is gone.
    pub(super) fn troubles(&mut self) -> impl Iterator<Item = Unkept> + use<> {
        std::mem::take(&mut self.troubles).into_iter()
    }
}

/// What was kept of a run.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Kept {
    /// The recording's table.
    pub(super) recording: Option<String>,
    /// The run's identity in the ledger.
    pub(super) entered: Option<String>,
}
