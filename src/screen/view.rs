//! What the person at the screen has chosen to see and hear.

use crate::check::stock::{Row, Stock, Turn};
use crate::keys::ViewChange;
use crate::reading::Seconds;
use crate::screen::Theme;

/// What fills the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Panel {
    /// The run itself.
    #[default]
    Check,
    /// Keys and cautions.
    Help,
}

/// What is shown and heard; it changes nothing of what is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// What fills the screen.
    pub panel: Panel,
    /// How many lines of the help are scrolled past; past its end counts as its end.
    pub scrolled: u16,
    /// How long a stretch of the trace is shown.
    pub zoom: Seconds,
    /// Whether sound is off.
    pub muted: bool,
    /// Whether tones that were to be heard cannot be.
    pub toneless: bool,
    /// Colours, or none.
    pub theme: Theme,
}

impl View {
    /// The stretches of the trace to choose from, shortest first.
    pub const ZOOMS: [Seconds; 9] = [
        Seconds(5.0),
        Seconds(10.0),
        Seconds(20.0),
        Seconds(30.0),
        Seconds(60.0),
        Seconds(120.0),
        Seconds(300.0),
        Seconds(900.0),
        Seconds(3600.0),
    ];

    /// How many lines of the help a key press goes on.
    const SCROLL: u16 = 5;

    /// About as long as the help is in a narrow window: no press further is remembered, since
    /// each would have to be undone.
    const SCROLLED_MOST: u16 = 40;

    /// The run, half a minute of trace, with sound.
    pub fn new(theme: Theme) -> Self {
        Self {
            panel: Panel::Check,
            scrolled: 0,
            zoom: Seconds(30.0),
            muted: false,
            toneless: false,
            theme,
        }
    }

    /// Makes a change.
    pub fn apply(&mut self, change: ViewChange) {
        match change {
            ViewChange::ZoomIn => {
                let shorter = Self::ZOOMS.into_iter().rev().find(|zoom| *zoom < self.zoom);
                self.zoom = shorter.unwrap_or(self.zoom);
            }
            ViewChange::ZoomOut => {
                let longer = Self::ZOOMS.into_iter().find(|zoom| *zoom > self.zoom);
                self.zoom = longer.unwrap_or(self.zoom);
            }
            ViewChange::Mute => self.muted = !self.muted,
            ViewChange::Further => {
                let further = self.scrolled.saturating_add(Self::SCROLL);
                self.scrolled = further.min(Self::SCROLLED_MOST);
            }
            ViewChange::Back => self.scrolled = self.scrolled.saturating_sub(Self::SCROLL),
            ViewChange::Help => {
                self.scrolled = 0;
                self.panel = match self.panel {
                    Panel::Check => Panel::Help,
                    Panel::Help => Panel::Check,
                };
            }
        }
    }
}

/// Where a stock is between its leads, or in one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Stage {
    /// A lead is under check.
    Lead,
    /// The probes are still on the last lead.
    #[default]
    Lift,
    /// A tag is to be typed or scanned.
    Tag,
    /// The operator paused it.
    Paused,
    /// The port is gone.
    Lost,
    /// It is over.
    Over,
}

/// A stock as the screen shows it.
#[derive(Debug, Clone, Copy)]
pub struct StockView<'a> {
    /// What was done.
    pub stock: &'a Stock,
    /// The lead under check.
    pub turn: Option<&'a Turn>,
    /// Where it is.
    pub stage: Stage,
    /// What was typed so far of a tag.
    pub typed: &'a str,
    /// Tags scanned ahead of their turn, in order.
    pub ahead: &'a [String],
    /// The last one that was judged.
    pub last: Option<&'a Row>,
}
