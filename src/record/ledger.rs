//! The ledger: one SQLite file with every run that was kept, to be asked a year later.
//!
//! Recordings stay files; the ledger points to them, and everything in it comes from their
//! sidecars, so that it can be rebuilt. This room is handed an open connection, as the
//! recording's writers are handed open sinks: files are opened at the edge.
//!
//! Each run is one transaction. The file is in WAL mode with full synchronisation: what was
//! reported as kept is on the disk, and a killed process leaves the ledger as it was before.

mod batch;
mod drift;
mod error;
mod filter;
mod line;
mod past;
mod schema;
mod verify;
mod write;

use std::time::Duration;

use rusqlite::{Connection, OptionalExtension as _, Row};

use crate::record::{RunId, Sidecar};

pub use batch::{Bar, BatchFigures, Cause, Group, Histogram};
pub use drift::{Drift, Matter, Point, at_reference, reckoned};
pub use error::LedgerError;
pub use filter::Filter;
pub use line::{NoLine, RunLine, STOPPED, UNDONE};
pub use past::{Past, Seen};
pub use verify::Doubt;
pub use write::{Kept, Known, NewRun, Tally};

use error::Doing;

/// How long a writer waits for another one.
const PATIENCE: Duration = Duration::from_secs(3);

/// An open ledger.
#[derive(Debug)]
pub struct Ledger {
    connection: Connection,
}

/// A run with everything that is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// Its line.
    pub line: RunLine,
    /// The recording's sidecar, as it was at the end of the run.
    pub sidecar: Sidecar,
}

impl Ledger {
    /// A ledger to be written: an empty file becomes one, an older layout is brought forward.
    pub fn to_write(mut connection: Connection) -> Result<Self, LedgerError> {
        let opening = |error| LedgerError::of(Doing::Open, error);
        connection.busy_timeout(PATIENCE).map_err(opening)?;
        schema::judge(&connection)?;
        // SQLite falls back to reading only, and would say so at the first run's end.
        if connection.is_readonly(rusqlite::MAIN_DB).map_err(opening)? {
            return Err(LedgerError::ReadOnly);
        }
        connection
            .pragma_update(None, "journal_mode", "wal")
            .map_err(opening)?;
        for (pragma, value) in [("synchronous", "full"), ("foreign_keys", "on")] {
            connection
                .pragma_update(None, pragma, value)
                .map_err(opening)?;
        }
        schema::bring_forward(&mut connection)?;
        Ok(Self { connection })
    }

    /// A ledger to be read: the connection was opened read-only, and nothing is changed.
    pub fn to_read(connection: Connection) -> Result<Self, LedgerError> {
        let opening = |error| LedgerError::of(Doing::Open, error);
        connection.busy_timeout(PATIENCE).map_err(opening)?;
        let found = schema::judge(&connection)?;
        if found < schema::LAYOUT {
            return Err(LedgerError::Older { found });
        }
        Ok(Self { connection })
    }

    /// The newest runs that pass the filter, the newest first.
    pub fn list(
        &self,
        filter: &Filter,
        most: Option<u32>,
    ) -> Result<Vec<RunLine>, LedgerError> {
        let asking = |error| LedgerError::of(Doing::Ask, error);
        let (clause, values) = filter.sql();
        let limit = most.map_or(-1, i64::from);
        let sql = format!(
            "SELECT {} FROM run {clause} ORDER BY began DESC, id DESC LIMIT {limit}",
            line::COLUMNS
        );
        let mut statement = self.connection.prepare(&sql).map_err(asking)?;
        let lines = statement.query_map(rusqlite::params_from_iter(values), RunLine::read);
        lines.and_then(Iterator::collect).map_err(asking)
    }

    /// How many runs pass the filter.
    pub fn count(&self, filter: &Filter) -> Result<u64, LedgerError> {
        let (clause, values) = filter.sql();
        let sql = format!("SELECT count(*) FROM run {clause}");
        let values = rusqlite::params_from_iter(values);
        let count: i64 = self
            .connection
            .query_row(&sql, values, |row| row.get(0))
            .map_err(|error| LedgerError::of(Doing::Ask, error))?;
        Ok(count.unsigned_abs())
    }

    /// The runs that a text names: the beginning of an identity, or a recording's path as the
    /// ledger holds it.
    pub fn named(&self, text: &str) -> Result<Vec<RunLine>, LedgerError> {
        let asking = |error| LedgerError::of(Doing::Ask, error);
        let sql = format!(
            "SELECT {} FROM run WHERE (id >= ?1 AND id < ?1 || 'g' AND ?1 <> '') OR recording = ?2 \
             ORDER BY id DESC LIMIT 100",
            line::COLUMNS
        );
        let mut statement = self.connection.prepare(&sql).map_err(asking)?;
        let lines = statement.query_map([&text.to_lowercase(), text], RunLine::read);
        lines.and_then(Iterator::collect).map_err(asking)
    }

    /// Everything that is known of a run.
    pub fn whole(&self, id: RunId) -> Result<Option<Whole>, LedgerError> {
        let sql = format!(
            "SELECT {}, sidecar FROM run JOIN document ON document.run = run.id WHERE id = ?1",
            line::COLUMNS
        );
        let found = self
            .connection
            .query_row(&sql, [id.to_string()], |row| {
                Ok((RunLine::read(row)?, row.get::<_, String>("sidecar")?))
            })
            .optional()
            .map_err(|error| LedgerError::of(Doing::Ask, error))?;
        found
            .map(|(line, text)| {
                let sidecar = read_document(&text)?;
                Ok(Whole { line, sidecar })
            })
            .transpose()
    }

    /// Every run's identity and recording, the oldest first.
    pub fn recordings(&self) -> Result<Vec<(RunId, Option<String>)>, LedgerError> {
        let asking = |error| LedgerError::of(Doing::Ask, error);
        let mut statement = self
            .connection
            .prepare("SELECT id, recording FROM run ORDER BY id")
            .map_err(asking)?;
        let pair = |row: &Row<'_>| Ok((line::read_id(row)?, row.get("recording")?));
        let rows = statement.query_map([], pair);
        rows.and_then(Iterator::collect).map_err(asking)
    }
}

/// A sidecar from the text that the ledger holds.
fn read_document(text: &str) -> Result<Sidecar, LedgerError> {
    serde_json::from_str(text).map_err(LedgerError::Document)
}
