//! What can go wrong with a ledger, in words for the person at the bench.

use rusqlite::ErrorCode;

use crate::record::ledger::schema;

/// What was being done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doing {
    Open,
    Ask,
    Write,
}

/// A ledger could not be used.
#[derive(Debug, thiserror::Error)]
pub enum LedgerError {
    /// The file is a database of another program, or none.
    #[error("this is not a ledger of this program; name another file with --ledger FILE")]
    NotALedger,
    /// A newer program wrote it.
    #[error(
        "its layout is {found}, and this program knows {} and older; update the program",
        schema::LAYOUT
    )]
    Newer {
        /// The layout found.
        found: u32,
    },
    /// An older program wrote it, and it was opened to be read only.
    #[error(
        "its layout is {found}, that of an older program, and it cannot be brought forward here: \
         make the file and its folder writable, or copy it where it can be written"
    )]
    Older {
        /// The layout found.
        found: u32,
    },
    /// The file is damaged.
    #[error(
        "the file is damaged ({0}); `steadyohm ledger rebuild` sets it aside and makes a new one \
         from the recordings"
    )]
    Damaged(#[source] rusqlite::Error),
    /// The disk is full.
    #[error("the disk is full; make room first")]
    Full(#[source] rusqlite::Error),
    /// Another process is writing.
    #[error("another program has been writing it all the while; let that one end first")]
    Busy(#[source] rusqlite::Error),
    /// The file or its folder may not be written.
    #[error("it may not be written: allow it, or name another file with --ledger FILE")]
    ReadOnly,
    /// The file could not be opened or made.
    #[error(
        "it can neither be opened nor made there ({0}); name another file with --ledger FILE, or \
         --ledger off"
    )]
    CannotOpen(#[source] rusqlite::Error),
    /// The system refused.
    #[error(
        "the system lets nobody {doing} it ({source}); see whether the disk is full, or gone"
    )]
    System {
        /// What was being done.
        doing: &'static str,
        /// Why.
        source: rusqlite::Error,
    },
    /// A run's description in it cannot be read.
    #[error(
        "a run's description in it cannot be read ({0}); `steadyohm ledger check` names the runs"
    )]
    Document(#[source] serde_json::Error),
    /// A run's description cannot be written.
    #[error("a run's description cannot be put into words: {0}")]
    Describe(#[source] serde_json::Error),
}

impl LedgerError {
    /// The error in the words of the bench.
    pub(super) fn of(doing: Doing, error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy(error),
            Some(ErrorCode::DiskFull) => Self::Full(error),
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => Self::ReadOnly,
            Some(ErrorCode::CannotOpen) => Self::CannotOpen(error),
            Some(ErrorCode::NotADatabase) => Self::NotALedger,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::TypeMismatch) => Self::Damaged(error),
            None if doing != Doing::Write => Self::Damaged(error),
            _ => Self::System {
                doing: match doing {
                    Doing::Open => "open",
                    Doing::Ask => "read",
                    Doing::Write => "write",
                },
                source: error,
            },
        }
    }
}

/// What opening alone gives, before the ledger itself is asked.
impl From<rusqlite::Error> for LedgerError {
    fn from(error: rusqlite::Error) -> Self {
        Self::of(Doing::Open, error)
    }
}
