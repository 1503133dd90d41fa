//! The ledger as a file: opened here, at the edge, and handed to the room that knows it.

use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};

use rusqlite::{Connection, OpenFlags};

use crate::record::Sidecar;
use crate::record::ledger::{Kept, Known, Ledger, LedgerError, NewRun};

/// A ledger's file could not be used.
#[derive(Debug, thiserror::Error)]
pub enum LedgerFileError {
    /// There is none.
    #[error(
        "there is no ledger at {}: a check writes one at its end, and `steadyohm ledger rebuild` \
         makes one from recordings", path.display()
    )]
    Absent {
        /// Where it should be.
        path: PathBuf,
    },
    /// Its folder cannot be made.
    #[error(
        "the ledger cannot be kept in {}: {source}; name another file with --ledger FILE, or \
         --ledger off", path.display()
    )]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// It could not be used.
    #[error("the ledger {}: {source}", path.display())]
    Ledger {
        /// The file.
        path: PathBuf,
        /// Why.
        source: LedgerError,
    },
    /// A run that has ended could not be entered.
    #[error(
        "this run is not entered: {source}. The verdict stands{}",
        if *recorded {
            ", and so does the recording: `steadyohm ledger rebuild` takes the run in from it"
        } else {
            "; note it down, since there is no recording either"
        }
    )]
    NotEntered {
        /// Whether there is a whole recording of the run.
        recorded: bool,
        /// Why.
        source: Box<Self>,
    },
}

/// A ledger's place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LedgerFile {
    path: PathBuf,
}

impl LedgerFile {
    /// The ledger at this path, which need not be there yet.
    pub const fn at(path: PathBuf) -> Self {
        Self { path }
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Opens it to be written; it is made if it is not there.
    pub fn to_write(&self) -> Result<Ledger, LedgerFileError> {
        let folder = self.folder();
        fs::create_dir_all(&folder).map_err(|source| LedgerFileError::Folder {
            path: folder,
            source,
        })?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        Connection::open_with_flags(&self.path, flags)
            .map_err(LedgerError::from)
            .and_then(Ledger::to_write)
            .map_err(|source| self.failed(source))
    }

    /// Opens it to be read, and changes nothing; but an older layout is brought forward first
    /// where that may be done.
    pub fn to_read(&self) -> Result<Ledger, LedgerFileError> {
        match self.read_only() {
            Err(LedgerFileError::Ledger {
                source: LedgerError::Older { .. },
                ..
            }) if self.to_write().is_ok() => self.read_only(),
            read => read,
        }
    }

    fn read_only(&self) -> Result<Ledger, LedgerFileError> {
        if !self.path.is_file() {
            return Err(LedgerFileError::Absent {
                path: self.path.clone(),
            });
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let read = Connection::open_with_flags(&self.path, flags)
            .map_err(LedgerError::from)
            .and_then(Ledger::to_read);
        match read {
            // A reader of a WAL file makes its index beside it. Where it may not, or where there
            // is no room, and no log is waiting, the file alone is the whole ledger and nobody
            // can be writing it.
            Err(
                LedgerError::CannotOpen(_) | LedgerError::ReadOnly | LedgerError::System { .. },
            ) if !self.has_log() => Connection::open_with_flags(
                self.immutable(),
                flags | OpenFlags::SQLITE_OPEN_URI,
            )
            .map_err(LedgerError::from)
            .and_then(Ledger::to_read),
            read => read,
        }
        .map_err(|source| self.failed(source))
    }

    /// Enters a run that has ended; `recording` is its table, if it is whole.
    pub fn enter(
        &self,
        sidecar: &Sidecar,
        recording: Option<&Path>,
    ) -> Result<Kept, LedgerFileError> {
        let run = NewRun {
            sidecar: sidecar.clone(),
            recording: recording.map(|path| self.named(path)),
        };
        let entered = self.to_write().and_then(|mut ledger| {
            let kept = ledger.keep(&run);
            kept.map_err(|source| self.failed(source))
        });
        entered.map_err(|source| LedgerFileError::NotEntered {
            recorded: recording.is_some(),
            source: Box::new(source),
        })
    }

    /// Enters a run in place of what stands under its identity, because it was undone.
    pub fn enter_anew(
        &self,
        sidecar: &Sidecar,
        recording: &Path,
    ) -> Result<(), LedgerFileError> {
        let run = NewRun {
            sidecar: sidecar.clone(),
            recording: Some(self.named(recording)),
        };
        let mut ledger = self.to_write()?;
        ledger
            .keep_all(std::slice::from_ref(&run), Known::Replaced)
            .map_err(|source| self.failed(source))?;
        Ok(())
    }

    /// A recording as the ledger names it: relative to the ledger's folder if it is below it,
    /// so that both can be moved together.
    pub fn named(&self, recording: &Path) -> String {
        let whole = absolute(recording);
        let folder = absolute(&self.folder());
        let named = whole.strip_prefix(&folder).unwrap_or(&whole);
        named.to_string_lossy().into_owned()
    }

    /// The path of a recording that the ledger names.
    pub fn recording(&self, named: &str) -> PathBuf {
        self.folder().join(named)
    }

    /// Moves the file out of the way, with its log; gives its new path.
    pub fn set_aside(&self, stamp: &str) -> io::Result<PathBuf> {
        let aside = self.with_ending(&format!(".damaged-{stamp}"));
        fs::rename(&self.path, &aside)?;
        for ending in ["-wal", "-shm"] {
            let log = self.with_ending(ending);
            if log.exists() {
                let mut name = aside.clone().into_os_string();
                name.push(ending);
                fs::rename(log, name)?;
            }
        }
        Ok(aside)
    }

    /// The error, with the file it is about.
    pub fn failed(&self, source: LedgerError) -> LedgerFileError {
        LedgerFileError::Ledger {
            path: self.path.clone(),
            source,
        }
    }

    fn folder(&self) -> PathBuf {
        match self.path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
            _ => PathBuf::from("."),
        }
    }

    fn with_ending(&self, ending: &str) -> PathBuf {
        let mut name = self.path.clone().into_os_string();
        name.push(ending);
        PathBuf::from(name)
    }

    fn has_log(&self) -> bool {
        fs::metadata(self.with_ending("-wal")).is_ok_and(|log| log.len() > 0)
    }

    /// The file as an address that says that it does not change.
    fn immutable(&self) -> OsString {
        let path = absolute(&self.path);
        let mut address = String::from("file:");
        for byte in path.as_os_str().as_encoded_bytes() {
            match byte {
                b'/' | b'.' | b'-' | b'_' => address.push(char::from(*byte)),
                byte if byte.is_ascii_alphanumeric() => address.push(char::from(*byte)),
                byte => address = format!("{address}%{byte:02X}"),
            }
        }
        address.push_str("?immutable=1");
        address.into()
    }
}

/// The path from the root, without `.` and `..`; links are followed where it exists.
fn absolute(path: &Path) -> PathBuf {
    if let Ok(real) = path.canonicalize() {
        return real;
    }
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let mut clean = PathBuf::new();
    for part in whole.components() {
        match part {
            Component::ParentDir => {
                clean.pop();
            }
            Component::CurDir => {}
            part => clean.push(part),
        }
    }
    clean
}
