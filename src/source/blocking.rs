//! Files that can only block: an instrument's USBTMC node, and standard input.
//!
//! Each has a thread of its own rather than a place in the runtime's pool: a read that never
//! returns would keep the runtime from ending, and the program with it.
#![expect(
    clippy::disallowed_types,
    clippy::disallowed_methods,
    reason = "an instrument's node is opened here, as the file it is, and waited for when lost"
)]

use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Read, Write as _};
use std::os::unix::fs::FileTypeExt as _;
use std::path::Path;
use std::thread;

use tokio::sync::mpsc::error::TryRecvError;

use super::error::busy;
use super::link::{CHUNK, Ends};
use super::{PortEvent, SourceError, permission};

impl Ends {
    /// Tells the program; false if it no longer listens.
    fn tell_and_wait(&self, event: PortEvent) -> bool {
        let stamped = self.settings.stamped(event);
        self.events.blocking_send(stamped).is_ok()
    }
}

/// Reads `input` to its end. The thread ends with the input, or at the first bytes that nobody
/// wants any more.
pub(super) fn feed(mut input: impl Read + Send + 'static, mut ends: Ends) {
    ends.outgoing.close();
    thread::spawn(move || {
        let opened = PortEvent::Opened {
            mid_stream: false,
            caution: None,
        };
        if !ends.tell_and_wait(opened) {
            return;
        }
        let mut chunk = vec![0; CHUNK];
        loop {
            match input.read(&mut chunk) {
                // Input that cannot be read any further has ended as surely.
                Ok(0) => break,
                Ok(count) => {
                    let bytes = chunk.iter().take(count).copied().collect();
                    if !ends.tell_and_wait(PortEvent::Bytes(bytes)) {
                        return;
                    }
                }
                Err(fault) if fault.kind() == ErrorKind::Interrupted => {}
                Err(_) => break,
            }
        }
        ends.tell_and_wait(PortEvent::Ended);
    });
}

/// Opens an instrument's node, and reads one reply after each message that asks for one.
///
/// The driver adds and removes the bus's own headers; one write is one message.
pub(super) fn request_and_reply(path: &Path, ends: Ends) -> Result<(), SourceError> {
    let node = open_node(path)?;
    let path = path.to_owned();
    thread::spawn(move || converse(&path, node, ends));
    Ok(())
}

fn open_node(path: &Path) -> Result<File, SourceError> {
    let owned = path.to_owned();
    let translate = |fault: std::io::Error| match fault.kind() {
        ErrorKind::NotFound => SourceError::NoSuchPort {
            path: path.to_owned(),
        },
        ErrorKind::PermissionDenied => permission::refused(path),
        ErrorKind::ResourceBusy => busy(path.to_owned()),
        _ => SourceError::Open {
            path: path.to_owned(),
            why: fault.to_string(),
        },
    };
    let kind = std::fs::metadata(path).map_err(translate)?.file_type();
    if kind.is_dir() {
        return Err(SourceError::Folder { path: owned });
    }
    if !kind.is_char_device() {
        return Err(SourceError::NotUsbtmc { path: owned });
    }
    OpenOptions::new()
        .read(true)
        .write(true)
        .open(path)
        .map_err(translate)
}

/// Asks and listens, and opens the node again after each loss, until the program leaves.
fn converse(path: &Path, mut node: File, mut ends: Ends) {
    loop {
        let opened = PortEvent::Opened {
            mid_stream: true,
            caution: None,
        };
        if !ends.tell_and_wait(opened) {
            return;
        }
        let Some(fault) = serve(node, &mut ends) else {
            return;
        };
        let why = match fault.kind() {
            ErrorKind::TimedOut => "the meter did not answer in time".to_owned(),
            ErrorKind::UnexpectedEof => "the node was unplugged or hung up".to_owned(),
            _ => format!("the node was unplugged or hung up: {fault}"),
        };
        if !ends.tell_and_wait(PortEvent::Lost { why }) {
            return;
        }
        node = loop {
            if !wait_out(&mut ends) {
                return;
            }
            if let Ok(node) = open_node(path) {
                break node;
            }
        };
    }
}

/// Waits before the next try and discards what was sent; false if the program leaves.
fn wait_out(ends: &mut Ends) -> bool {
    thread::sleep(ends.settings.reopen_every);
    loop {
        match ends.outgoing.try_recv() {
            Ok(_) => {}
            Err(TryRecvError::Empty) => return !ends.events.is_closed(),
            Err(TryRecvError::Disconnected) => return false,
        }
    }
}

/// Serves until the node is lost, or the program leaves (`None`).
fn serve(mut node: File, ends: &mut Ends) -> Option<std::io::Error> {
    while let Some(message) = ends.outgoing.blocking_recv() {
        if let Err(fault) = node.write_all(&message) {
            return Some(fault);
        }
        // Only a query is answered, and a query's header ends in a question mark (IEEE 488.2);
        // to read after any other message is to wait for the driver's time-out.
        if !message.contains(&b'?') {
            continue;
        }
        match read_reply(&mut node) {
            Ok(reply) => {
                if !ends.tell_and_wait(PortEvent::Bytes(reply)) {
                    return None;
                }
            }
            Err(fault) => return Some(fault),
        }
    }
    None
}

/// One reply: a read gives at most what was asked for, and a short one is the last.
fn read_reply(node: &mut File) -> std::io::Result<Vec<u8>> {
    let mut reply = Vec::new();
    let mut chunk = vec![0; CHUNK];
    loop {
        let count = match node.read(&mut chunk) {
            Ok(0) if reply.is_empty() => return Err(ErrorKind::UnexpectedEof.into()),
            Ok(count) => count,
            Err(fault) if fault.kind() == ErrorKind::Interrupted => continue,
            Err(fault) => return Err(fault),
        };
        reply.extend(chunk.iter().take(count));
        if count < CHUNK {
            return Ok(reply);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write as _;
    use std::time::Instant;

    use tokio::sync::mpsc;

    use super::{Ends, PortEvent, feed};
    use crate::protocol::SerialSettings;
    use crate::source::LinkSettings;

    #[test]
    fn a_pipe_is_read_to_its_end() {
        let (input, mut output) = std::io::pipe().unwrap();
        let (to_program, mut events) = mpsc::channel(1);
        let (outgoing, from_program) = mpsc::channel(1);
        feed(
            input,
            Ends {
                events: to_program,
                outgoing: from_program,
                settings: LinkSettings::new(SerialSettings::default(), Instant::now()),
            },
        );
        let mut next = || events.blocking_recv().map(|stamped| stamped.event);
        let opened = PortEvent::Opened {
            mid_stream: false,
            caution: None,
        };
        assert_eq!(next(), Some(opened));
        assert!(outgoing.is_closed());
        output.write_all(b"0.32\n").unwrap();
        assert_eq!(next(), Some(PortEvent::Bytes(b"0.32\n".to_vec())));
        drop(output);
        assert_eq!(next(), Some(PortEvent::Ended));
        assert_eq!(next(), None);
    }
}
