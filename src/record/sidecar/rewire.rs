//! A rewire check as a sidecar keeps it: the job's own text, so that the file may change since.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::check::rewire::RewireOptions;
use crate::circuit::Job;
use crate::circuit::diagnosis::Priors;
use crate::reading::{Ohms, Seconds};

/// The options of a rewire check; resistances in ohms, times in seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RewireKept {
    /// The job file as it was.
    job: String,
    /// Its name.
    origin: String,
    /// The user's own table of chances and efforts as it was, if one was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    priors: Option<TableKept>,
    tare_ohms: Option<f64>,
    open: bool,
    probes: usize,
    wait_s: f64,
}

/// A table of chances and efforts as it was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct TableKept {
    text: String,
    origin: String,
}

impl RewireKept {
    /// Options with the text that their job was read from.
    pub fn new(options: &RewireOptions, job: &str, origin: &str) -> Self {
        Self {
            job: job.to_owned(),
            origin: origin.to_owned(),
            priors: None,
            tare_ohms: options.tare.map(|tare| tare.0),
            open: options.open,
            probes: options.probes,
            wait_s: options.wait.0,
        }
    }

    /// The instrument's name as its job has it, or else that of the job's file.
    pub fn instrument(&self) -> Option<String> {
        let job = Job::from_text(&self.job, &self.origin).ok();
        let title = job.and_then(|job| job.plan().title.clone());
        title.or_else(|| Some(self.origin.strip_suffix(".toml")?.to_owned()))
    }

    /// The temperature of the workshop as the job has it, in degrees Celsius.
    pub fn workshop(&self) -> Option<f64> {
        let job = Job::from_text(&self.job, &self.origin).ok()?;
        Some(*job.plan().workshop.celsius.as_ref()?.get_ref())
    }

    /// The same with the text that the options' table of chances was read from.
    #[must_use]
    pub fn with_priors(mut self, text: &str, origin: &str) -> Self {
        self.priors = Some(TableKept {
            text: text.to_owned(),
            origin: origin.to_owned(),
        });
        self
    }

    /// The name of the user's own table of chances, if there is one.
    pub fn own_table(&self) -> Option<&str> {
        self.priors.as_ref().map(|kept| kept.origin.as_str())
    }

    /// The options kept; a sentence if the job or the table makes no sense.
    pub fn options(&self) -> Result<RewireOptions, String> {
        let job = Job::from_text(&self.job, &self.origin).map_err(|error| error.to_string())?;
        let table = self.priors.as_ref();
        let priors = table
            .map(|kept| Priors::from_text(&kept.text, &kept.origin).map(Arc::new))
            .transpose()
            .map_err(|error| error.to_string())?;
        Ok(RewireOptions {
            job: Arc::new(job),
            priors,
            tare: self.tare_ohms.map(Ohms),
            open: self.open,
            probes: self.probes,
            wait: Seconds(self.wait_s),
        })
    }
}
