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
mod states;

use bench::Run;
use steadyohm::screen::{Theme, View};

/// The two sizes that snapshots are kept at.
const SIZES: [(u16, u16); 2] = [(80, 24), (160, 50)];

/// Keeps what a run shows at both sizes.
#[track_caller]
fn keep(name: &str, run: &Run, view: &View) {
    for (width, height) in SIZES {
        let shown = run.screen(view, width, height);
        insta::assert_snapshot!(format!("{name}_{width}x{height}"), shown.backend());
    }
}

fn view() -> View {
    View::new(Theme::from_no_color(false))
}
