//! A link to a port, and the task that keeps it: read, stamp, write, and come back after a
//! loss.
#![expect(
    clippy::disallowed_methods,
    reason = "the task between a port and the session is started here"
)]

use std::io;
use std::time::{Duration, Instant};

use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

use super::identity::{self, Adapter, Listing};
use super::{SourceError, Where, blocking, serial, tcp};
use crate::protocol::SerialSettings;
use crate::reading::Stamp;

/// How many events may wait for the program before the port has to.
const EVENTS: usize = 256;

/// How many messages may wait for the port before the program has to.
const OUTGOING: usize = 16;

/// The most bytes taken at one read.
pub(super) const CHUNK: usize = 4096;

/// How a link is kept.
#[derive(Debug, Clone, Copy)]
pub struct LinkSettings {
    /// How the line is set, where there is one.
    pub serial: SerialSettings,
    /// The start of the session; stamps count from here.
    pub began: Instant,
    /// How long to wait between two tries at a port that is gone.
    pub reopen_every: Duration,
    /// What tells which serial ports there are; an adapter is found again by it.
    pub listing: Listing,
}

impl LinkSettings {
    /// A line set so, stamped since `began`, tried again four times a second when it is lost.
    pub fn new(serial: SerialSettings, began: Instant) -> Self {
        Self {
            serial,
            began,
            reopen_every: Duration::from_millis(250),
            listing: identity::listed,
        }
    }

    /// An event stamped with the time it is now.
    pub(super) fn stamped(&self, event: PortEvent) -> Stamped {
        let micros = u64::try_from(self.began.elapsed().as_micros()).unwrap_or(u64::MAX);
        Stamped {
            at: Stamp::from_micros(micros),
            event,
        }
    }
}

/// What happens at a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PortEvent {
    /// It is open: the first event, and again after every loss.
    Opened {
        /// The stream is entered at any byte, perhaps within a frame.
        mid_stream: bool,
        /// A sentence for the user: what works less well than asked.
        caution: Option<String>,
    },
    /// These bytes came.
    Bytes(Vec<u8>),
    /// It is gone, and is being tried again; what is sent until it is open is discarded.
    Lost {
        /// How that showed.
        why: String,
    },
    /// The end of the input: nothing more will come.
    Ended,
}

/// What happened at a port, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamped {
    /// Since the start of the session.
    pub at: Stamp,
    /// What happened.
    pub event: PortEvent,
}

/// A port that is being kept open. Dropping it closes the port; what was sent and has not left
/// yet is then lost, see [`Link::close`].
#[derive(Debug)]
pub struct Link {
    /// What happens, in order. The port waits while this is full.
    pub events: mpsc::Receiver<Stamped>,
    /// What to send; already closed where nothing can be sent, as to standard input. Dropping
    /// the last sender closes the port.
    pub outgoing: mpsc::Sender<Vec<u8>>,
    keeper: Keeper,
}

impl Link {
    /// Sends what still waits, for at most `patience`, then closes the port.
    pub async fn close(self, patience: Duration) {
        let Self {
            mut events,
            outgoing,
            mut keeper,
        } = self;
        if outgoing.is_closed() && keeper.0.is_none() {
            return;
        }
        drop(outgoing);
        let ending = async { while events.recv().await.is_some() {} };
        // Out of patience is an answer too: the port is closed all the same.
        let in_time = timeout(patience, ending).await.is_ok();
        if let Some(task) = keeper.0.take() {
            if !in_time {
                task.abort();
            }
            // The port is closed once the task is gone, aborted or not.
            drop(task.await);
        }
    }
}

impl Link {
    /// The same link with these events first: what was taken from it and has to be had again.
    #[must_use]
    pub fn replaying(self, taken: Vec<Stamped>) -> Self {
        let Self {
            events: mut coming,
            outgoing,
            keeper,
        } = self;
        let (to_program, events) = mpsc::channel(EVENTS);
        let task = tokio::spawn(async move {
            // The port is kept as long as this goes on.
            let _keeper = keeper;
            for stamped in taken {
                if to_program.send(stamped).await.is_err() {
                    return;
                }
            }
            loop {
                let stamped = tokio::select! {
                    stamped = coming.recv() => stamped,
                    () = to_program.closed() => return,
                };
                let Some(stamped) = stamped else {
                    return;
                };
                if to_program.send(stamped).await.is_err() {
                    return;
                }
            }
        });
        Self {
            events,
            outgoing,
            keeper: Keeper(Some(task)),
        }
    }
}

/// Ends the task with the link. A thread at a blocking file ends by itself, at its next byte.
#[derive(Debug)]
struct Keeper(Option<JoinHandle<()>>);

impl Drop for Keeper {
    fn drop(&mut self) {
        if let Some(task) = &self.0 {
            task.abort();
        }
    }
}

/// Opens `place`. The first try must succeed; after that, losses are events.
pub async fn open(place: &Where, settings: LinkSettings) -> Result<Link, SourceError> {
    let (to_program, events) = mpsc::channel(EVENTS);
    let (outgoing, from_program) = mpsc::channel(OUTGOING);
    let ends = Ends {
        events: to_program,
        outgoing: from_program,
        settings,
    };
    let task = match place {
        Where::Serial(path) => {
            let adapter = Adapter::at(path, settings.listing);
            let target = Target::Serial(adapter, settings.serial);
            let opened = target.connect().await?;
            Some(tokio::spawn(keep(target, opened, ends)))
        }
        Where::Tcp { host, port } => {
            let target = Target::Tcp(host.clone(), *port);
            let opened = target.connect().await?;
            Some(tokio::spawn(keep(target, opened, ends)))
        }
        Where::Usbtmc(path) => {
            blocking::request_and_reply(path, ends)?;
            None
        }
        Where::StandardInput => {
            blocking::feed(io::stdin(), ends);
            None
        }
        Where::Recording(path) => return Err(SourceError::Recorded { path: path.clone() }),
    };
    Ok(Link {
        events,
        outgoing,
        keeper: Keeper(task),
    })
}

/// The port's ends of the two channels.
#[derive(Debug)]
pub(super) struct Ends {
    pub(super) events: mpsc::Sender<Stamped>,
    pub(super) outgoing: mpsc::Receiver<Vec<u8>>,
    pub(super) settings: LinkSettings,
}

impl Ends {
    /// Tells the program; false if it no longer listens.
    async fn tell(&self, event: PortEvent) -> bool {
        let stamped = self.settings.stamped(event);
        self.events.send(stamped).await.is_ok()
    }
}

/// A port that can be waited for, and opened again.
#[derive(Debug)]
enum Target {
    Serial(Adapter, SerialSettings),
    Tcp(String, u16),
}

/// Bytes both ways.
trait Duplex: AsyncRead + AsyncWrite + Send + Unpin {}

impl<T: AsyncRead + AsyncWrite + Send + Unpin> Duplex for T {}

/// A port just opened, and the caution that goes with it.
struct Opened {
    port: Box<dyn Duplex>,
    caution: Option<String>,
}

impl Target {
    async fn connect(&self) -> Result<Opened, SourceError> {
        Ok(match self {
            Self::Serial(adapter, settings) => {
                let (port, caution) = serial::open(&adapter.node()?, *settings).await?;
                Opened {
                    port: Box::new(port),
                    caution,
                }
            }
            Self::Tcp(host, port) => Opened {
                port: Box::new(tcp::connect(host, *port).await?),
                caution: None,
            },
        })
    }

    /// How an end of the stream shows here.
    fn hang_up(&self) -> &'static str {
        match self {
            Self::Serial(..) => "the port was unplugged or hung up",
            Self::Tcp(..) => "the other end closed the connection",
        }
    }
}

/// Serves the port, and opens it again after each loss, until the program leaves.
async fn keep(target: Target, mut opened: Opened, mut ends: Ends) {
    loop {
        let Opened { port, caution } = opened;
        let event = PortEvent::Opened {
            mid_stream: true,
            caution,
        };
        if !ends.tell(event).await {
            return;
        }
        // The port is closed inside, before the loss is told: a device that comes back while
        // its old node is still held gets another name.
        let Some(fault) = serve(port, &mut ends).await else {
            return;
        };
        let why = match fault {
            Fault::HungUp => target.hang_up().to_owned(),
            Fault::Refused(fault) => format!("{}: {fault}", target.hang_up()),
        };
        if !ends.tell(PortEvent::Lost { why }).await {
            return;
        }
        opened = loop {
            if !wait_out(&mut ends).await {
                return;
            }
            // Quietly: that it is not back yet is no news.
            if let Ok(opened) = target.connect().await {
                while ends.outgoing.try_recv().is_ok() {}
                break opened;
            }
        };
    }
}

/// Waits before the next try and discards what is sent; false if the program leaves.
async fn wait_out(ends: &mut Ends) -> bool {
    let pause = sleep(ends.settings.reopen_every);
    tokio::pin!(pause);
    loop {
        tokio::select! {
            () = &mut pause => return true,
            () = ends.events.closed() => return false,
            message = ends.outgoing.recv() => if message.is_none() {
                return false;
            },
        }
    }
}

/// How a port was lost.
enum Fault {
    /// The stream ended. A serial port that is gone reads as empty, for ever and at once.
    HungUp,
    /// The system said so.
    Refused(io::Error),
}

/// Carries bytes both ways until the port is lost, or the program leaves (`None`).
async fn serve(port: Box<dyn Duplex>, ends: &mut Ends) -> Option<Fault> {
    let (mut reader, mut writer) = tokio::io::split(port);
    let mut chunk = vec![0; CHUNK];
    // A port that takes nothing must not keep us from reading it.
    let mut unsent = Vec::new();
    loop {
        tokio::select! {
            read = reader.read(&mut chunk) => match read {
                Ok(0) => return Some(Fault::HungUp),
                Ok(count) => {
                    let bytes = chunk.iter().take(count).copied().collect();
                    if !ends.tell(PortEvent::Bytes(bytes)).await {
                        return None;
                    }
                }
                Err(fault) => return Some(Fault::Refused(fault)),
            },
            written = writer.write(&unsent), if !unsent.is_empty() => match written {
                Ok(0) => return Some(Fault::HungUp),
                Ok(count) => drop(unsent.drain(..count.min(unsent.len()))),
                Err(fault) => return Some(Fault::Refused(fault)),
            },
            message = ends.outgoing.recv(), if unsent.is_empty() => {
                let Some(message) = message else {
                    // What was written shall arrive; if it cannot, nobody is left to be told.
                    drop(writer.shutdown().await);
                    return None;
                };
                unsent = message;
            }
            () = ends.events.closed() => return None,
        }
    }
}
