//! What all golden recordings have in common: written from a run, read back whole, and given to
//! a session anew.
#![expect(clippy::disallowed_methods, reason = "recordings are files")]

use std::fs;
use std::path::Path;

use steadyohm::check::notice::Notice;
use steadyohm::record::{Entry, Row, Sidecar, TableWriter, read_table};
use steadyohm::session::{Effect, Event, Session};

/// Whether they are to be made anew, on purpose.
pub(crate) fn are_made_anew() -> bool {
    std::env::var_os("STEADYOHM_UPDATE_RECORDINGS").is_some()
}

/// The table of what a run recorded.
pub(crate) fn table(entries: &[Entry]) -> Vec<u8> {
    let mut table = Vec::new();
    let mut writer = TableWriter::new(&mut table).unwrap();
    for entry in entries {
        writer.write(entry).unwrap();
    }
    writer.flush().unwrap();
    drop(writer);
    table
}

/// The rows of a table in which nothing is damaged.
pub(crate) fn rows(name: &str, table: &[u8]) -> Vec<Row> {
    let (rows, damage) = read_table(table).unwrap();
    assert!(damage.is_empty(), "{name}: {damage:?}");
    rows
}

/// Writes table and sidecar.
pub(crate) fn write(path: &Path, entries: &[Entry], sidecar: &Sidecar) {
    fs::write(path.with_extension("csv"), table(entries)).unwrap();
    let text = serde_json::to_string_pretty(sidecar).unwrap() + "\n";
    fs::write(path.with_extension("json"), text).unwrap();
}

/// Reads sidecar and rows.
pub(crate) fn read(path: &Path) -> (Sidecar, Vec<Row>) {
    let sidecar = fs::read(path.with_extension("json")).unwrap();
    let rows = rows(
        &path.display().to_string(),
        &fs::read(path.with_extension("csv")).unwrap(),
    );
    (serde_json::from_slice(&sidecar).unwrap(), rows)
}

/// What a session says of these events.
pub(crate) fn said(mut session: Session, events: Vec<Event>) -> Vec<Notice> {
    events
        .into_iter()
        .flat_map(|event| session.update(event))
        .filter_map(|effect| match effect {
            Effect::Emit(notice) => Some(notice),
            _ => None,
        })
        .collect()
}
