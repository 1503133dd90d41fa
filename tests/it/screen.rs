//! The screen: what stands on it in each state of a run, at two sizes, read back as text and
//! as colours.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on should fail"
)]

mod bench;
mod picture;
mod properties;
mod rewire;
mod states;
mod stock;

use bench::Run;
use steadyohm::screen::{Theme, View};

/// The two sizes that snapshots are kept at.
const SIZES: [(u16, u16); 2] = [(80, 24), (160, 50)];

/// Keeps what a run shows at these sizes.
#[track_caller]
fn keep_at(sizes: &[(u16, u16)], name: &str, run: &Run, view: &View) {
    for (width, height) in sizes {
        let shown = run.screen(view, *width, *height);
        insta::assert_snapshot!(format!("{name}_{width}x{height}"), shown.backend());
    }
}

/// Keeps what a run shows at both sizes.
#[track_caller]
fn keep(name: &str, run: &Run, view: &View) {
    keep_at(&SIZES, name, run, view);
}

fn view() -> View {
    View::new(Theme::from_no_color(false))
}
