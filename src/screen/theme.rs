//! Colours by what they mean, in one place, so that all of them can be left out.
//!
//! Only the terminal's own sixteen colours are used: the user has chosen them to be legible.
//! Without colour, weight alone is left; every meaning also stands in words or signs.

use ratatui::style::{Color, Modifier, Style};

use crate::check::notice::Verdict;

/// With colour or without.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Theme {
    coloured: bool,
}

impl Theme {
    /// No colour where `NO_COLOR` is set (the convention of no-color.org).
    pub const fn from_no_color(no_color: bool) -> Self {
        Self {
            coloured: !no_color,
        }
    }

    const fn colour(self, colour: Color) -> Style {
        if self.coloured {
            Style::new().fg(colour)
        } else {
            Style::new()
        }
    }

    /// Running text: the terminal's own colour in either theme.
    #[expect(clippy::unused_self, reason = "asked for like every other style")]
    pub(super) const fn plain(self) -> Style {
        Style::new()
    }

    /// What is to be read first.
    pub(super) const fn strong(self) -> Style {
        self.plain().add_modifier(Modifier::BOLD)
    }

    /// Labels and rules: there when looked for.
    pub(super) const fn quiet(self) -> Style {
        if self.coloured {
            self.colour(Color::DarkGray)
        } else {
            Style::new().add_modifier(Modifier::DIM)
        }
    }

    /// What the operator must do.
    pub(super) const fn task(self) -> Style {
        self.colour(Color::Cyan).add_modifier(Modifier::BOLD)
    }

    /// The line of the trace.
    pub(super) const fn trace(self) -> Style {
        self.colour(Color::Cyan)
    }

    /// A limit on the trace.
    pub(super) const fn limit(self) -> Style {
        self.colour(Color::Yellow)
    }

    /// A break, a touch.
    pub(super) const fn event(self) -> Style {
        self.colour(Color::Red).add_modifier(Modifier::BOLD)
    }

    /// The meter needs attention.
    pub(super) const fn trouble(self) -> Style {
        self.colour(Color::Yellow).add_modifier(Modifier::BOLD)
    }

    /// The caution that is always there.
    pub(super) const fn caution(self) -> Style {
        self.colour(Color::Yellow)
    }

    /// A verdict.
    pub(super) const fn verdict(self, verdict: Verdict) -> Style {
        self.colour(match verdict {
            Verdict::Pass => Color::Green,
            Verdict::Fail => Color::Red,
            Verdict::Retest => Color::Yellow,
        })
        .add_modifier(Modifier::BOLD)
    }
}

impl Default for Theme {
    fn default() -> Self {
        Self::from_no_color(false)
    }
}
