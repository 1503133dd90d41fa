//! Keeps a recording: one plain thread behind a bounded queue.
//!
//! The queue's sender waits when the disk is slow; nothing is dropped. What is written is
//! handed to the system at least every second, so that a killed process loses no more.
#![expect(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "this is the edge where a recording's files are opened and written"
)]

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::record::{Entry, RawWriter, RecordError, RecordedKept, Sidecar, TableWriter};

/// How long written entries may stay in this process.
const FLUSH_EVERY: Duration = Duration::from_millis(500);
/// How many entries may wait.
const QUEUE: usize = 4096;

/// A recording could not be kept.
#[derive(Debug, thiserror::Error)]
pub enum RecorderError {
    /// The folder cannot be made or written.
    #[error(
        "cannot keep a recording in {}: {source}; choose another folder with --record DIR, or \
         --record off",
        path.display()
    )]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A run that was undone could not be marked as such.
    #[error(
        "that a lead was undone stands in the stock's table, but not with its recording {} or not \
         in the ledger: {why}; `ledger batch` may go on counting it", path.display()
    )]
    Undo {
        /// The table's path.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// Writing stopped.
    #[error("the recording {} stops here: {why}; what was written before is whole", path.display())]
    Stopped {
        /// The table's path.
        path: PathBuf,
        /// Why.
        why: String,
    },
}

/// A recording being kept.
#[derive(Debug)]
pub struct Recorder {
    table: PathBuf,
    queue: Option<SyncSender<Entry>>,
    thread: Option<JoinHandle<Result<RecordedKept, RecordError>>>,
    failed: Option<String>,
}

impl Recorder {
    /// Begins a recording named after `stem` in `folder`; a number is added if it is taken.
    pub fn begin(folder: &Path, stem: &str, sidecar: &Sidecar) -> Result<Self, RecorderError> {
        let failed = |source: io::Error| RecorderError::Folder {
            path: folder.to_path_buf(),
            source,
        };
        fs::create_dir_all(folder).map_err(failed)?;
        let (table, file) = new_table(folder, stem).map_err(failed)?;
        let raw = File::create(table.with_extension("bin")).map_err(failed)?;
        write_sidecar(&table, sidecar).map_err(failed)?;
        let synced = [file.try_clone(), raw.try_clone()];
        let (queue, entries) = sync_channel(QUEUE);
        let thread = std::thread::spawn(move || {
            let mut rows = TableWriter::new(BufWriter::new(file))?;
            let mut raw = RawWriter::new(BufWriter::new(raw))?;
            let mut flushed = Instant::now();
            let mut written = 0;
            loop {
                let next = entries.recv_timeout(FLUSH_EVERY.saturating_sub(flushed.elapsed()));
                match &next {
                    Ok(entry) => {
                        rows.write(entry)?;
                        raw.write(entry)?;
                        written += u64::from(!matches!(entry, Entry::Bytes { .. }));
                    }
                    Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => {}
                }
                if flushed.elapsed() >= FLUSH_EVERY || next.is_err() {
                    rows.flush()?;
                    raw.flush()?;
                    flushed = Instant::now();
                }
                if next == Err(RecvTimeoutError::Disconnected) {
                    // Some systems tell only now that the disk is full.
                    let [table, raw] = synced;
                    let failed = RecordError::WriteRaw;
                    table.and_then(|file| file.sync_all()).map_err(failed)?;
                    let raw = raw.and_then(|file| file.sync_all().map(|()| file));
                    let length = raw.and_then(|file| file.metadata()).map_err(failed)?;
                    return Ok(RecordedKept {
                        rows: written,
                        raw_bytes: length.len(),
                    });
                }
            }
        });
        Ok(Self {
            table,
            queue: Some(queue),
            thread: Some(thread),
            failed: None,
        })
    }

    /// Where the table is.
    pub fn path(&self) -> &Path {
        &self.table
    }

    /// Keeps one entry. A failure is told once, here or by [`Self::end`].
    pub fn keep(&mut self, entry: Entry) -> Result<(), RecorderError> {
        let Some(queue) = &self.queue else {
            return Ok(());
        };
        if queue.send(entry).is_err() {
            self.stop()?;
        }
        Ok(())
    }

    /// Ends the recording, with what is known of the run now, to which how much was kept is
    /// added; ending it again changes nothing.
    pub fn end(&mut self, sidecar: &mut Sidecar) -> Result<(), RecorderError> {
        if self.thread.is_none() {
            return Ok(());
        }
        let recorded = self.stop()?;
        if let Some(run) = &mut sidecar.run {
            run.recorded = recorded;
        }
        if self.failed.is_some() {
            return Ok(());
        }
        write_sidecar(&self.table, sidecar).map_err(|error| {
            // A recording whose verdict is not in it is not whole.
            self.failed = Some(error.to_string());
            self.stopped(error.to_string())
        })
    }

    /// Whether everything so far was kept.
    pub const fn is_whole(&self) -> bool {
        self.failed.is_none()
    }

    /// Stops writing; gives how much was kept, the first time.
    fn stop(&mut self) -> Result<Option<RecordedKept>, RecorderError> {
        self.queue = None;
        let Some(thread) = self.thread.take() else {
            return Ok(None);
        };
        let why = match thread.join() {
            Ok(Ok(recorded)) => return Ok(Some(recorded)),
            Ok(Err(error)) => error.to_string(),
            Err(_panic) => "the recorder failed".to_owned(),
        };
        self.failed = Some(why.clone());
        Err(self.stopped(why))
    }

    fn stopped(&self, why: String) -> RecorderError {
        RecorderError::Stopped {
            path: self.table.clone(),
            why,
        }
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        // Whoever cares has called `end`; this only lets the thread write out what it holds.
        drop(self.stop());
    }
}

/// Creates the first free `STEM.csv`, `STEM-2.csv`, ...
fn new_table(folder: &Path, stem: &str) -> io::Result<(PathBuf, File)> {
    for number in 1..1000 {
        let name = if number == 1 {
            format!("{stem}.csv")
        } else {
            format!("{stem}-{number}.csv")
        };
        let path = folder.join(name);
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(file) => return Ok((path, file)),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
    Err(io::Error::new(
        io::ErrorKind::AlreadyExists,
        "a thousand recordings have this name",
    ))
}

/// Writes the sidecar beside the table, whole or not at all.
pub(super) fn write_sidecar(table: &Path, sidecar: &Sidecar) -> io::Result<()> {
    let text = serde_json::to_string_pretty(sidecar)?;
    let path = table.with_extension("json");
    let draft = table.with_extension("json.new");
    let mut file = File::create(&draft)?;
    let written = file
        .write_all((text + "\n").as_bytes())
        .and_then(|()| file.sync_all());
    match written {
        Ok(()) => fs::rename(&draft, &path),
        Err(error) => {
            // The old one still stands; half of a new one helps nobody.
            drop(fs::remove_file(&draft));
            Err(error)
        }
    }
}
