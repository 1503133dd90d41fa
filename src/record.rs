//! Recordings: what was read, kept as files that anybody can open.
//!
//! A recording is `NAME.csv` (RFC 4180) beside `NAME.json` (what the run was) and `NAME.bin`
//! (the raw bytes with their arrival, so that a corrected format can read an old run again).
//! The ledger holds one line of every run, and can be rebuilt from the sidecars.
//! This room writes to open sinks and reads from open sources; it opens no file.

mod accuracy;
mod entry;
mod identity;
pub mod ledger;
mod order;
mod raw;
pub mod report;
mod run;
mod sidecar;
mod stock;
mod table;
mod whole;

pub use accuracy::{AccuracyError, AccuracyKept, RangeAccuracy};
pub use entry::{Entry, Mark};
pub use identity::{NoRunId, RunId};
pub use raw::{RawChunk, RawWriter, read_raw};
pub use run::{
    About, BlindSpotKept, FindingKept, FoundKept, RecordedKept, RunKept, STOPPED_BY_OPERATOR,
    StepKept,
};
pub use sidecar::{
    CheckKept, LeadKept, MeterKept, PotKept, RewireKept, Sidecar, TrialKept, TriedKept,
    VerdictKept,
};
pub use stock::{STOCK_COLUMNS, StockWriter, read_stock};
pub use table::{COLUMNS, Damage, Row, TableWriter, read_table};
pub use whole::Shortage;

/// A recording could not be written or read.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// A row could not be written.
    #[error("cannot write the recording's table: {0}")]
    WriteTable(#[source] csv::Error),
    /// The raw bytes could not be written.
    #[error("cannot write the recording's raw bytes: {0}")]
    WriteRaw(#[source] std::io::Error),
    /// The first row is not the header of a recording.
    #[error(
        "this is not a recording: its first row should be `{expected}`; give the NAME.csv that \
         a run wrote"
    )]
    NotARecording {
        /// The header wanted.
        expected: String,
    },
    /// A row of a stock's table could not be written.
    #[error("cannot write the stock's table: {0}")]
    WriteStock(#[source] std::io::Error),
    /// The first row is not the header of a stock's table.
    #[error(
        "this is not the table of a stock: its first row should be `{expected}`; give the stock \
         another name"
    )]
    NotAStock {
        /// The header wanted.
        expected: String,
    },
    /// The raw bytes could not be read.
    #[error("cannot read the recording's raw bytes: {0}")]
    ReadRaw(#[source] std::io::Error),
    /// The file is not raw bytes of a recording.
    #[error("these are not the raw bytes of a recording: give the NAME.bin that a run wrote")]
    NotRaw,
}
