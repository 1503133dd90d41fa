//! The audible cue: the terminal's bell, told apart by count and spacing.

use std::time::Duration;

use crate::check::notice::Verdict;
use crate::session::Cue;

/// When the bell sounds, counted from the cue.
pub(super) const fn strokes(cue: Cue) -> &'static [Duration] {
    const fn at(millis: u64) -> Duration {
        Duration::from_millis(millis)
    }
    const ONE: &[Duration] = &[at(0)];
    const TWO: &[Duration] = &[at(0), at(150)];
    const TWO_SLOW: &[Duration] = &[at(0), at(450)];
    const THREE_FAST: &[Duration] = &[at(0), at(120), at(240)];
    const FOUR_FAST: &[Duration] = &[at(0), at(120), at(240), at(360)];
    const RISING: &[Duration] = &[at(0), at(500), at(700), at(850)];
    const FIVE_SLOW: &[Duration] = &[at(0), at(400), at(800), at(1200), at(1600)];
    const PAIRS: &[Duration] = &[at(0), at(150), at(700), at(850)];
    match cue {
        Cue::Tick => ONE,
        Cue::StepDone => TWO,
        Cue::Ask => TWO_SLOW,
        Cue::Break => THREE_FAST,
        Cue::Trouble => FOUR_FAST,
        Cue::Verdict(Verdict::Pass) => RISING,
        Cue::Verdict(Verdict::Fail) => FIVE_SLOW,
        Cue::Verdict(Verdict::Retest) => PAIRS,
    }
}
