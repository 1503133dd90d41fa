//! A rewire's screen: the likeliest faults are told whole where they are looked up.

use std::sync::Arc;

use steadyohm::check::rewire::{Rewire, RewireOptions};
use steadyohm::reading::{Decimal, Magnitude, Measured};
use steadyohm::session::Command;

use crate::rewire::job;
use crate::screen::bench::{Run, closed};
use crate::screen::{keep_at, view};

/// Tenths of ohms of the neck pickup being open: the volume control beside the probes' leads.
fn reading(state: &str) -> Measured {
    let (digits, exponent) = match state {
        state if state.contains("volume control at zero") => (13, -1),
        state if state.contains("strings") => (2, -1),
        state if state.contains("neck") => (2761, 2),
        _ => (794, 1),
    };
    Measured {
        magnitude: Magnitude::Number(Decimal { digits, exponent }),
        resolution: Some(exponent),
        ..closed(0)
    }
}

#[test]
fn the_likeliest_faults_are_told_whole_in_80_columns() {
    let options = RewireOptions::of(Arc::new(job("two-pickups-three-way")));
    let mut run = Run::of(Some(Box::new(Rewire::new(options))));
    for _ in 0..400 {
        let check = run
            .session
            .check()
            .and_then(steadyohm::check::Check::rewire);
        let states = check.map_or(&[][..], |check| check.states);
        let Some(now) = states.iter().find(|state| state.verdict.is_none()) else {
            break;
        };
        let measured = reading(&now.name);
        run.read_all([measured; 4]);
        run.command(Command::Confirm);
    }
    let found = run.session.history().verdict().unwrap().findings[0].clone();
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown = words(&run.text(&view(), 80, 24));
    assert!(found.contains("the neck pickup is open"), "{found}");
    assert!(shown.contains(&words(&found)), "{found}\n{shown}");
    keep_at(&[(80, 24)], "rewire_fault", &run, &view());
}
