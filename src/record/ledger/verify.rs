//! Whether a ledger is what it should be: sound as a file, and every line as its sidecar has it.

use rusqlite::Connection;

use crate::record::ledger::error::Doing;
use crate::record::ledger::line::COLUMNS;
use crate::record::ledger::{Ledger, LedgerError, RunLine, read_document, schema};
use crate::record::{FindingKept, RunId, Sidecar, StepKept};

/// Something that is not as it should be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Doubt {
    /// The file itself.
    #[error("the file: {0}")]
    File(String),
    /// A run's rows are not what its description says.
    #[error("run {id}: its {what} in the ledger is not what its description says")]
    Derived {
        /// The run.
        id: RunId,
        /// What of it.
        what: &'static str,
    },
    /// A run's description cannot be read.
    #[error("run {id}: {why}")]
    Document {
        /// The run, as it is written.
        id: String,
        /// Why.
        why: String,
    },
}

impl Doubt {
    /// Whether the file itself is damaged, rather than what is written in it.
    pub const fn is_of_the_file(&self) -> bool {
        matches!(self, Self::File(_))
    }
}

impl Ledger {
    /// Everything that is not as it should be.
    pub fn doubts(&self) -> Result<Vec<Doubt>, LedgerError> {
        let asking = |error| LedgerError::of(Doing::Ask, error);
        let mut doubts: Vec<Doubt> = texts(&self.connection, "PRAGMA integrity_check")
            .map_err(asking)?
            .into_iter()
            .filter(|word| word != "ok")
            .map(Doubt::File)
            .collect();
        if !doubts.is_empty() {
            // What else is read from such a file proves nothing.
            return Ok(doubts);
        }
        let strays = texts(&self.connection, "PRAGMA foreign_key_check").map_err(asking)?;
        doubts.extend(
            strays
                .into_iter()
                .map(|table| Doubt::File(format!("a row of {table} belongs to no run"))),
        );
        let without = texts(
            &self.connection,
            "SELECT id FROM run WHERE id NOT IN (SELECT run FROM document)",
        );
        doubts.extend(without.map_err(asking)?.into_iter().map(|id| {
            let why = "its description is missing".to_owned();
            Doubt::Document { id, why }
        }));
        self.each(&mut |line, text| doubts.extend(self.doubt(line, &text)))?;
        Ok(doubts)
    }

    /// Hands over every run's line and description, the oldest first.
    fn each(
        &self,
        take: &mut dyn FnMut(rusqlite::Result<RunLine>, String),
    ) -> Result<(), LedgerError> {
        let asking = |error| LedgerError::of(Doing::Ask, error);
        let sql = format!(
            "SELECT {COLUMNS}, sidecar FROM run JOIN document ON document.run = run.id \
             ORDER BY id"
        );
        let mut statement = self.connection.prepare(&sql).map_err(asking)?;
        let mut rows = statement.query([]).map_err(asking)?;
        while let Some(row) = rows.next().map_err(asking)? {
            let text: String = row.get("sidecar").map_err(asking)?;
            take(RunLine::read(row), text);
        }
        Ok(())
    }

    /// Every run with its description, the oldest first, so many at a time.
    pub fn each_sidecar(
        &self,
        take: &mut dyn FnMut(RunLine, Sidecar),
    ) -> Result<(), LedgerError> {
        let mut failed = None;
        self.each(&mut |line, text| {
            let line = line.map_err(|error| LedgerError::of(Doing::Ask, error));
            match line.and_then(|line| Ok((line, read_document(&text)?))) {
                Ok((line, sidecar)) => take(line, sidecar),
                Err(error) => {
                    failed.get_or_insert(error);
                }
            }
        })?;
        failed.map_or(Ok(()), Err)
    }

    fn doubt(&self, line: rusqlite::Result<RunLine>, text: &str) -> Vec<Doubt> {
        let line = match line {
            Ok(line) => line,
            Err(error) => {
                let (id, why) = ("?".to_owned(), error.to_string());
                return vec![Doubt::Document { id, why }];
            }
        };
        let id = line.id;
        let unreadable = |why: String| {
            let id = id.to_string();
            vec![Doubt::Document { id, why }]
        };
        let sidecar = match read_document(text) {
            Ok(sidecar) => sidecar,
            Err(error) => return unreadable(error.to_string()),
        };
        let wanted = match RunLine::of(&sidecar, line.recording.clone()) {
            Ok(wanted) => wanted,
            Err(none) => return unreadable(none.to_string()),
        };
        let found = sidecar.run.and_then(|run| run.found);
        let (steps, findings) =
            found.map_or_else(Default::default, |found| (found.steps, found.findings));
        let kept = kept_rows(&self.connection, id).unwrap_or_default();
        let same = [
            ("line", wanted == line),
            (
                "list of steps",
                kept.0 == steps.iter().map(step_words).collect::<Vec<_>>(),
            ),
            (
                "list of findings",
                kept.1 == findings.iter().map(finding_words).collect::<Vec<_>>(),
            ),
        ];
        same.into_iter()
            .filter(|(_, same)| !same)
            .map(|(what, _)| Doubt::Derived { id, what })
            .collect()
    }

    /// The layout of the file.
    pub const fn layout() -> u32 {
        schema::LAYOUT
    }
}

type Words = Vec<(String, String, [Option<f64>; 5])>;

/// A run's steps and findings as they stand in their tables.
fn kept_rows(connection: &Connection, id: RunId) -> rusqlite::Result<(Words, Words)> {
    let id = id.to_string();
    let mut statement = connection.prepare_cached(
        "SELECT step, verdict || ' ' || proof || ' ' || coalesce(finding, ''), ohms, coverage, \
         resolution_ohms, NULL, NULL \
         FROM step WHERE run = ?1 ORDER BY position",
    )?;
    let steps: rusqlite::Result<Words> = statement.query_map([&id], words)?.collect();
    let mut statement = connection.prepare_cached(
        "SELECT what, coalesce(step, ''), from_s, to_s, at_least_s, at_most_s, ohms \
         FROM finding WHERE run = ?1 ORDER BY position",
    )?;
    let findings: rusqlite::Result<Words> = statement.query_map([&id], words)?.collect();
    Ok((steps?, findings?))
}

fn words(row: &rusqlite::Row<'_>) -> rusqlite::Result<(String, String, [Option<f64>; 5])> {
    let numbers = [
        row.get(2)?,
        row.get(3)?,
        row.get(4)?,
        row.get(5)?,
        row.get(6)?,
    ];
    Ok((row.get(0)?, row.get(1)?, numbers))
}

fn step_words(step: &StepKept) -> (String, String, [Option<f64>; 5]) {
    let finding = step.finding.as_deref().unwrap_or_default();
    let words = format!("{} {} {finding}", step.verdict, step.proof);
    let numbers = [
        step.ohms,
        Some(step.coverage),
        step.resolution_ohms,
        None,
        None,
    ];
    (step.step.clone(), words, numbers)
}

fn finding_words(finding: &FindingKept) -> (String, String, [Option<f64>; 5]) {
    let numbers = [
        Some(finding.from_s),
        finding.to_s,
        finding.at_least_s,
        finding.at_most_s,
        finding.ohms,
    ];
    let step = finding.step.clone().unwrap_or_default();
    (finding.what.clone(), step, numbers)
}

/// The first column of every row.
fn texts(connection: &Connection, sql: &str) -> rusqlite::Result<Vec<String>> {
    let mut statement = connection.prepare(sql)?;
    let rows = statement.query_map([], |row| row.get(0))?;
    rows.collect()
}
