//! What trials of meters found: one file in the user's configuration folder.
#![expect(
    clippy::disallowed_methods,
    reason = "the file is read and written here, at the edge"
)]

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::check::meter::Tried;
use crate::check::trial::Findings;
use crate::cli::formats;
use crate::cli::status::Failure;
use crate::record::TriedKept;
use crate::signal::trial::Estimate;
use crate::source::{self, Where};

/// The file: trials, each of one meter.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Trials {
    #[serde(default, rename = "trial")]
    trials: Vec<TrialEntry>,
}

/// One trial. Times in seconds, resistances in ohms.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TrialEntry {
    /// The meter's format.
    protocol: String,
    /// Where the meter is found, if that is always the same place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    port: Option<String>,
    /// The day, as the user's clock had it.
    made: String,
    /// What checks reckon with.
    counted_on: TriedKept,
    /// Aperture: most likely, least, most.
    aperture_s: [f64; 3],
    /// Fraction: the same.
    fraction: [f64; 3],
    /// Each length with gaps made and gaps seen.
    gaps: Vec<CountKept>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CountKept {
    length_s: f64,
    made: u32,
    seen: u32,
}

/// Which meter was met: where, and by which format.
pub(super) struct Met {
    /// Where it was.
    pub(super) place: Where,
    /// The format's ID.
    pub(super) protocol: String,
}

/// The trial of the meter that speaks this format at this place, if there is one.
pub(super) fn of(protocol: &str, place: &Where) -> Result<Option<Tried>, Failure> {
    let Some(path) = path() else { return Ok(None) };
    let port = port_of(place);
    let found = read(&path)?
        .trials
        .iter()
        .find(|entry| entry.is_of(protocol, port.as_deref()))
        .map(|entry| Tried::from(&entry.counted_on));
    Ok(found)
}

/// Keeps what a trial found in place of an earlier trial of the same meter; tells where.
pub(super) fn keep(met: &Met, findings: &Findings) -> Result<PathBuf, Failure> {
    let path = path().ok_or_else(|| {
        Failure::Usage(
            "nowhere to keep the trial: set HOME or XDG_CONFIG_HOME, and try again".to_owned(),
        )
    })?;
    let mut kept = read(&path)?;
    let port = port_of(&met.place);
    kept.trials
        .retain(|entry| !entry.is_of(&met.protocol, port.as_deref()));
    kept.trials.push(TrialEntry {
        protocol: met.protocol.clone(),
        port,
        made: jiff::ZonedDateTime::now().strftime("%Y-%m-%d").to_string(),
        counted_on: TriedKept::from(&findings.tried),
        aperture_s: row(findings.fit.aperture),
        fraction: row(findings.fit.fraction),
        gaps: findings
            .batches
            .iter()
            .map(|batch| CountKept {
                length_s: batch.length.0,
                made: batch.made,
                seen: batch.seen,
            })
            .collect(),
    });
    write(&path, &kept)?;
    Ok(path)
}

impl TrialEntry {
    fn is_of(&self, protocol: &str, port: Option<&str>) -> bool {
        self.protocol == protocol && self.port.as_deref() == port
    }
}

const fn row(estimate: Estimate) -> [f64; 3] {
    [estimate.best, estimate.low, estimate.high]
}

/// What tells one meter's place from another's, and stays the same when it is plugged in anew:
/// a USB adapter's numbers, an address, a built-in port's name. None for a port that has no
/// lasting name.
fn port_of(place: &Where) -> Option<String> {
    match place {
        Where::Tcp { .. } => Some(place.to_string()),
        Where::Serial(path) => source::lasting_name(path),
        Where::Usbtmc(_) | Where::StandardInput | Where::Recording(_) => None,
    }
}

fn path() -> Option<PathBuf> {
    formats::configuration_folder().map(|folder| folder.join("trials.toml"))
}

fn read(path: &Path) -> Result<Trials, Failure> {
    match fs::read_to_string(path) {
        Ok(text) => toml::from_str(&text).map_err(|error| {
            Failure::Usage(format!(
                "{}: what trials found cannot be read; mend the file or move it away\n{error}",
                path.display()
            ))
        }),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Trials::default()),
        Err(source) => Err(Failure::Read {
            path: path.to_path_buf(),
            source,
        }),
    }
}

/// Writes beside and renames, so that a power cut leaves the old file or the new one.
fn write(path: &Path, kept: &Trials) -> Result<(), Failure> {
    let refuse = |why: String| {
        Failure::Usage(format!(
            "cannot keep the trial in {}: {why}",
            path.display()
        ))
    };
    let text = toml::to_string_pretty(kept).map_err(|error| refuse(error.to_string()))?;
    let told = format!(
        "# What `steadyohm watch --trial` found of each meter. Remove an entry to forget it.\n\n\
         {text}"
    );
    let beside = path.with_extension("toml.new");
    let folder = path.parent().unwrap_or(path);
    fs::create_dir_all(folder)
        .and_then(|()| fs::write(&beside, told))
        .and_then(|()| fs::rename(&beside, path))
        .map_err(|error| refuse(error.to_string()))
}
