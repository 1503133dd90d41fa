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
pub use voice::{Form, Voice};

use std::io;
use std::time::{Duration, Instant};

use tokio::sync::mpsc;

use crate::check::notice::Notice;
use crate::reading::Stamp;
use crate::screen::{Theme, View};
use crate::session::{Command, Cue, Effect, Event, Outcome, Session, Setup};
use crate::source::{Link, PortEvent};
use keyboard::{Keyboard, Pressed};
use sound::Sound;
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
    /// The output could not be written.
    #[error("cannot write to standard output: {0}")]
    Output(#[source] io::Error),
}

/// Shortest time between two frames of the screen.
const FRAME: Duration = Duration::from_millis(33);
/// Longest time between two frames: the clock on the screen goes on.
const IDLE_FRAME: Duration = Duration::from_millis(200);
/// How long parting words to the meter may take.
const PARTING: Duration = Duration::from_millis(500);

/// Runs until the verdict, or until stopped.
pub async fn live(plan: Plan) -> Result<Outcome, RunError> {
    let mut run = Run {
        session: Session::new(plan.setup),
        view: View::new(theme()),
        began: plan.began,
        voice: plan.voice,
        keeping: plan.keeping,
        terminal: None,
        outgoing: plan.link.outgoing.clone(),
        sound: Sound::start(plan.voice.hearing),
        cautions: Vec::new(),
        dirty: true,
    };
    // Before the screen is entered: from there on a signal must not end the process unrestored.
    let stop = stopped();
    let keyboard = if plan.voice.form == Form::Screen {
        run.terminal = Some(Terminal::enter().map_err(RunError::Terminal)?);
        Keyboard::keys()
    } else if plan.enter_from_input {
        Keyboard::lines()
    } else {
        Keyboard::none()
    };
    let outcome = run.go(plan.link, keyboard, plan.companion, stop).await;
    run.leave();
    outcome
}

/// A run under way.
struct Run {
    session: Session,
    view: View,
    began: Instant,
    voice: Voice,
    keeping: Keeping,
    terminal: Option<Terminal>,
    outgoing: mpsc::Sender<Vec<u8>>,
    sound: Sound,
    /// What is to be known about the sound; told when the screen is gone.
    cautions: Vec<String>,
    dirty: bool,
}

impl Run {
    async fn go(
        &mut self,
        mut link: Link,
        mut keyboard: Keyboard,
        mut companion: Option<Companion>,
        stop: impl Future<Output = ()>,
    ) -> Result<Outcome, RunError> {
        let mut stop = Box::pin(stop);
        let mut drawn = Instant::now();
        self.draw()?;
        loop {
            let due = self.session.due().map(|due| self.instant(due));
            let frame = self.next_frame(drawn);
            let event = tokio::select! {
                biased;
                () = &mut stop => self.command(Command::Quit),
                pressed = keyboard.next() => match self.pressed(pressed) {
                    Some(command) => self.command(command),
                    None => continue,
                },
                stamped = link.events.recv() => match stamped {
                    Some(stamped) => port_event(stamped.at, stamped.event),
                    None => Event::Ended { at: self.now() },
                },
                command = next_command(companion.as_mut()) => self.command(command),
                () = at(due) => Event::Tick { at: self.now() },
                caution = self.sound.go_on() => {
                    self.caution(caution);
                    continue;
                }
                () = at(frame) => {
                    self.draw()?;
                    drawn = Instant::now();
                    continue;
                }
            };
            self.dirty = true;
            let leaving = matches!(
                event,
                Event::Command {
                    command: Command::Quit,
                    ..
                }
            );
            if let Some(outcome) = self.take(event, companion.as_ref()).await? {
                if self.terminal.is_some() && !leaving {
                    self.linger(&mut keyboard, &mut stop).await?;
                } else if !leaving {
                    self.last_words(&mut stop).await;
                }
                link.close(PARTING).await;
                return Ok(outcome);
            }
        }
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
            companion.hear(self.session.now(), notice).await;
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

    /// What a key press means; the view's own keys are taken here.
    fn pressed(&mut self, pressed: Pressed) -> Option<Command> {
        use crate::keys::KeyAction;
        self.dirty = true;
        match pressed {
            Pressed::Key(key) => match crate::keys::action(&key)? {
                KeyAction::Command(command) => Some(command),
                KeyAction::View(change) => {
                    self.view.apply(change);
                    None
                }
            },
            Pressed::Line => Some(Command::Confirm),
            Pressed::Resized => None,
        }
    }

    fn draw(&mut self) -> Result<(), RunError> {
        let now = self.now();
        self.dirty = false;
        match &mut self.terminal {
            Some(terminal) => terminal
                .draw(&self.session, &self.view, now)
                .map_err(RunError::Terminal),
            None => Ok(()),
        }
    }

    fn next_frame(&self, drawn: Instant) -> Option<Instant> {
        self.terminal.as_ref()?;
        Some(drawn + if self.dirty { FRAME } else { IDLE_FRAME })
    }

    /// Leaves the screen, and tells what could not be told over it.
    fn leave(&mut self) {
        if self.terminal.take().is_some() {
            let form = Form::Plain;
            let voice = Voice { form, ..self.voice };
            let kept = self.keeping.said();
            let told = match self.session.history().verdict() {
                Some(result) => {
                    let notice = Notice::Verdict(result.clone());
                    voice
                        .say(&notice, kept.recording.as_deref())
                        .and_then(|()| voice.say_entered(&notice, kept.entered.as_deref()))
                }
                None => voice.sum_up(&self.session),
            };
            // The verdict is also the exit status; a closed terminal hides only the words.
            drop(told);
        }
        for caution in self.cautions.drain(..) {
            terminal::tell(&caution);
        }
        for error in self.keeping.troubles() {
            terminal::tell(&error.to_string());
        }
    }

    fn command(&self, command: Command) -> Event {
        Event::Command {
            at: self.now(),
            command,
        }
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
