//! The operator's keys: single presses on the screen, lines on standard input without it.

use std::time::Duration;

use crossterm::event::{Event as TerminalEvent, EventStream, KeyEvent, KeyEventKind};
use futures_util::StreamExt as _;
use tokio::io::{AsyncBufReadExt as _, BufReader, Stdin};

use crate::session::Command;

/// A verdict shown for less than this is not yet read.
const UNREAD: Duration = Duration::from_millis(1_500);

/// Bytes of a line that are kept.
const MOST_OF_A_LINE: usize = 256;

/// Something from the operator.
#[derive(Debug, Clone)]
pub(super) enum Pressed {
    /// A key.
    Key(KeyEvent),
    /// A line on standard input, or as much of it as may be a tag.
    Line(String),
    /// The terminal has another size.
    Resized,
}

/// Where presses come from.
pub(super) struct Keyboard(Presses, Vec<u8>);

enum Presses {
    Keys(EventStream),
    Lines(BufReader<Stdin>),
    None,
}

impl Keyboard {
    /// Key presses, from a terminal in raw mode.
    pub(super) fn keys() -> Self {
        Self(Presses::Keys(EventStream::new()), Vec::new())
    }

    /// Lines of standard input.
    pub(super) fn lines() -> Self {
        Self(
            Presses::Lines(BufReader::new(tokio::io::stdin())),
            Vec::new(),
        )
    }

    /// Nobody.
    pub(super) const fn none() -> Self {
        Self(Presses::None, Vec::new())
    }

    /// The next press; waits for ever when there is nobody.
    pub(super) async fn next(&mut self) -> Pressed {
        match &mut self.0 {
            Presses::Keys(stream) => loop {
                match stream.next().await {
                    Some(Ok(TerminalEvent::Key(key))) if key.kind != KeyEventKind::Release => {
                        return Pressed::Key(key);
                    }
                    Some(Ok(TerminalEvent::Resize(..))) => return Pressed::Resized,
                    Some(Ok(_)) => {}
                    Some(Err(_)) | None => break,
                }
            },
            Presses::Lines(lines) => {
                // Little of a line is kept, so one that never ends fills no memory, and being
                // cancelled in the middle of one loses nothing.
                while let Ok(chunk) = lines.fill_buf().await
                    && !chunk.is_empty()
                {
                    let end = chunk.iter().position(|byte| *byte == b'\n');
                    let taken = end.map_or(chunk.len(), |end| end + 1);
                    let room = MOST_OF_A_LINE.saturating_sub(self.1.len());
                    self.1.extend(chunk.iter().take(taken.min(room)));
                    lines.consume(taken);
                    if end.is_some() {
                        let line = std::mem::take(&mut self.1);
                        return Pressed::Line(String::from_utf8_lossy(&line).into_owned());
                    }
                }
            }
            Presses::None => {}
        }
        self.0 = Presses::None;
        std::future::pending().await
    }
}

/// Whether a command dismisses a verdict that was shown for so long. An Enter that was meant for
/// the last step, or is still held down, must not take the verdict away unread.
pub(super) fn dismisses(command: Command, shown: Duration) -> bool {
    match command {
        Command::Quit => true,
        Command::Confirm => shown >= UNREAD,
    }
}
