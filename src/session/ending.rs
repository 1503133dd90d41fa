//! How a session tells what was said, and how it ends.

use crate::check::notice::{CheckResult, Notice, Phase, Trouble, Verdict};
use crate::reading::Stamp;
use crate::record;
use crate::session::{Cue, Effect, Outcome, Session};

impl Session {
    pub(super) fn gives_up_at(&self) -> Option<Stamp> {
        self.check.as_ref()?;
        Some(self.watchdog.unwell_since()? + self.patience)
    }

    pub(super) fn give_up(&mut self) {
        let why = self
            .watchdog
            .active()
            .next()
            .map_or("the meter", Trouble::word);
        let why = format!("the meter could not be used for {} ({why})", self.patience);
        self.record(record::Mark::Finished);
        self.end(&why);
    }

    /// Ends the run early.
    pub(super) fn end(&mut self, why: &str) {
        match &self.check {
            Some(check) => {
                let result = check.cut_short(why, &self.meter);
                self.conclude(result);
            }
            None if self.watchdog.heard() == 0 => self.finish(Outcome::NeverHeard),
            None => self.finish(Outcome::Watched),
        }
    }

    fn conclude(&mut self, mut result: CheckResult) {
        result.meter_heard = self.watchdog.heard() > 0 || self.stopped;
        if self.watchdog.was_lost() && result.verdict == Verdict::Pass {
            result.verdict = Verdict::Retest;
            result.reasons = vec!["the port was lost during the check".to_owned()];
        }
        if let Some(doubt) = &self.doubt {
            result.verdict = Verdict::Retest;
            result.reasons.insert(0, doubt.clone());
        }
        let outcome = Outcome::Judged {
            verdict: result.verdict,
            meter_heard: result.meter_heard,
        };
        self.out.say(Notice::Verdict(result));
        self.finish(outcome);
    }

    fn finish(&mut self, outcome: Outcome) {
        self.say_all();
        if !self.link.handed_on {
            let sent = self.part();
            self.effects.extend(sent.into_iter().map(Effect::Send));
        }
        self.outcome = Some(outcome.clone());
        self.effects.push(Effect::Finish(outcome));
    }

    /// Passes on what was said, and ends the run when the check is over.
    pub(super) fn publish(&mut self) {
        self.say_all();
        if self.outcome.is_none()
            && let Some(result) = self
                .check
                .as_ref()
                .and_then(|check| check.result(&self.meter))
        {
            self.record(record::Mark::Finished);
            self.conclude(result);
        }
    }

    pub(super) fn say_all(&mut self) {
        for notice in self.out.take() {
            self.history.notice(self.now, &notice);
            self.effects.extend(cue_of(&notice).map(Effect::Cue));
            self.effects.push(Effect::Emit(notice));
        }
    }
}

/// What is heard of a notice.
const fn cue_of(notice: &Notice) -> Option<Cue> {
    match notice {
        Notice::Tick(_) => Some(Cue::Tick),
        Notice::Phase {
            phase: Phase::Lifting,
            ..
        } => Some(Cue::StepDone),
        Notice::Step(_) => Some(Cue::Ask),
        Notice::Disturbance(_) => Some(Cue::Break),
        Notice::Trouble { .. } => Some(Cue::Trouble),
        Notice::Verdict(result) => Some(Cue::Verdict(result.verdict)),
        Notice::Opened(_) | Notice::Phase { .. } | Notice::Reading(_) | Notice::StepDone(_) => {
            None
        }
    }
}
