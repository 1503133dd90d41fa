//! The end of a run: the verdict is seen, or heard to its end.
#![expect(
    clippy::disallowed_methods,
    reason = "it is timed how long it is shown"
)]

use std::time::Instant;

use crate::run::keyboard::dismisses;
use crate::run::{Edges, Run, RunError, terminal};

impl Run {
    /// The verdict stays on the screen until a key dismisses it.
    pub(super) async fn linger(&mut self, edges: &mut Edges) -> Result<(), RunError> {
        self.draw()?;
        let shown = Instant::now();
        loop {
            tokio::select! {
                biased;
                () = &mut edges.stop => return Ok(()),
                pressed = edges.keyboard.next() => {
                    let command = self.pressed(&pressed);
                    if command.is_some_and(|command| dismisses(command, shown.elapsed())) {
                        return Ok(());
                    }
                    self.draw()?;
                }
                caution = self.sound.go_on() => self.caution(caution),
            }
        }
    }

    /// Without a screen to stay, the run still lasts until the verdict is heard.
    pub(super) async fn last_words(&mut self, stop: &mut (impl Future<Output = ()> + Unpin)) {
        tokio::select! {
            biased;
            () = stop => {}
            cautions = self.sound.finish() => {
                for caution in cautions {
                    terminal::tell(&caution);
                }
            }
        }
    }
}
