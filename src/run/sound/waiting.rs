//! The cues that wait for the loudspeaker: a few at most, the newest of each kind, and nothing
//! that matters gives way to a tick.

use std::time::{Duration, Instant};

use crate::session::Cue;

/// A tick that comes later than this would pace the wrong bend.
const STALE: Duration = Duration::from_millis(250);

/// At most one cue of each kind, the most urgent first.
#[derive(Debug, Default)]
pub(super) struct Waiting {
    /// In the order they are to be heard.
    cues: Vec<(Cue, Instant)>,
}

impl Waiting {
    /// Lets a cue wait; an older one of its kind gives way to it.
    pub(super) fn push(&mut self, cue: Cue, now: Instant) {
        self.cues
            .retain(|(known, _)| urgency(*known) != urgency(cue));
        self.cues.push((cue, now));
        self.cues.sort_by_key(|(known, _)| urgency(*known));
    }

    /// Lets a cue that was not heard wait again, unless a newer one of its kind does.
    pub(super) fn retry(&mut self, cue: Cue, now: Instant) {
        if !self
            .cues
            .iter()
            .any(|(known, _)| urgency(*known) == urgency(cue))
        {
            self.push(cue, now);
        }
    }

    /// The next to be heard.
    pub(super) fn next(&mut self, now: Instant) -> Option<Cue> {
        self.cues.retain(|(cue, since)| {
            *cue != Cue::Tick || now.saturating_duration_since(*since) <= STALE
        });
        (!self.cues.is_empty()).then(|| self.cues.remove(0).0)
    }

    /// Whether nothing waits.
    pub(super) fn is_empty(&self) -> bool {
        self.cues.is_empty()
    }
}

/// The kinds, the most urgent first; a verdict ends one check before the next one asks.
const fn urgency(cue: Cue) -> u8 {
    match cue {
        Cue::Break => 0,
        Cue::Trouble => 1,
        Cue::StepDone => 2,
        Cue::Verdict(_) => 3,
        Cue::Ask => 4,
        Cue::Tick => 5,
    }
}

#[cfg(test)]
#[expect(
    clippy::disallowed_methods,
    reason = "the queue is given the time it is now"
)]
mod tests {
    use super::*;
    use crate::check::notice::Verdict;

    #[test]
    fn a_flood_of_ticks_takes_nothing_away() {
        let now = Instant::now();
        let mut waiting = Waiting::default();
        waiting.push(Cue::Ask, now);
        waiting.push(Cue::Break, now);
        for _tick in 0..10_000 {
            waiting.push(Cue::Tick, now);
        }
        assert_eq!(waiting.cues.len(), 3);
        assert_eq!(waiting.next(now), Some(Cue::Break));
        assert_eq!(waiting.next(now), Some(Cue::Ask));
        assert_eq!(waiting.next(now), Some(Cue::Tick));
        assert_eq!(waiting.next(now), None);
        assert!(waiting.is_empty());
    }

    #[test]
    fn a_late_tick_is_let_go_and_a_late_break_is_not() {
        let now = Instant::now();
        let mut waiting = Waiting::default();
        waiting.push(Cue::Tick, now);
        waiting.push(Cue::Break, now);
        let later = now + Duration::from_secs(2);
        assert_eq!(waiting.next(later), Some(Cue::Break));
        assert_eq!(waiting.next(later), None);
    }

    #[test]
    fn a_cue_tried_again_does_not_replace_a_newer_one() {
        let now = Instant::now();
        let mut waiting = Waiting::default();
        waiting.push(Cue::Verdict(Verdict::Pass), now);
        waiting.retry(Cue::Verdict(Verdict::Fail), now);
        waiting.retry(Cue::Break, now);
        assert_eq!(waiting.next(now), Some(Cue::Break));
        assert_eq!(waiting.next(now), Some(Cue::Verdict(Verdict::Pass)));
        assert_eq!(waiting.next(now), None);
    }

    #[test]
    fn the_newest_of_a_kind_wins() {
        let now = Instant::now();
        let mut waiting = Waiting::default();
        waiting.push(Cue::Verdict(Verdict::Pass), now);
        waiting.push(Cue::Ask, now);
        waiting.push(Cue::Verdict(Verdict::Fail), now);
        assert_eq!(waiting.next(now), Some(Cue::Verdict(Verdict::Fail)));
        assert_eq!(waiting.next(now), Some(Cue::Ask));
        assert_eq!(waiting.next(now), None);
    }
}
