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
    torn: Vec<u8>,
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
        let (meter, program) = (
            meter.try_clone_native().map_err(failed)?,
            program.try_clone_native().map_err(failed)?,
        );
        Ok(Self {
            meter: SerialStream::try_from(meter).map_err(failed)?,
            program,
            path: PathBuf::from(path),
            torn: Vec::new(),
        })
    }

    /// What to open.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Sends a frame. When nobody reads, the system's buffer fills (some 16 kB) and this fails
    /// as [`SourceError::Stalled`] after `patience`; a frame that was begun by then is finished
    /// before the next, so that a late reader finds no torn one, and one that was not begun is
    /// not sent.
    pub async fn write(&mut self, frame: &[u8], patience: Duration) -> Result<(), SourceError> {
        let mut rest = std::mem::take(&mut self.torn);
        let old = rest.len();
        rest.extend(frame);
        let mut sent = 0;
        let sending = async {
            while let Some(left @ [_, ..]) = rest.get(sent..) {
                sent += self.meter.write(left).await?;
            }
            Ok(())
        };
        let done = timeout(patience, sending).await;
        let begun = sent > old;
        if !begun {
            rest.truncate(old);
        }
        self.torn = rest.split_off(sent.min(rest.len()));
        match done {
            Ok(Ok(())) => Ok(()),
            Ok(Err(fault)) => Err(self.failed(&fault)),
            Err(_) => Err(self.stalled()),
        }
    }

    /// Waits for what the program sends.
    pub async fn read(&mut self) -> Result<Vec<u8>, SourceError> {
        let mut chunk = vec![0; CHUNK];
        let count = self.meter.read(&mut chunk).await;
        chunk.truncate(count.map_err(|fault| self.failed(&fault))?);
        Ok(chunk)
    }

    /// How many bytes the program has yet to read. A meter that nobody listens to would fill
    /// the buffer with readings that are old when somebody does.
    pub fn unread(&self) -> usize {
        let count = self.program.bytes_to_read().unwrap_or(0);
        usize::try_from(count).unwrap_or(usize::MAX)
    }

    /// Throws away what the program has not read, as a line without a listener does.
    pub fn discard_unread(&mut self) -> Result<(), SourceError> {
        self.program
            .clear(ClearBuffer::Input)
            .map_err(|fault| self.failed(&fault.into()))
    }

    /// Waits until everything is read, for at most `linger`, and hangs up. What is unread then
    /// is lost, and told as [`SourceError::Stalled`].
    pub async fn close(self, linger: Duration) -> Result<(), SourceError> {
        let reading = async {
            let mut looks = interval(LOOK_EVERY);
            // Bytes just written take a moment to arrive where they are counted.
            let mut empty = 0;
            while empty < 3 {
                looks.tick().await;
                empty = if self.unread() == 0 { empty + 1 } else { 0 };
            }
        };
        if timeout(linger, reading).await.is_err() || !self.torn.is_empty() {
            return Err(self.stalled());
        }
        Ok(())
    }

    fn stalled(&self) -> SourceError {
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
