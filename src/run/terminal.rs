//! The terminal: entered once, restored on every way out, a panic included.

use std::io::{self, Write as _};

use ratatui::DefaultTerminal;

use crate::reading::Stamp;
use crate::run::stock::Desk;
use crate::screen::{self, View};
use crate::session::Session;

/// A terminal in raw mode on its alternate screen; dropping it restores it.
#[derive(Debug)]
pub(super) struct Terminal {
    screen: DefaultTerminal,
}

impl Terminal {
    /// Enters the screen. The library's own panic hook restores it before the message.
    pub(super) fn enter() -> io::Result<Self> {
        Ok(Self {
            screen: ratatui::try_init()?,
        })
    }

    /// Draws one frame.
    pub(super) fn draw(
        &mut self,
        session: &Session,
        view: &View,
        now: Stamp,
        desk: Option<&Desk>,
    ) -> io::Result<()> {
        let stock = desk.map(Desk::view);
        self.screen.draw(|frame| match &stock {
            Some(stock) => screen::draw_stock(frame, (session, stock), view, now),
            None => screen::draw(frame, session, view, now),
        })?;
        Ok(())
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        ratatui::restore();
    }
}

/// Tells something on standard error.
pub(super) fn tell(text: &str) {
    // If standard error is gone, there is nobody left to tell.
    drop(writeln!(io::stderr(), "steadyohm: {text}"));
}
