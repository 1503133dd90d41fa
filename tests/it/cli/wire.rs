//! The meter's end of the program's port: a pseudo-terminal that can be pulled and plugged in
//! again, or a socket.

use std::path::Path;
use std::time::Duration;

use steadyohm::protocol::{Ask, Protocol};
use steadyohm::source::Pseudo;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;

use super::LIMIT;

/// How long a frame may wait for the program to read.
const PATIENCE: Duration = Duration::from_secs(5);

/// The meter's end of the port.
#[derive(Debug)]
pub(super) struct Wire {
    /// As `--from` takes it.
    pub(super) place: String,
    end: End,
    /// Whether the program has it open.
    pub(super) open: bool,
    pub(super) heard: Vec<u8>,
    /// Whether a reading has been asked for.
    pub(super) asked: bool,
}

#[derive(Debug)]
enum End {
    Pseudo(Pseudo),
    Listener(TcpListener),
    Socket(TcpStream),
    Gone,
}

impl Wire {
    pub(super) async fn new(socket: bool, home: &Path) -> Self {
        let (end, place) = if socket {
            let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
            let place = format!("tcp://{}", listener.local_addr().unwrap());
            (End::Listener(listener), place)
        } else {
            // By a name that can be pointed at another port, as the system's names by-id are.
            let link = home.join("meter");
            let pseudo = Pseudo::new().unwrap();
            std::os::unix::fs::symlink(pseudo.path(), &link).unwrap();
            (End::Pseudo(pseudo), link.to_str().unwrap().to_owned())
        };
        Self {
            place,
            end,
            open: false,
            heard: Vec::new(),
            asked: false,
        }
    }

    pub(super) async fn accept(&mut self) {
        if let End::Listener(listener) = &self.end {
            let accepted = timeout(LIMIT, listener.accept()).await;
            self.end = End::Socket(accepted.expect("nobody connects").unwrap().0);
        }
    }

    /// Pulls the plug.
    pub(super) fn pull(&mut self) {
        // The name goes first, as a device's node does: a program that tries it would else find
        // whoever was given the port's number next. A socket has no name to remove.
        let _no_such_name = std::fs::remove_file(&self.place);
        self.end = End::Gone;
        self.open = false;
    }

    /// Plugs in again: another port behind the same name.
    pub(super) fn plug_in(&mut self) {
        let pseudo = Pseudo::new().unwrap();
        let next = format!("{}.next", self.place);
        std::os::unix::fs::symlink(pseudo.path(), &next).unwrap();
        std::fs::rename(next, &self.place).unwrap();
        self.end = End::Pseudo(pseudo);
    }

    pub(super) async fn send(&mut self, frame: &[u8]) {
        match &mut self.end {
            End::Pseudo(pseudo) => {
                // A program that has just ended reads no more.
                drop(pseudo.write(frame, PATIENCE).await);
            }
            End::Socket(stream) => drop(stream.write_all(frame).await),
            End::Listener(_) | End::Gone => {}
        }
    }

    /// Takes what the program sends; waits for ever where nothing can come.
    pub(super) async fn listen(&mut self) {
        let mut chunk = vec![0; 512];
        let count = match &mut self.end {
            End::Pseudo(pseudo) => {
                chunk = pseudo.read().await.unwrap_or_default();
                chunk.len()
            }
            End::Socket(stream) => stream.read(&mut chunk).await.unwrap_or(0),
            End::Listener(_) | End::Gone => std::future::pending().await,
        };
        if count == 0 {
            self.end = End::Gone;
        }
        self.heard.extend_from_slice(&chunk[..count]);
        self.asked |= self.heard.ends_with(b"READ?\n");
    }

    /// Takes what the program sent in parting.
    pub(super) async fn listen_to_the_end(&mut self, protocol: &Protocol) {
        let Ask::Request(request) = protocol.ask() else {
            return;
        };
        let Some(last) = request.at_close.last() else {
            return;
        };
        while !self.heard.ends_with(last) && !matches!(self.end, End::Gone) {
            timeout(PATIENCE, self.listen())
                .await
                .expect("no parting words");
        }
    }
}
