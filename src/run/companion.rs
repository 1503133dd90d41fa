//! The simulated bench beside a live run: a meter that speaks a real format on a real
//! pseudo-terminal, and an operator who hears what the program says.
#![expect(
    clippy::disallowed_methods,
    reason = "the bench's task is started here, with its clock"
)]

use std::sync::Arc;
use std::time::{Duration, Instant};

use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio::time::sleep_until;

use crate::bench::{Bench, BenchSettings, Crate, Happening};
use crate::check::notice::Notice;
use crate::protocol::{Ask, Protocol, encode};
use crate::reading::{Measured, Stamp};
use crate::run::stamp_since;
use crate::session::Command;
use crate::source::{Pseudo, SourceError};

/// How long a reading may wait for a reader before it is let go, as on a line that nobody
/// listens to.
const PATIENCE: Duration = Duration::from_millis(200);
/// Unread bytes beyond this are old readings.
const STALE: usize = 512;
/// Words and key presses that may wait.
const QUEUE: usize = 256;

/// What the operator hears.
#[derive(Debug, Clone)]
enum Word {
    Notice(Notice),
    /// The lead of this place is wanted.
    Lead(usize),
}

/// A simulated bench at work.
#[derive(Debug)]
pub struct Companion {
    words: mpsc::Sender<(Stamp, Word)>,
    commands: mpsc::Receiver<Command>,
    task: JoinHandle<()>,
}

impl Companion {
    /// Starts a bench on a pseudo-terminal of its own.
    pub fn start(
        settings: &BenchSettings,
        protocol: Arc<Protocol>,
        pseudo: Pseudo,
        began: Instant,
    ) -> Self {
        Self::with_crate((settings, None), protocol, pseudo, began)
    }

    /// The same, with a crate of leads to take from.
    pub fn with_crate(
        (settings, leads): (&BenchSettings, Option<Crate>),
        protocol: Arc<Protocol>,
        pseudo: Pseudo,
        began: Instant,
    ) -> Self {
        let (words, heard) = mpsc::channel(QUEUE);
        let (keys, commands) = mpsc::channel(QUEUE);
        let worker = Worker {
            bench: Bench::new(settings),
            leads,
            wire: Wire {
                pseudo,
                protocol,
                wanted: false,
                listener: Listener::Unknown,
            },
            began,
        };
        let task = tokio::spawn(worker.work(heard, keys));
        Self {
            words,
            commands,
            task,
        }
    }

    /// Lets the operator hear something.
    pub(crate) async fn hear(&self, at: Stamp, notice: &Notice) {
        if !matches!(notice, Notice::Reading(_)) {
            // A bench that has stopped hears nothing; the port shows that by itself.
            let word = Word::Notice(notice.clone());
            drop(self.words.send((at, word)).await);
        }
    }

    /// Lets the operator take up the lead of a place in the crate, from 0.
    pub(super) async fn take_up(&self, at: Stamp, place: usize) {
        drop(self.words.send((at, Word::Lead(place))).await);
    }

    /// The operator's next key press.
    pub(super) async fn next_command(&mut self) -> Command {
        match self.commands.recv().await {
            Some(command) => command,
            None => std::future::pending().await,
        }
    }

    /// Waits until the bench ends, which it does only when its port fails.
    pub async fn finished(self) {
        drop(self.task.await);
    }
}

/// The meter's end of the wire.
struct Wire {
    pseudo: Pseudo,
    protocol: Arc<Protocol>,
    /// Whether a reading has been asked for.
    wanted: bool,
    listener: Listener,
}

/// Whether somebody reads the port, as far as that shows from this end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Listener {
    /// Nothing was sent yet.
    Unknown,
    /// What was sent lies unread.
    Nobody,
    /// What was sent is taken.
    Somebody,
}

struct Worker {
    bench: Bench,
    leads: Option<Crate>,
    wire: Wire,
    began: Instant,
}

impl Worker {
    fn hear(&mut self, at: Stamp, word: &Word) {
        match word {
            Word::Notice(notice) => self.bench.hear(at, notice),
            Word::Lead(place) => {
                let leads = self.leads.as_ref();
                if let Some(lead) = leads.and_then(|leads| leads.get(*place)) {
                    self.bench.take_up(at, lead.clone());
                }
            }
        }
    }

    async fn work(
        mut self,
        mut heard: mpsc::Receiver<(Stamp, Word)>,
        keys: mpsc::Sender<Command>,
    ) {
        loop {
            let due = self.began + Duration::from_micros(self.bench.next_at().micros());
            tokio::select! {
                biased;
                Some((at, word)) = heard.recv() => self.hear(at, &word),
                asked = self.wire.pseudo.read() => match asked {
                    Ok(bytes) => if self.wire.asked(&bytes) {
                        self.bench.begin_again(stamp_since(self.began));
                    },
                    Err(_hung_up) => return,
                },
                () = sleep_until(due.into()) => {
                    let now = stamp_since(self.began);
                    if self.wire.is_newly_read() {
                        self.bench.begin_again(now);
                    }
                    for happening in self.bench.advance(now) {
                        match happening {
                            Happening::Reading { measured, .. } => {
                                if self.wire.send(&measured).await.is_err() {
                                    return;
                                }
                            }
                            Happening::Confirm { .. } => drop(keys.send(Command::Confirm).await),
                        }
                    }
                }
            }
        }
    }
}

impl Wire {
    /// Whether somebody has begun to read since the last look.
    fn is_newly_read(&mut self) -> bool {
        let unread = self.pseudo.unread();
        let before = self.listener;
        match before {
            Listener::Nobody if unread == 0 => self.listener = Listener::Somebody,
            Listener::Somebody if unread > STALE => self.listener = Listener::Nobody,
            _ => {}
        }
        before == Listener::Nobody && self.listener == Listener::Somebody
    }

    /// Takes what the program sent; true if it has just been opened.
    fn asked(&mut self, bytes: &[u8]) -> bool {
        if let Ask::Request(request) = self.protocol.ask() {
            let question = request.ask.as_slice();
            self.wanted |= bytes
                .windows(question.len().max(1))
                .any(|window| window == question);
        }
        let opening = match self.protocol.ask() {
            Ask::Request(request) => request.at_open.first(),
            Ask::Listen => None,
        };
        opening.is_some_and(|opening| bytes.starts_with(opening))
    }

    /// Sends a reading, if it is one to be sent.
    async fn send(&mut self, measured: &Measured) -> Result<(), SourceError> {
        if matches!(self.protocol.ask(), Ask::Request(_)) && !std::mem::take(&mut self.wanted) {
            return Ok(());
        }
        if self.pseudo.unread() > STALE {
            self.pseudo.discard_unread()?;
        }
        let Ok(frame) = encode(&self.protocol, measured) else {
            // A format that cannot say this says nothing, as a meter would.
            return Ok(());
        };
        if self.listener == Listener::Unknown {
            self.listener = Listener::Nobody;
        }
        match self.pseudo.write(&frame, PATIENCE).await {
            Err(SourceError::Stalled { .. }) | Ok(()) => Ok(()),
            Err(error) => Err(error),
        }
    }
}
