//! Exit statuses, and the failures behind them.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::protocol::ProtocolError;
use crate::record::RecordError;
use crate::run::{LedgerFileError, RecorderError, RunError};
use crate::source::SourceError;

/// The exit statuses of the command contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Status {
    /// Passed, or done.
    Pass,
    /// Failed.
    Fail,
    /// The arguments or an input file are wrong.
    Usage,
    /// Neither pass nor fail.
    Retest,
    /// The meter or its port could not be used.
    Meter,
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        Self::from(match status {
            Status::Pass => 0_u8,
            Status::Fail => 1,
            Status::Usage => 2,
            Status::Retest => 3,
            Status::Meter => 4,
        })
    }
}

/// Why a command could not do its work. The text is what the user sees.
#[derive(Debug, thiserror::Error)]
pub(super) enum Failure {
    /// The arguments do not fit together.
    #[error("{0}")]
    Usage(String),
    /// A format file is wrong.
    #[error(transparent)]
    Protocol(#[from] ProtocolError),
    /// A file could not be read.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A file could not be written.
    #[error("cannot write {}: {source}", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A recording could not be read.
    #[error("{}: {source}", path.display())]
    Recording {
        /// The file.
        path: PathBuf,
        /// Why.
        source: RecordError,
    },
    /// The port could not be used.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// Nothing is heard of the meter.
    #[error("{0}")]
    Silent(String),
    /// There is no port that may have a meter on it.
    #[error(
        "no meter port found: plug the meter's cable in, or name the port with --from; \
         `steadyohm demo lead` needs none"
    )]
    NoPort,
    /// A recording could not be kept.
    #[error(transparent)]
    Recorder(#[from] RecorderError),
    /// The ledger could not be used.
    #[error(transparent)]
    Ledger(#[from] LedgerFileError),
    /// The run broke off.
    #[error(transparent)]
    Run(#[from] RunError),
    /// Standard output could not be written.
    #[error("cannot write to standard output: {0}")]
    Output(#[source] std::io::Error),
    /// The system gave no threads.
    #[error("cannot start: {0}")]
    Runtime(#[source] std::io::Error),
}

impl Failure {
    /// The exit status that goes with it.
    pub(super) const fn status(&self) -> Status {
        match self {
            Self::Source(_) | Self::Silent(_) | Self::NoPort => Status::Meter,
            _ => Status::Usage,
        }
    }
}
