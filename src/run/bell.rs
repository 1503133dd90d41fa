//! The audible cue: the terminal's bell, told apart by count and spacing.

use std::time::{Duration, Instant};

use crate::check::notice::Verdict;
use crate::session::Cue;

/// The strokes to come.
#[derive(Debug, Default)]
pub(super) struct Bell {
    /// Latest first.
    strokes: Vec<Instant>,
}

impl Bell {
    /// Strokes that may wait: what a flood of cues has beyond this nobody could tell apart.
    const MOST: usize = 36;

    /// Lets a cue be heard from now on. One that finds the bell busy far ahead is let go, but
    /// for the verdict, which comes once.
    pub(super) fn cue(&mut self, cue: Cue, now: Instant) {
        if self.strokes.len() >= Self::MOST && !matches!(cue, Cue::Verdict(_)) {
            return;
        }
        self.strokes
            .extend(strokes(cue).iter().map(|delay| now + *delay));
        self.strokes.sort_unstable_by(|a, b| b.cmp(a));
    }

    /// When the next stroke is due.
    pub(super) fn next(&self) -> Option<Instant> {
        self.strokes.last().copied()
    }

    /// The next stroke was rung.
    pub(super) fn rung(&mut self) {
        self.strokes.pop();
    }
}

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

#[cfg(test)]
#[expect(
    clippy::disallowed_methods,
    reason = "the bell is given the time it is now"
)]
mod tests {
    use super::*;

    fn waiting(bell: &Bell) -> usize {
        bell.strokes.len()
    }

    #[test]
    fn strokes_come_in_order() {
        let now = Instant::now();
        let mut bell = Bell::default();
        bell.cue(Cue::Ask, now);
        bell.cue(Cue::StepDone, now);
        let mut delays = Vec::new();
        while let Some(stroke) = bell.next() {
            delays.push((stroke - now).as_millis());
            bell.rung();
        }
        assert_eq!(delays, [0, 0, 150, 450]);
    }

    #[test]
    fn a_flood_of_cues_is_bounded_and_the_verdict_is_heard() {
        let now = Instant::now();
        let mut bell = Bell::default();
        for _cue in 0..10_000 {
            bell.cue(Cue::Break, now);
        }
        assert_eq!(waiting(&bell), 36);
        bell.cue(Cue::Verdict(Verdict::Fail), now);
        assert_eq!(waiting(&bell), 41);
    }
}
