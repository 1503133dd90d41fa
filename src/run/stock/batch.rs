//! The file a stock is kept in: read once, then only ever added to.
#![expect(
    clippy::disallowed_types,
    clippy::disallowed_methods,
    reason = "this is the edge where a stock's table is opened"
)]

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use crate::check::stock::{Row, What};
use crate::record::{Damage, RecordError, StockWriter, read_stock};

/// A stock's table could not be kept.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    /// The file cannot be opened or made.
    #[error("cannot keep the stock in {}: {source}", path.display())]
    Open {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// Another program runs this stock.
    #[error(
        "{}: another steadyohm is running this stock, in another terminal or on another machine \
         that shares the folder; end that one first, or give this one another name with \
         --stock-name", path.display()
    )]
    Held {
        /// The file.
        path: PathBuf,
    },
    /// A lead that was judged could not be put in.
    #[error(
        "the stock ends here: {} takes no more ({source}). What stands in it is whole; {lost}", path.display()
    )]
    Full {
        /// The file.
        path: PathBuf,
        /// What was to be put in.
        lost: String,
        /// Why.
        source: RecordError,
    },
    /// It could not be read, or its header could not be written.
    #[error("{}: {source}; what was written before is whole", path.display())]
    Table {
        /// The file.
        path: PathBuf,
        /// Why.
        source: RecordError,
    },
}

/// A stock's table, open at its end.
#[derive(Debug)]
pub struct Batch {
    path: PathBuf,
    writer: StockWriter<File>,
}

impl Batch {
    /// Opens the table, new or known; gives the rows it holds, and those it cannot be read in.
    pub fn open(path: &Path) -> Result<(Self, Vec<Row>, Vec<Damage>), BatchError> {
        let open = |source| BatchError::Open {
            path: path.to_path_buf(),
            source,
        };
        let table = |source| BatchError::Table {
            path: path.to_path_buf(),
            source,
        };
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(open)?;
        }
        let mut options = OpenOptions::new();
        let file = options.append(true).create(true).open(path).map_err(open)?;
        // Held as long as the file is open, however the process ends. Where the system knows no
        // locks, the operator must know what else is running.
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            return Err(BatchError::Held {
                path: path.to_path_buf(),
            });
        }
        let before = fs::read(path).map_err(open)?;
        let (rows, damage) = read_stock(&before).map_err(table)?;
        let writer = StockWriter::new(file, &before).map_err(table)?;
        let path = path.to_path_buf();
        Ok((Self { path, writer }, rows, damage))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Adds a row.
    pub(super) fn keep(&mut self, row: &Row) -> Result<(), BatchError> {
        self.writer.write(row).map_err(|source| BatchError::Full {
            path: self.path.clone(),
            lost: lost(row),
            source,
        })
    }
}

/// A row in words.
fn lost(row: &Row) -> String {
    match &row.what {
        What::Done(attempt) => {
            format!(
                "lead {}, judged {}, is not in it, and comes again",
                row.tag,
                attempt.verdict.word().to_uppercase()
            )
        }
        What::Skipped => format!("that lead {} is left out is not in it", row.tag),
        What::Undone(_) => format!("that lead {} is undone is not in it", row.tag),
    }
}
