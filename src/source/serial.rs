//! Opening a serial port, and what the system means when it will not.
//!
//! What was set is never read back: a pseudo-terminal always reports 8 data bits and no
//! parity, whatever was asked, and works all the same.

use std::os::unix::fs::FileTypeExt as _;
use std::path::Path;
use std::time::Duration;

use tokio_serial::{ClearBuffer, ErrorKind, SerialPort as _, SerialStream};

use super::error::busy;
use super::{SourceError, permission};
use crate::protocol::{Parity, SerialSettings, StopBits};

/// What the system says of a request that only a real serial port understands (ENOTTY). The
/// number is lost on the way here, the text is not.
const NOT_A_TERMINAL: &str = "Not a typewriter";

/// The texts of EIO, ENXIO and ENODEV: a node without its hardware.
const NO_HARDWARE: [&str; 3] = ["I/O error", "No such device or address", "No such device"];

/// Opens the port for this program alone, sets it, and lets an adapter settle that takes its
/// power from the modem lines. The text is a caution for the user.
pub(super) async fn open(
    path: &Path,
    settings: SerialSettings,
) -> Result<(SerialStream, Option<String>), SourceError> {
    let owned = path.to_owned();
    // Setting a USB adapter waits for it to answer.
    let opened = tokio::task::spawn_blocking(move || open_and_set(&owned, settings)).await;
    let (port, lines) = opened.map_err(|fault| SourceError::Open {
        path: path.to_owned(),
        why: fault.to_string(),
    })??;
    if lines.set && settings.settle_ms > 0 {
        tokio::time::sleep(Duration::from_millis(settings.settle_ms.into())).await;
        // What an adapter sends while its supply rises is noise.
        port.clear(ClearBuffer::Input)
            .map_err(|fault| translate(path, settings, &fault))?;
    }
    Ok((port, lines.caution))
}

/// What became of the modem lines.
#[derive(Debug, Default)]
struct Lines {
    /// At least one stands as asked.
    set: bool,
    /// One was asked for and could not be set: what that means.
    caution: Option<String>,
}

fn open_and_set(
    path: &Path,
    settings: SerialSettings,
) -> Result<(SerialStream, Lines), SourceError> {
    let owned = || path.to_owned();
    match std::fs::metadata(path) {
        Ok(node) if node.is_dir() => return Err(SourceError::Folder { path: owned() }),
        Ok(node) if !node.file_type().is_char_device() => {
            return Err(SourceError::NotSerial { path: owned() });
        }
        // Opening tells the rest, in its own words.
        Ok(_) | Err(_) => {}
    }
    let builder = tokio_serial::new(path.to_string_lossy(), settings.baud)
        .data_bits(data_bits(path, settings)?)
        .parity(match settings.parity {
            Parity::None => tokio_serial::Parity::None,
            Parity::Odd => tokio_serial::Parity::Odd,
            Parity::Even => tokio_serial::Parity::Even,
        })
        .stop_bits(match settings.stop_bits {
            StopBits::One => tokio_serial::StopBits::One,
            StopBits::Two => tokio_serial::StopBits::Two,
        })
        .flow_control(tokio_serial::FlowControl::None);
    let mut port =
        SerialStream::open(&builder).map_err(|fault| translate(path, settings, &fault))?;
    let lines = set_lines(&mut port, path, settings);
    Ok((port, lines))
}

fn data_bits(
    path: &Path,
    settings: SerialSettings,
) -> Result<tokio_serial::DataBits, SourceError> {
    tokio_serial::DataBits::try_from(settings.data_bits).map_err(|()| SourceError::Settings {
        path: path.to_owned(),
        settings: shown(settings),
        why: "a character has 5 to 8 data bits".to_owned(),
    })
}

/// Sets the lines that were asked for, and no others: an edge on DTR resets many a
/// microcontroller board.
fn set_lines(port: &mut SerialStream, path: &Path, settings: SerialSettings) -> Lines {
    let mut lines = Lines::default();
    if let Some(level) = settings.dtr {
        lines.note(port.write_data_terminal_ready(level), path, "DTR");
    }
    if let Some(level) = settings.rts {
        lines.note(port.write_request_to_send(level), path, "RTS");
    }
    lines
}

impl Lines {
    fn note(&mut self, done: tokio_serial::Result<()>, path: &Path, line: &str) {
        let Err(fault) = done else {
            self.set = true;
            return;
        };
        let port = path.display();
        // One sentence is enough when both fail.
        self.caution.get_or_insert_with(|| {
            if fault.description == NOT_A_TERMINAL {
                format!(
                    "{port} has no modem lines, so {line} was not set; an adapter that takes \
                     its power from them will stay silent here"
                )
            } else {
                format!(
                    "{port} did not let {line} be set ({fault}); an adapter that takes its \
                     power from the modem lines may stay silent here"
                )
            }
        });
    }
}

/// The system's refusal in words that say what to do.
fn translate(
    path: &Path,
    settings: SerialSettings,
    fault: &tokio_serial::Error,
) -> SourceError {
    let path = path.to_owned();
    let why = fault.description.clone();
    match fault.kind {
        // Also what root sees, who may open a port that is held and only then fails to lock.
        ErrorKind::NoDevice => busy(path),
        ErrorKind::Io(std::io::ErrorKind::NotFound) => SourceError::NoSuchPort { path },
        ErrorKind::Io(std::io::ErrorKind::PermissionDenied) => permission::refused(&path),
        ErrorKind::Unknown if why == NOT_A_TERMINAL => SourceError::NotSerial { path },
        ErrorKind::Unknown if NO_HARDWARE.contains(&why.as_str()) => {
            SourceError::NoHardware { path, why }
        }
        ErrorKind::Unknown
            if why == "Invalid argument" || why == "Settings did not apply correctly" =>
        {
            SourceError::Settings {
                path,
                settings: shown(settings),
                why,
            }
        }
        _ => SourceError::Open { path, why },
    }
}

/// The trade's short form: `2400 7O1`.
fn shown(settings: SerialSettings) -> String {
    let parity = match settings.parity {
        Parity::None => 'N',
        Parity::Odd => 'O',
        Parity::Even => 'E',
    };
    let stop = match settings.stop_bits {
        StopBits::One => 1,
        StopBits::Two => 2,
    };
    format!("{} {}{parity}{stop}", settings.baud, settings.data_bits)
}
