//! A pseudo-terminal: a simulated meter's serial port, which any program opens by its path.

use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::time::{interval, timeout};
use tokio_serial::{ClearBuffer, SerialPort as _, SerialStream};

use super::SourceError;
use super::link::CHUNK;

/// How often a closing end looks whether the other has read.
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// The meter's end of a pseudo-terminal.
///
/// It has no modem lines, and takes any baud rate and character without applying them.
#[derive(Debug)]
pub struct Pseudo {
    meter: SerialStream,
    /// Held open: the port would hang up whenever the program that reads it closes it. Also
    /// what tells how much is unread.
    program: serialport::TTYPort,
    path: PathBuf,
    /// The rest of a frame that did not go out whole.
    unsent: Vec<u8>,
}

impl Pseudo {
    /// A new pair. Needs a running runtime.
    pub fn new() -> Result<Self, SourceError> {
        let failed = |fault: tokio_serial::Error| SourceError::Pseudo {
            why: fault.to_string(),
        };
        let (meter, program) = serialport::TTYPort::pair().map_err(failed)?;
        let path = program.name().ok_or_else(|| SourceError::Pseudo {
            why: "it has no name".to_owned(),
        })?;
        // A copy closes when another program is started, the original does not, and a meter's
        // end that lives on in some child keeps the port from hanging up.
        let meter = meter.try_clone_native().map_err(failed)?;
        let mut program = program.try_clone_native().map_err(failed)?;
        program.set_timeout(Duration::ZERO).map_err(failed)?;
        Ok(Self {
            meter: SerialStream::try_from(meter).map_err(failed)?,
            program,
            path: PathBuf::from(path),
            unsent: Vec::new(),
        })
    }

    /// What to open.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Sends a frame. When nobody reads, the system's buffer fills (some 16 kB) and this fails
    /// as [`SourceError::Stalled`] after `patience`. A frame that was begun by then, or whose
    /// sending was cancelled, goes out before the next, so that a late reader finds no torn
    /// one; a frame that was not begun is not sent.
    pub async fn write(&mut self, frame: &[u8], patience: Duration) -> Result<(), SourceError> {
        let mut before = self.unsent.len();
        self.unsent.extend(frame);
        let sending = async {
            while !self.unsent.is_empty() {
                let count = self.meter.write(&self.unsent).await?;
                self.unsent.drain(..count.min(self.unsent.len()));
                before = before.saturating_sub(count);
            }
            Ok(())
        };
        let done = timeout(patience, sending).await;
        match done {
            Ok(Ok(())) => Ok(()),
            Ok(Err(fault)) => Err(self.failed(&fault)),
            Err(_) => {
                if self.unsent.len() == before + frame.len() {
                    self.unsent.truncate(before);
                }
                Err(self.stalled())
            }
        }
    }

    /// Waits for what the program sends.
    pub async fn read(&mut self) -> Result<Vec<u8>, SourceError> {
        let mut chunk = vec![0; CHUNK];
        let count = self.meter.read(&mut chunk).await;
        chunk.truncate(count.map_err(|fault| self.failed(&fault))?);
        Ok(chunk)
    }

    /// How many bytes the program has yet to read, up to the 4095 that a terminal holds ready.
    /// A meter that nobody listens to would fill the buffer with readings that are old when
    /// somebody does.
    pub fn unread(&mut self) -> usize {
        // An empty write polls the terminal, and a poll waits for bytes that are still on
        // their way to where they are counted. It cannot fail in a way that matters here.
        drop(std::io::Write::write(&mut self.program, &[]));
        let count = self.program.bytes_to_read().unwrap_or(0);
        usize::try_from(count).unwrap_or(usize::MAX)
    }

    /// Throws away what the program has not read, as a line without a listener does.
    pub fn discard_unread(&mut self) -> Result<(), SourceError> {
        while self.unread() > 0 {
            self.program
                .clear(ClearBuffer::Input)
                .map_err(|fault| self.failed(&fault.into()))?;
        }
        Ok(())
    }

    /// Waits until everything is read, for at most `linger`, and hangs up. What is unread then
    /// is lost, and told as [`SourceError::Stalled`].
    pub async fn close(mut self, linger: Duration) -> Result<(), SourceError> {
        let reading = async {
            let mut looks = interval(LOOK_EVERY);
            while self.unread() > 0 {
                looks.tick().await;
            }
        };
        if timeout(linger, reading).await.is_err() || !self.unsent.is_empty() {
            return Err(self.stalled());
        }
        Ok(())
    }

    fn stalled(&mut self) -> SourceError {
        SourceError::Stalled {
            path: self.path.clone(),
            unread: self.unread(),
        }
    }

    fn failed(&self, fault: &std::io::Error) -> SourceError {
        SourceError::Open {
            path: self.path.clone(),
            why: fault.to_string(),
        }
    }
}
