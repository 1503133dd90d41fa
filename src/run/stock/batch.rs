//! The file a stock is kept in: read once, then only ever added to.
#![expect(
    clippy::disallowed_types,
    clippy::disallowed_methods,
    reason = "this is the edge where a stock's table is opened"
)]

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};

use crate::check::stock::Row;
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
    /// It could not be read, or writing stopped.
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
        let before = match fs::read(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            read => read.map_err(open)?,
        };
        let (rows, damage) = read_stock(&before).map_err(table)?;
        let mut options = OpenOptions::new();
        let file = options.append(true).create(true).open(path).map_err(open)?;
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
        self.writer.write(row).map_err(|source| BatchError::Table {
            path: self.path.clone(),
            source,
        })
    }
}
