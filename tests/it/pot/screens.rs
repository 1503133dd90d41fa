//! The track as a strip, at two sizes, while it is swept and when it is judged.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use steadyohm::bench::PotFault;
use steadyohm::circuit::control::{Law, Wiring};
use steadyohm::screen::{Theme, View, draw};
use steadyohm::session::Session;

use super::run::Run;

fn shown(session: &Session, width: u16, height: u16) -> Terminal<TestBackend> {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    let view = View::new(Theme::from_no_color(true));
    terminal
        .draw(|frame| draw(frame, session, &view, session.now()))
        .unwrap();
    terminal
}

fn keep(name: &str, session: &Session) {
    for (width, height) in [(80, 24), (160, 50)] {
        let terminal = shown(session, width, height);
        insta::assert_snapshot!(format!("{name}_{width}x{height}"), terminal.backend());
    }
}

/// Passes of the sweep so far.
fn passes(session: &Session) -> usize {
    let view = session.check().and_then(|check| check.view().track);
    view.and_then(|track| track.analysis)
        .map_or(0, |analysis| analysis.passes.len())
}

#[test]
fn while_it_is_swept() {
    let run = Run::new(Law::Linear, PotFault::DirtyZone);
    let (_, session) = run.until(|session| passes(session) == 3);
    keep("pot-sweeping", &session);
}

#[test]
fn through_the_jack() {
    let run = Run::new(Law::Linear, PotFault::OpenEnd).at_jack(Wiring::Standard);
    let (_, session) = run.until(|session| passes(session) == 3);
    keep("pot-at-the-jack", &session);
}

#[test]
fn when_it_is_judged() {
    let (_, session) = Run::new(Law::Linear, PotFault::DirtyZone).until(|_| false);
    keep("pot-judged", &session);
}

#[test]
fn at_any_size() {
    let run = Run::new(Law::Linear, PotFault::DirtyZone);
    let (_, session) = run.until(|session| passes(session) == 3);
    for width in (1..170).step_by(7) {
        for height in (1..60).step_by(5) {
            let drawn = shown(&session, width, height);
            assert_eq!(drawn.backend().buffer().area.width, width);
        }
    }
}
