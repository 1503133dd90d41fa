//! The layout of the file, as a list of steps forward: a new file takes them all, an older one
//! those it has not taken. A step once released is never changed.

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::record::ledger::error::Doing;
use crate::record::ledger::{LedgerError, RunLine, read_document, write};

/// Marks the file as a ledger of this program: `sohm` in ASCII.
const APPLICATION: i32 = 0x736f_686d;

/// The layout written now.
pub(super) const LAYOUT: u32 = 3;

/// The steps: a file of layout N has taken the first N.
const STEPS: [&str; LAYOUT as usize] = [FIRST, SECOND, THIRD];

/// Runs and their steps; the sidecar whole, from which everything else here is derived.
const FIRST: &str = "
CREATE TABLE run (
    id TEXT NOT NULL PRIMARY KEY,
    began TEXT NOT NULL,
    kind TEXT NOT NULL,
    verdict TEXT NOT NULL,
    tag TEXT,
    temperature_c REAL,
    protocol TEXT NOT NULL,
    recording TEXT
) STRICT;
CREATE INDEX run_by_tag ON run (tag, id);
CREATE TABLE step (
    run TEXT NOT NULL REFERENCES run (id) ON DELETE CASCADE,
    position INTEGER NOT NULL,
    step TEXT NOT NULL,
    verdict TEXT NOT NULL,
    ohms REAL,
    proof TEXT NOT NULL,
    coverage REAL NOT NULL,
    PRIMARY KEY (run, position)
) STRICT, WITHOUT ROWID;
CREATE TABLE document (
    run TEXT NOT NULL PRIMARY KEY REFERENCES run (id) ON DELETE CASCADE,
    sidecar TEXT NOT NULL
) STRICT;
";

/// Instruments, batches and lots; what was seen on the way.
const SECOND: &str = "
ALTER TABLE run ADD COLUMN instrument TEXT;
ALTER TABLE run ADD COLUMN batch TEXT;
ALTER TABLE run ADD COLUMN lot TEXT;
ALTER TABLE run ADD COLUMN length_m REAL;
ALTER TABLE run ADD COLUMN tare TEXT;
ALTER TABLE run ADD COLUMN made_by TEXT;
DROP INDEX run_by_tag;
CREATE INDEX run_by_tag ON run (tag, began, id);
CREATE INDEX run_by_verdict ON run (verdict, began, id);
CREATE INDEX run_by_kind ON run (kind, began, id);
CREATE INDEX run_by_batch ON run (batch, began, id);
CREATE INDEX run_by_instrument ON run (instrument, began, id);
CREATE INDEX run_by_lot ON run (lot, began, id);
CREATE INDEX run_by_time ON run (began, id);
CREATE INDEX run_by_recording ON run (recording);
CREATE TABLE finding (
    run TEXT NOT NULL REFERENCES run (id) ON DELETE CASCADE,
    position INTEGER NOT NULL,
    what TEXT NOT NULL,
    step TEXT,
    from_s REAL NOT NULL,
    to_s REAL,
    at_least_s REAL,
    at_most_s REAL,
    ohms REAL,
    PRIMARY KEY (run, position)
) STRICT, WITHOUT ROWID;
CREATE VIEW lead AS
    SELECT tag, count(*) AS runs, max(id) AS last_run, max(began) AS last_began
    FROM run WHERE tag IS NOT NULL GROUP BY tag;
CREATE VIEW instrument AS
    SELECT instrument AS name, count(*) AS runs, max(id) AS last_run, max(began) AS last_began
    FROM run WHERE instrument IS NOT NULL GROUP BY instrument;
CREATE VIEW batch AS
    SELECT batch AS name, count(*) AS runs, count(DISTINCT tag) AS tags,
           min(began) AS first_began, max(began) AS last_began
    FROM run WHERE batch IS NOT NULL GROUP BY batch;
";

/// What was wrong in a step, and the last digit it was read with.
const THIRD: &str = "
ALTER TABLE step ADD COLUMN finding TEXT;
ALTER TABLE step ADD COLUMN resolution_ohms REAL;
";

/// The layout of the file, if it is a ledger or still empty.
pub(super) fn judge(connection: &Connection) -> Result<u32, LedgerError> {
    let number = |pragma: &str| -> Result<i64, LedgerError> {
        connection
            .pragma_query_value(None, pragma, |row| row.get(0))
            .map_err(|error| LedgerError::of(Doing::Open, error))
    };
    let layout = u32::try_from(number("user_version")?).unwrap_or(u32::MAX);
    let application = number("application_id")?;
    let empty = layout == 0 && application == 0 && number("schema_version")? == 0;
    if !empty && application != i64::from(APPLICATION) {
        return Err(LedgerError::NotALedger);
    }
    if layout > LAYOUT {
        return Err(LedgerError::Newer { found: layout });
    }
    Ok(layout)
}

/// Takes the steps that the file has not taken, all in one transaction.
pub(super) fn bring_forward(connection: &mut Connection) -> Result<(), LedgerError> {
    if judge(connection)? == LAYOUT {
        return Ok(());
    }
    let writing = |error| LedgerError::of(Doing::Write, error);
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(writing)?;
    // Another process may have been quicker.
    let found = judge(&transaction)?;
    for step in STEPS.iter().skip(found as usize) {
        transaction.execute_batch(step).map_err(writing)?;
    }
    if found > 0 && found < LAYOUT {
        derive_anew(&transaction)?;
    }
    transaction
        .pragma_update(None, "application_id", APPLICATION)
        .map_err(writing)?;
    transaction
        .pragma_update(None, "user_version", LAYOUT)
        .map_err(writing)?;
    transaction.commit().map_err(writing)
}

/// Fills what is new in the layout from the sidecars that the file has held all along.
fn derive_anew(transaction: &Transaction<'_>) -> Result<(), LedgerError> {
    let asking = |error| LedgerError::of(Doing::Ask, error);
    let mut statement = transaction
        .prepare("SELECT sidecar, recording FROM run JOIN document ON document.run = run.id")
        .map_err(asking)?;
    let mut rows = statement.query([]).map_err(asking)?;
    let mut whole = Vec::new();
    while let Some(row) = rows.next().map_err(asking)? {
        let text: String = row.get(0).map_err(asking)?;
        whole.push((text, row.get::<_, Option<String>>(1).map_err(asking)?));
    }
    for (text, recording) in whole {
        let sidecar = read_document(&text)?;
        if let Ok(line) = RunLine::of(&sidecar, recording) {
            write::replace(transaction, &line, &sidecar, &text)?;
        }
    }
    Ok(())
}
