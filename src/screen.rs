//! Draws a session: pure, no clock, nothing opened, never failing at any size.
//!
//! Three things decide what stands on it. The screen is read from two metres with both hands
//! on the probes, so the reading and what to do now are the largest things. Nothing is told by
//! colour alone. And when room is short, things go in the order of [`stack::Rank`], least
//! needed first.

mod big;
mod blind;
mod check;
mod frame;
mod help;
mod prompt;
mod reading;
mod stack;
mod states;
mod statistics;
mod steps;
mod stock;
mod text;
mod theme;
mod trace;
mod track;
mod trouble;
mod verdict;
mod view;
mod watch;

pub use theme::Theme;
pub use view::{Panel, Stage, StockView, View};

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::reading::Stamp;
use crate::session::Session;

/// What every panel draws from.
#[derive(Debug, Clone, Copy)]
struct Scene<'a> {
    session: &'a Session,
    /// The stock that the session's lead is of.
    stock: Option<&'a StockView<'a>>,
    view: &'a View,
    theme: Theme,
    /// The time now; when the run is over, the time it ended.
    now: Stamp,
}

/// A screen's line in the list.
#[derive(Debug, Clone, Copy)]
struct ScreenEntry {
    /// Whether this is the one to be shown.
    wanted: fn(&Scene<'_>) -> bool,
    /// Draws it on the area between header and footer.
    draw: fn(&Scene<'_>, Rect, &mut Buffer),
}

/// Every screen there is; the first that is wanted is shown.
const SCREENS: &[ScreenEntry] = &[
    help::SCREEN,
    stock::SCREEN,
    verdict::SCREEN,
    watch::SCREEN,
    check::SCREEN,
];

/// Draws the session as it is at `now`.
pub fn draw(frame: &mut Frame<'_>, session: &Session, view: &View, now: Stamp) {
    let scene = scene(session, view, now);
    draw_scene(frame, &scene);
}

/// The same for a lead of a stock, or between two.
pub fn draw_stock(
    frame: &mut Frame<'_>,
    (session, stock): (&Session, &StockView<'_>),
    view: &View,
    now: Stamp,
) {
    let scene = Scene {
        stock: Some(stock),
        ..scene(session, view, now)
    };
    draw_scene(frame, &scene);
}

fn scene<'a>(session: &'a Session, view: &'a View, now: Stamp) -> Scene<'a> {
    let over = session.outcome().is_some();
    Scene {
        session,
        stock: None,
        view,
        theme: view.theme,
        now: if over {
            session.now()
        } else {
            now.max(session.now())
        },
    }
}

fn draw_scene(frame: &mut Frame<'_>, scene: &Scene<'_>) {
    let area = within(frame.area());
    let buffer = frame.buffer_mut();
    if let Some(screen) = SCREENS.iter().find(|screen| (screen.wanted)(scene)) {
        (screen.draw)(scene, area, buffer);
    }
}

/// The screen less a column at either side, where there is room.
const fn within(area: Rect) -> Rect {
    /// Columns from which on there is.
    const ROOMY: u16 = 60;
    if area.width < ROOMY {
        return area;
    }
    Rect {
        x: area.x + 1,
        width: area.width - 2,
        ..area
    }
}
