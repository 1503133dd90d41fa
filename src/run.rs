//! The loop: carries events to the session and performs its effects.
//!
//! It owns the clock, the terminal, the recorder thread and the sound. Readings are never
//! dropped: every queue is bounded, and its sender waits. Frames of the screen may be.
#![expect(
    clippy::disallowed_methods,
    reason = "the loop reads the clock and starts tasks"
)]

mod bell;
mod companion;
mod face;
mod keeping;
mod keyboard;
mod last;
mod ledger_file;
mod line;
mod plain;
mod recorder;
mod replay;
mod search;
mod sound;
mod stock;
mod terminal;
mod voice;
mod wait;

pub use companion::Companion;
pub use keeping::Keeping;
pub use ledger_file::{LedgerFile, LedgerFileError};
pub use recorder::{Recorder, RecorderError};
pub use replay::replay;
pub use search::{Found, Progress, Search};
pub use sound::{Hearing, Loudness};
pub use stock::{Batch, BatchError, Recordings, StockRun, stock};
pub use voice::{Form, Voice};

use std::io;
use std::pin::Pin;
use std::time::{Duration, Instant};

use tokio::sync::mpsc;

use crate::check::notice::Notice;
use crate::reading::Stamp;
use crate::screen::{Theme, View};
use crate::session::{Command, Cue, Effect, Event, Outcome, Session, Setup};
use crate::source::{Link, PortEvent, Stamped};
use keyboard::{Keyboard, Pressed};
use sound::Sound;
use stock::Desk;
use terminal::Terminal;
use wait::{at, next_command, stopped};

/// A live run, ready to go.
#[derive(Debug)]
pub struct Plan {
    /// The session.
    pub setup: Setup,
    /// The open port.
    pub link: Link,
    /// The start of the session; the link stamps since then.
    pub began: Instant,
    /// How it speaks.
    pub voice: Voice,
    /// How it is kept.
    pub keeping: Keeping,
    /// Whether standard input carries the operator's Enter.
    pub enter_from_input: bool,
    /// Who else is at the bench: the simulated one.
    pub companion: Option<Companion>,
}

/// Something went wrong at the edge while running.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The terminal could not be used.
    #[error("the terminal screen cannot be used: {0}; use --plain")]
    Terminal(#[source] io::Error),
    /// A stock's table could not be kept.
    #[error(transparent)]
    Batch(#[from] BatchError),
    /// A lead's recording could not be kept.
    #[error(transparent)]
    Recorder(#[from] RecorderError),
    /// The output could not be written.
    #[error("cannot write to standard output: {0}")]
    Output(#[source] io::Error),
}

/// How long parting words to the meter may take.
const PARTING: Duration = Duration::from_millis(500);

/// Runs until the verdict, or until stopped.
pub async fn live(plan: Plan) -> Result<Outcome, RunError> {
    let (mut run, mut edges) = Run::begin(plan)?;
    let outcome = run.go(&mut edges).await;
    edges.link.close(PARTING).await;
    run.leave();
    outcome
}

/// What a run waits for.
struct Edges {
    link: Link,
    keyboard: Keyboard,
    companion: Option<Companion>,
    stop: Pin<Box<dyn Future<Output = ()>>>,
}

/// What came of waiting.
enum Happened {
    /// The program is asked to stop from outside.
    Stop,
    Pressed(Pressed),
    Command(Command),
    Event(Event),
    /// Something that concerns the screen or the bell alone.
    Nothing,
}

/// A run under way.
struct Run {
    session: Session,
    view: View,
    /// When the session began.
    began: Instant,
    /// The same on the clock of the link.
    since: Stamp,
    voice: Voice,
    keeping: Keeping,
    terminal: Option<Terminal>,
    outgoing: mpsc::Sender<Vec<u8>>,
    sound: Sound,
    /// What is to be known about the sound; told when the screen is gone.
    cautions: Vec<String>,
    /// The stock, if the session is of one of its leads.
    desk: Option<Box<Desk>>,
    dirty: bool,
    drawn: Instant,
}

impl Run {
    /// Enters the screen, and listens to the keys.
    fn begin(plan: Plan) -> Result<(Self, Edges), RunError> {
        let voice = plan.voice;
        // Before the screen is entered: from there on a signal must not end the process
        // unrestored.
        let stop = Box::pin(stopped());
        let screen = voice.form == Form::Screen;
        let terminal = screen.then(Terminal::enter).transpose();
        let run = Self {
            session: Session::new(plan.setup),
            view: View::new(theme()),
            began: plan.began,
            since: Stamp::START,
            voice,
            keeping: plan.keeping,
            terminal: terminal.map_err(RunError::Terminal)?,
            outgoing: plan.link.outgoing.clone(),
            sound: Sound::start(voice.hearing),
            cautions: Vec::new(),
            desk: None,
            dirty: true,
            drawn: plan.began,
        };
        let edges = Edges {
            link: plan.link,
            keyboard: match plan.enter_from_input {
                _ if screen => Keyboard::keys(),
                true => Keyboard::lines(),
                false => Keyboard::none(),
            },
            companion: plan.companion,
            stop,
        };
        Ok((run, edges))
    }

    async fn go(&mut self, edges: &mut Edges) -> Result<Outcome, RunError> {
        self.draw()?;
        loop {
            let event = match self.next(edges).await? {
                Happened::Stop => self.command(Command::Quit),
                Happened::Pressed(pressed) => match self.pressed(&pressed) {
                    Some(command) => self.command(command),
                    None => continue,
                },
                Happened::Command(command) => self.command(command),
                Happened::Event(event) => event,
                Happened::Nothing => continue,
            };
            let leaving = matches!(
                event,
                Event::Command {
                    command: Command::Quit,
                    ..
                }
            );
            if let Some(outcome) = self.take(event, edges.companion.as_ref()).await? {
                if self.terminal.is_some() && !leaving {
                    self.linger(edges).await?;
                } else if !leaving {
                    self.last_words(&mut edges.stop).await;
                }
                return Ok(outcome);
            }
        }
    }

    /// Waits for the next thing to happen; draws and rings meanwhile.
    async fn next(&mut self, edges: &mut Edges) -> Result<Happened, RunError> {
        let due = self.session.due().map(|due| self.instant(due));
        let frame = self.next_frame(self.drawn);
        let happened = tokio::select! {
            biased;
            () = &mut edges.stop => Happened::Stop,
            pressed = edges.keyboard.next() => Happened::Pressed(pressed),
            stamped = edges.link.events.recv() => Happened::Event(match stamped {
                Some(Stamped { at, event }) => port_event(self.of_session(at), event),
                None => Event::Ended { at: self.now() },
            }),
            command = next_command(edges.companion.as_mut()) => Happened::Command(command),
            () = at(due) => Happened::Event(Event::Tick { at: self.now() }),
            caution = self.sound.go_on() => {
                self.caution(caution);
                Happened::Nothing
            }
            () = at(frame) => {
                self.draw()?;
                self.drawn = Instant::now();
                Happened::Nothing
            }
        };
        self.dirty |= matches!(happened, Happened::Event(_) | Happened::Command(_));
        Ok(happened)
    }

    /// Gives an event to the session and performs the effects.
    async fn take(
        &mut self,
        event: Event,
        companion: Option<&Companion>,
    ) -> Result<Option<Outcome>, RunError> {
        for effect in self.session.update(event) {
            match effect {
                Effect::Send(bytes) => {
                    // A port that is gone takes nothing, and its loss is told by its own event.
                    // Nor is a port waited for that takes no bytes now, since the operator's
                    // keys would wait with it: what does not fit is let go, and the question
                    // is asked again in time.
                    drop(self.outgoing.try_send(bytes));
                }
                Effect::Emit(notice) => self.emit(&notice, companion).await?,
                Effect::Record(entry) => self.keeping.entry(entry),
                Effect::Cue(cue) => self.cue(cue),
                Effect::Finish(outcome) => {
                    self.keeping.end(None, self.session.now());
                    if outcome.is_watch() && self.voice.form != Form::Screen {
                        quietly(self.voice.sum_up(&self.session))?;
                    }
                    return Ok(Some(outcome));
                }
            }
        }
        Ok(None)
    }

    async fn emit(
        &mut self,
        notice: &Notice,
        companion: Option<&Companion>,
    ) -> Result<(), RunError> {
        self.sound.follow(notice, self.view.muted);
        // Kept first, said then: the verdict line names a recording that is whole.
        self.keeping.heard(self.session.now(), notice);
        let kept = self.keeping.said();
        if let Some(companion) = companion {
            companion
                .hear(self.of_link(self.session.now()), notice)
                .await;
        }
        if self.desk.is_some() && Desk::keeps_to_itself(notice) {
            return Ok(());
        }
        quietly(self.voice.say(notice, kept.recording.as_deref()))?;
        quietly(self.voice.say_entered(notice, kept.entered.as_deref()))
    }

    fn cue(&mut self, cue: Cue) {
        if !self.view.muted {
            self.sound.cue(cue, Instant::now());
        }
    }

    /// Tells what the operator should know about the sound: on the screen that there is no
    /// tone, in full beside the output, which for a screen is when it is gone.
    fn caution(&mut self, caution: Option<String>) {
        let Some(caution) = caution else { return };
        if self.terminal.is_some() {
            self.view.toneless = true;
            self.dirty = true;
            self.cautions.push(caution);
        } else {
            terminal::tell(&caution);
        }
    }

    fn command(&self, command: Command) -> Event {
        Event::Command {
            at: self.now(),
            command,
        }
    }

    /// A time of the link on the clock of the session.
    const fn of_session(&self, at: Stamp) -> Stamp {
        Stamp::from_micros(at.micros().saturating_sub(self.since.micros()))
    }

    /// A time of the session on the clock of the link.
    const fn of_link(&self, at: Stamp) -> Stamp {
        Stamp::from_micros(at.micros().saturating_add(self.since.micros()))
    }

    fn now(&self) -> Stamp {
        stamp_since(self.began)
    }

    fn instant(&self, stamp: Stamp) -> Instant {
        self.began + Duration::from_micros(stamp.micros())
    }
}

/// The stamp of this moment.
pub(crate) fn stamp_since(began: Instant) -> Stamp {
    Stamp::from_micros(u64::try_from(began.elapsed().as_micros()).unwrap_or(u64::MAX))
}

/// Nobody listening any more (`| head`) is a quiet end of speech, not an error.
fn quietly(said: io::Result<()>) -> Result<(), RunError> {
    match said {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(RunError::Output(error)),
        _ => Ok(()),
    }
}

fn port_event(at: Stamp, event: PortEvent) -> Event {
    match event {
        PortEvent::Opened {
            mid_stream,
            caution,
        } => Event::Opened {
            at,
            mid_stream,
            caution,
        },
        PortEvent::Bytes(chunk) => Event::Bytes { at, chunk },
        PortEvent::Lost { why } => Event::Lost { at, why },
        PortEvent::Ended => Event::Ended { at },
    }
}

/// The theme of the screen, from the environment.
pub(crate) fn theme() -> Theme {
    // The convention: set to anything but nothing means no colour.
    Theme::from_no_color(std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty()))
}

#[cfg(test)]
mod tests;
