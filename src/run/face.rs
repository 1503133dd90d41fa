//! The run's face: the screen, what a key means to it, and leaving it.

use std::time::{Duration, Instant};

use crate::check::notice::Notice;
use crate::keys::KeyAction;
use crate::run::keyboard::Pressed;
use crate::run::{Form, Run, RunError, Voice, terminal};
use crate::session::Command;

/// Shortest time between two frames of the screen.
const FRAME: Duration = Duration::from_millis(33);
/// Longest time between two frames: the clock on the screen goes on.
const IDLE_FRAME: Duration = Duration::from_millis(200);

impl Run {
    /// What a key press means; the view's own keys are taken here.
    pub(super) fn pressed(&mut self, pressed: &Pressed) -> Option<Command> {
        self.dirty = true;
        match pressed {
            Pressed::Key(key) => match crate::keys::action(key)? {
                KeyAction::Command(command) => Some(command),
                KeyAction::View(change) => {
                    self.view.apply(change);
                    None
                }
                KeyAction::Stock(_) => None,
            },
            Pressed::Line(_) => Some(Command::Confirm),
            Pressed::Resized => None,
        }
    }

    pub(super) fn draw(&mut self) -> Result<(), RunError> {
        let now = self.now();
        self.dirty = false;
        match &mut self.terminal {
            Some(terminal) => terminal
                .draw(&self.session, &self.view, now, self.desk.as_deref())
                .map_err(RunError::Terminal),
            None => Ok(()),
        }
    }

    pub(super) fn next_frame(&self, drawn: Instant) -> Option<Instant> {
        self.terminal.as_ref()?;
        Some(drawn + if self.dirty { FRAME } else { IDLE_FRAME })
    }

    /// Leaves the screen, and tells what could not be told over it.
    pub(super) fn leave(&mut self) {
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
}
