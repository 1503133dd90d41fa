//! Writing: every run in one transaction, whole or not at all.

use rusqlite::{Connection, OptionalExtension as _, TransactionBehavior, params};

use crate::record::ledger::error::Doing;
use crate::record::ledger::line::COLUMNS;
use crate::record::ledger::{Ledger, LedgerError, NoLine, RunLine};
use crate::record::{RunKept, Sidecar};

/// A run to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct NewRun {
    /// The recording's sidecar, with its verdict.
    pub sidecar: Sidecar,
    /// The recording's table, as the ledger shall name it.
    pub recording: Option<String>,
}

/// What is done with a run that is known already and differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// The ledger's own stays.
    Stays,
    /// It is replaced.
    Replaced,
}

/// What became of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kept {
    /// It is in the ledger now.
    New,
    /// It was there already, just so.
    Same,
    /// It was there already, not just so; [`Known`] tells what was done.
    Differs,
    /// It has no line in a ledger.
    Not(NoLine),
}

/// What became of several runs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// So many are new.
    pub new: u64,
    /// So many were there just so.
    pub same: u64,
    /// So many were there, not just so.
    pub differs: u64,
    /// So many have no line in a ledger.
    pub not: u64,
}

impl<'k> Extend<&'k Kept> for Tally {
    fn extend<I: IntoIterator<Item = &'k Kept>>(&mut self, several: I) {
        for kept in several {
            match kept {
                Kept::New => self.new += 1,
                Kept::Same => self.same += 1,
                Kept::Differs => self.differs += 1,
                Kept::Not(_) => self.not += 1,
            }
        }
    }
}

impl<'k> FromIterator<&'k Kept> for Tally {
    fn from_iter<I: IntoIterator<Item = &'k Kept>>(several: I) -> Self {
        let mut tally = Self::default();
        tally.extend(several);
        tally
    }
}

impl Ledger {
    /// Keeps a run that has just ended. Once this has returned, the run is on the disk.
    pub fn keep(&mut self, run: &NewRun) -> Result<Kept, LedgerError> {
        let mut kept = self.keep_all(std::slice::from_ref(run), Known::Stays)?;
        Ok(kept.pop().unwrap_or(Kept::New))
    }

    /// Keeps several runs in one transaction; tells what became of each.
    pub fn keep_all(
        &mut self,
        runs: &[NewRun],
        known: Known,
    ) -> Result<Vec<Kept>, LedgerError> {
        let writing = |error| LedgerError::of(Doing::Write, error);
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(writing)?;
        let kept = runs
            .iter()
            .map(|run| keep_one(&transaction, run, known))
            .collect::<Result<Vec<Kept>, LedgerError>>()?;
        transaction.commit().map_err(writing)?;
        Ok(kept)
    }
}

fn keep_one(connection: &Connection, run: &NewRun, known: Known) -> Result<Kept, LedgerError> {
    let line = match RunLine::of(&run.sidecar, run.recording.clone()) {
        Ok(line) => line,
        Err(none) => return Ok(Kept::Not(none)),
    };
    let text = serde_json::to_string(&run.sidecar).map_err(LedgerError::Describe)?;
    let standing: Option<(String, Option<String>)> = connection
        .prepare_cached(
            "SELECT sidecar, recording FROM run JOIN document ON document.run = run.id \
             WHERE id = ?1",
        )
        .and_then(|mut statement| {
            statement
                .query_row([line.id.to_string()], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()
        })
        .map_err(|error| LedgerError::of(Doing::Ask, error))?;
    match standing {
        None => {
            replace(connection, &line, &run.sidecar, &text)?;
            Ok(Kept::New)
        }
        Some((known_text, recording)) => {
            let same = known_text == text;
            let moved = recording != line.recording;
            if known == Known::Replaced && (!same || moved) {
                replace(connection, &line, &run.sidecar, &text)?;
            }
            Ok(if same { Kept::Same } else { Kept::Differs })
        }
    }
}

/// Writes a run in place of whatever stands under its identity.
pub(super) fn replace(
    connection: &Connection,
    line: &RunLine,
    sidecar: &Sidecar,
    text: &str,
) -> Result<(), LedgerError> {
    rows(connection, line, sidecar.run.as_ref(), text)
        .map_err(|error| LedgerError::of(Doing::Write, error))
}

fn rows(
    connection: &Connection,
    line: &RunLine,
    run: Option<&RunKept>,
    text: &str,
) -> rusqlite::Result<()> {
    let id = line.id.to_string();
    // What hangs on the line goes with it.
    connection
        .prepare_cached("DELETE FROM run WHERE id = ?1")?
        .execute([&id])?;
    connection
        .prepare_cached(&format!(
            "INSERT INTO run ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
        ))?
        .execute(line.values(&id))?;
    connection
        .prepare_cached("INSERT INTO document (run, sidecar) VALUES (?1, ?2)")?
        .execute([&id, text])?;
    let Some(found) = run.and_then(|run| run.found.as_ref()) else {
        return Ok(());
    };
    let mut insert = connection.prepare_cached(
        "INSERT INTO step (run, position, step, verdict, ohms, proof, coverage, finding, \
         resolution_ohms) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?;
    for (position, step) in (0_u32..).zip(&found.steps) {
        insert.execute(params![
            id,
            position,
            step.step,
            step.verdict,
            step.ohms,
            step.proof,
            step.coverage,
            step.finding,
            step.resolution_ohms
        ])?;
    }
    let mut insert = connection.prepare_cached(
        "INSERT INTO finding (run, position, what, step, from_s, to_s, at_least_s, at_most_s, \
         ohms) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?;
    for (position, finding) in (0_u32..).zip(&found.findings) {
        insert.execute(params![
            id,
            position,
            finding.what,
            finding.step,
            finding.from_s,
            finding.to_s,
            finding.at_least_s,
            finding.at_most_s,
            finding.ohms
        ])?;
    }
    Ok(())
}
