//! Why a place could not be used. Each message names what was tried and what to do next; it is
//! what the person at the bench reads.

use std::path::PathBuf;

use thiserror::Error;

use super::holder::{Holder, holders};

/// Why bytes cannot be had from a place, or sent to it.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SourceError {
    /// The text names no place.
    #[error(
        "{text:?} names no place to read from ({why}); write a device path such as \
         /dev/ttyUSB0, usbtmc:/dev/usbtmc0, tcp://HOST:PORT, - for standard input, or a \
         recording's .csv"
    )]
    NotAPlace {
        /// As it was written.
        text: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// A recording was to be opened as if it were a port.
    #[error(
        "{} is a recording, and a recording is replayed: use `steadyohm replay`",
        .path.display()
    )]
    Recorded {
        /// The recording.
        path: PathBuf,
    },
    /// Nothing stands at the path.
    #[error(
        "there is no port at {}; plug the adapter in, then see what is there with \
         `steadyohm ports`",
        .path.display()
    )]
    NoSuchPort {
        /// The path.
        path: PathBuf,
    },
    /// The path is a folder.
    #[error(
        "{} is a folder, not a port; see what is there with `steadyohm ports`",
        .path.display()
    )]
    Folder {
        /// The path.
        path: PathBuf,
    },
    /// Something stands at the path, but no serial port.
    #[error(
        "{} is not a serial port; see what is there with `steadyohm ports`",
        .path.display()
    )]
    NotSerial {
        /// The path.
        path: PathBuf,
    },
    /// Something stands at the path, but no instrument's node.
    #[error(
        "{} is not a USBTMC node; they are named /dev/usbtmc0 and so on: see `steadyohm ports`",
        .path.display()
    )]
    NotUsbtmc {
        /// The path.
        path: PathBuf,
    },
    /// The node is there, the hardware is not.
    #[error(
        "no hardware answers behind {} ({why}); plug the adapter in again, or choose another \
         port with `steadyohm ports`",
        .path.display()
    )]
    NoHardware {
        /// The path.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// Another program holds the port.
    #[error("{} is in use by {by}: close it and try again", .path.display())]
    Busy {
        /// The path.
        path: PathBuf,
        /// Who holds it, in words.
        by: String,
    },
    /// The user may not open the port.
    #[error("no permission to open {}; {remedy}", .path.display())]
    NoPermission {
        /// The path.
        path: PathBuf,
        /// How to come by it.
        remedy: String,
    },
    /// The port does not take these settings.
    #[error(
        "{} does not take {settings} ({why}); set what the meter's manual says with --baud and \
         its companions, or use another adapter",
        .path.display()
    )]
    Settings {
        /// The path.
        path: PathBuf,
        /// The settings asked for, as `2400 7O1`.
        settings: String,
        /// What the system said.
        why: String,
    },
    /// The port could not be opened for another reason.
    #[error(
        "could not open {} ({why}); unplug the adapter, plug it in again and try once more",
        .path.display()
    )]
    Open {
        /// The path.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// The name stands for no machine.
    #[error(
        "no machine is known by the name {host} ({why}); check the spelling and the network"
    )]
    UnknownHost {
        /// The name.
        host: String,
        /// What the system said.
        why: String,
    },
    /// The machine is there and does not listen at this port.
    #[error(
        "{host} refused the connection to port {port}; check the port number, and that remote \
         control is switched on"
    )]
    Refused {
        /// The machine.
        host: String,
        /// Its TCP port.
        port: u16,
    },
    /// The machine cannot be reached.
    #[error(
        "could not reach {host} at port {port} ({why}); check the address, and that the meter \
         is switched on and on this network"
    )]
    Unreachable {
        /// The machine.
        host: String,
        /// Its TCP port.
        port: u16,
        /// What the system said.
        why: String,
    },
    /// The system's list of ports cannot be read.
    #[error("the system does not list its ports ({why}); name one with --from")]
    Listing {
        /// What the system said.
        why: String,
    },
    /// The system gives no pseudo-terminal.
    #[error(
        "could not make a pseudo-terminal ({why}); close programs that use many, and retry"
    )]
    Pseudo {
        /// What the system said.
        why: String,
    },
    /// Nobody reads the other end of the pseudo-terminal.
    #[error(
        "nobody reads {}: {unread} bytes lie there; open it with --from, or stop simulating",
        .path.display()
    )]
    Stalled {
        /// The path.
        path: PathBuf,
        /// How many bytes wait.
        unread: usize,
    },
}

/// The error for a port that another program holds, with who that is where the system tells.
pub(super) fn busy(path: PathBuf) -> SourceError {
    let own = std::process::id();
    let by: Vec<String> = holders(&path)
        .into_iter()
        .map(|Holder { pid, name }| match pid {
            _ if pid == own => "this very program".to_owned(),
            _ => format!("{name} (process {pid})"),
        })
        .collect();
    let by = if by.is_empty() {
        format!(
            "another program, which `sudo fuser -v {}` names",
            path.display()
        )
    } else {
        by.join(" and ")
    };
    SourceError::Busy { path, by }
}
