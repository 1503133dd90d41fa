//! Each state of a run, kept as text.

use steadyohm::check::lead::{LeadOptions, Method, Tare};
use steadyohm::check::notice::{Phase, Verdict};
use steadyohm::keys::ViewChange;
use steadyohm::reading::{Annunciator, Annunciators, Measured, Ohms, Seconds};
use steadyohm::session::{Command, Event};

use crate::screen::bench::{Run, blank, closed, over};
use crate::screen::{keep, keep_at, view};

/// A good lead, in the middle of bending its sleeve, the tip done.
pub(super) fn bending() -> Run {
    let mut run = Run::lead(LeadOptions {
        tare: Tare::Given(Ohms(0.14)),
        ..crate::simulated::lead_options()
    });
    run.read_all([over(4), over(4), over(4)]);
    run.closed_step(32);
    run.until(Phase::Flexing, closed(32));
    run.read_all(Run::noisy(9));
    run
}

/// The same, the sleeve breaking at two bends.
pub(super) fn breaking() -> Run {
    let mut run = bending();
    run.read(over(-2));
    run.read_all(Run::noisy(8));
    run.read_all([closed(412), over(-2), over(-2)]);
    run.read_all(Run::noisy(9));
    run.pass(120_000);
    run
}

/// A check that ends with this verdict.
pub(super) fn judged(verdict: Verdict) -> Run {
    let mut run = match verdict {
        Verdict::Fail => breaking(),
        Verdict::Pass | Verdict::Retest => bending(),
    };
    if verdict == Verdict::Fail {
        run.read(over(-2));
        run.read_all(Run::noisy(1));
    }
    run.until(Phase::Lifting, closed(32));
    run.read_all([over(4), over(4)]);
    run.until(Phase::Confirm, over(4));
    if verdict == Verdict::Retest {
        run.command(Command::Quit);
        return run;
    }
    run.command(Command::Confirm);
    for _ in 0..200 {
        if run.session.outcome().is_none() {
            run.read(over(4));
        }
    }
    let result = run.session.history().verdict();
    assert_eq!(result.map(|result| result.verdict), Some(verdict));
    run
}

#[test]
fn waiting_for_the_first_contact() {
    let mut run = Run::lead(crate::simulated::lead_options());
    run.read_all([over(4), over(4), over(4), over(4)]);
    keep("waiting", &run, &view());
}

#[test]
fn bending_with_breaks() {
    keep("breaking", &breaking(), &view());
}

#[test]
fn waiting_for_the_operators_word() {
    let mut run = bending();
    run.until(Phase::Lifting, closed(32));
    run.read_all([over(4), over(4), over(4)]);
    keep("confirm", &run, &view());
}

#[test]
fn pulling_the_far_end_plug() {
    let mut run = Run::lead(LeadOptions {
        method: Method::Loop,
        ..crate::simulated::lead_options()
    });
    run.until(Phase::Flexing, closed(41));
    run.until(Phase::Waiting, closed(41));
    keep("pull_the_plug", &run, &view());
}

#[test]
fn conductors_apart_while_bent() {
    let mut run = bending();
    run.until(Phase::Lifting, closed(32));
    run.read_all([over(4), over(4), over(4)]);
    run.command(Command::Confirm);
    run.until(Phase::Flexing, over(4));
    run.read_all([
        over(4),
        over(4),
        over(4),
        over(4),
        closed(2140),
        over(4),
        over(4),
    ]);
    keep("touching", &run, &view());
}

#[test]
fn verdicts() {
    keep("pass", &judged(Verdict::Pass), &view());
    keep("fail", &judged(Verdict::Fail), &view());
    keep("retest", &judged(Verdict::Retest), &view());
}

#[test]
fn troubles_of_the_meter() {
    let mut run = bending();
    let held = Measured {
        annunciators: Annunciators::NONE.with(Annunciator::Hold),
        ..closed(32)
    };
    run.read_all([held, held]);
    keep("hold", &run, &view());

    let mut run = bending();
    run.pass(4_300_000);
    keep("stalled", &run, &view());

    let mut run = bending();
    run.event(|at| Event::Lost {
        at,
        why: "device removed".to_owned(),
    });
    run.pass(900_000);
    keep("lost", &run, &view());
}

#[test]
fn watching() {
    let mut run = Run::watch();
    run.read_all(Run::noisy(60));
    run.read_all([closed(5120), over(-2), blank(), closed(33)]);
    run.read_all(Run::noisy(12));
    keep("watch", &run, &view());

    // A pickup's level, steady: the scale opens up to show its noise.
    let mut run = Run::watch();
    run.read_all((0..80).map(|index| closed(742_000 + 30 * (index % 7))));
    keep("watch_steady", &run, &view());
}

#[test]
fn help() {
    let mut view = view();
    view.apply(ViewChange::Help);
    keep("help", &bending(), &view);
    view.apply(ViewChange::Help);
    assert_eq!(view, crate::screen::view());
}

#[test]
fn small_screens_keep_what_is_needed_most() {
    let run = breaking();
    keep_at(&[(40, 12), (60, 16), (30, 6)], "small", &run, &view());
    // The reading outlasts everything else.
    assert!(
        run.text(&view(), 20, 1).contains("0.18 Ω"),
        "{}",
        run.text(&view(), 20, 1)
    );
    assert!(run.text(&view(), 30, 2).contains("BEND AND HOLD"));
}

#[test]
fn zoom_goes_to_the_ends_and_no_further() {
    let mut view = view();
    assert_eq!(view.zoom, Seconds(30.0));
    for _ in 0..20 {
        view.apply(ViewChange::ZoomIn);
    }
    assert_eq!(view.zoom, Seconds(5.0));
    for _ in 0..20 {
        view.apply(ViewChange::ZoomOut);
    }
    assert_eq!(view.zoom, Seconds(3600.0));
}
