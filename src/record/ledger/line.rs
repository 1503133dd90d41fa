//! A run's line in the ledger, and how it follows from the recording's sidecar.

use rusqlite::types::Type;
use rusqlite::{Row, ToSql};
use serde::Serialize;
use serde_json::Value;

use crate::check::notice::Verdict;
use crate::record::{About, RunId, STOPPED_BY_OPERATOR, Sidecar, VerdictKept};

/// The columns of a line, in the order of [`RunLine::values`].
pub(super) const COLUMNS: &str = "id, began, kind, verdict, tag, instrument, batch, lot, \
     length_m, temperature_c, tare, protocol, made_by, recording";

/// Stands for the verdict of a run that the operator ended before anything was decided.
pub const STOPPED: &str = "stopped";
/// Stands for the verdict of a run that was taken back.
pub const UNDONE: &str = "undone";

/// A run in one line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunLine {
    /// Its identity.
    #[serde(rename = "run")]
    pub id: RunId,
    /// When it began: RFC 3339, UTC, whole seconds.
    pub began: String,
    /// The check.
    pub kind: String,
    /// Its verdict; or [`STOPPED`] or [`UNDONE`], which judge nothing.
    pub verdict: String,
    /// The tag.
    pub tag: Option<String>,
    /// The instrument.
    pub instrument: Option<String>,
    /// The batch.
    pub batch: Option<String>,
    /// The supplier's lot.
    pub lot: Option<String>,
    /// The lead's length in metres.
    pub length_m: Option<f64>,
    /// The temperature of the workshop in degrees Celsius.
    pub temperature_c: Option<f64>,
    /// How the probe leads were taken off: `none`, `given` or `touch`.
    pub tare: Option<String>,
    /// The meter's format.
    pub protocol: String,
    /// How it was made, if not with a meter.
    pub made_by: Option<String>,
    /// The recording's table; relative paths are relative to the ledger's folder.
    pub recording: Option<String>,
}

/// Why a recording has no line in the ledger.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoLine {
    /// It was a watch.
    #[error("it was a watch, which judges nothing")]
    Watch,
    /// It ended before its verdict.
    #[error("it ended before its verdict")]
    NoVerdict,
    /// Its time cannot be read.
    #[error("its beginning `{0}` is no time (RFC 3339)")]
    Time(String),
}

impl RunLine {
    /// The line of a run, given its sidecar.
    pub fn of(sidecar: &Sidecar, recording: Option<String>) -> Result<Self, NoLine> {
        let Some(check) = &sidecar.check else {
            return Err(NoLine::Watch);
        };
        let Some(verdict) = &sidecar.verdict else {
            return Err(NoLine::NoVerdict);
        };
        // The options' own words, whichever check they belong to.
        let options = serde_json::to_value(check).unwrap_or_default();
        let option = |name: &str| options.get(name).unwrap_or(&Value::Null);
        let tare = match (option("tare_by_touch"), option("tare_ohms")) {
            (Value::Bool(true), _) => Some("touch"),
            (_, Value::Number(_)) => Some("given"),
            (Value::Bool(false), _) => Some("none"),
            _ => None,
        };
        let (id, began) = beginning(sidecar)?;
        let run = sidecar.run.as_ref();
        let about = run.map_or_else(About::default, |run| run.about.clone());
        Ok(Self {
            id,
            began,
            kind: option("name").as_str().unwrap_or_default().to_owned(),
            verdict: standing(sidecar, verdict).to_owned(),
            tag: about.tag,
            instrument: about.instrument,
            batch: about.batch,
            lot: about.lot,
            length_m: option("length_m").as_f64(),
            temperature_c: about.temperature_c,
            tare: tare.map(str::to_owned),
            protocol: sidecar.protocol.clone(),
            made_by: sidecar.made_by.clone(),
            recording,
        })
    }

    /// Whether it says nothing of the work: it was stopped or undone.
    pub fn judges_nothing(&self) -> bool {
        matches!(&*self.verdict, STOPPED | UNDONE)
    }

    /// The values, in the order of [`COLUMNS`]; the identity is given as text.
    pub(super) fn values<'a>(&'a self, id: &'a dyn ToSql) -> [&'a dyn ToSql; 14] {
        [
            id,
            &self.began,
            &self.kind,
            &self.verdict,
            &self.tag,
            &self.instrument,
            &self.batch,
            &self.lot,
            &self.length_m,
            &self.temperature_c,
            &self.tare,
            &self.protocol,
            &self.made_by,
            &self.recording,
        ]
    }

    /// A line read from a row that has [`COLUMNS`].
    pub(super) fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: read_id(row)?,
            began: row.get("began")?,
            kind: row.get("kind")?,
            verdict: row.get("verdict")?,
            tag: row.get("tag")?,
            instrument: row.get("instrument")?,
            batch: row.get("batch")?,
            lot: row.get("lot")?,
            length_m: row.get("length_m")?,
            temperature_c: row.get("temperature_c")?,
            tare: row.get("tare")?,
            protocol: row.get("protocol")?,
            made_by: row.get("made_by")?,
            recording: row.get("recording")?,
        })
    }
}

/// The identity in a row's first column.
pub(super) fn read_id(row: &Row<'_>) -> rusqlite::Result<RunId> {
    let text: String = row.get("id")?;
    text.parse().map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(0, Type::Text, Box::new(error))
    })
}

/// The word for how a run stands.
fn standing<'s>(sidecar: &Sidecar, kept: &'s VerdictKept) -> &'s str {
    let stopped = |why: &String| why == STOPPED_BY_OPERATOR;
    if sidecar.run.as_ref().is_some_and(|run| run.undone) {
        UNDONE
    } else if kept.verdict == Verdict::Retest.word() && kept.reasons.iter().any(stopped) {
        STOPPED
    } else {
        &kept.verdict
    }
}

/// A run's identity, and its beginning in UTC.
fn beginning(sidecar: &Sidecar) -> Result<(RunId, String), NoLine> {
    let began: jiff::Timestamp = sidecar
        .began
        .parse()
        .map_err(|_form| NoLine::Time(sidecar.began.clone()))?;
    let id = if let Some(run) = &sidecar.run {
        run.id
    } else {
        let description = serde_json::to_vec(sidecar).unwrap_or_default();
        let milliseconds = u64::try_from(began.as_millisecond()).unwrap_or_default();
        RunId::of_old(milliseconds, &description)
    };
    Ok((id, began.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()))
}
