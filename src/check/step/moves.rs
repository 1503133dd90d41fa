//! The moves of the step machine from one state to the next.

use crate::check::Outbox;
use crate::check::notice::{Notice, Proof, StepBegins, StepResult, Verdict, Wants};
use crate::check::step::evidence::Flags;
use crate::check::step::judge::Judgement;
use crate::check::step::rest::{is_settled, lower, none_stands_out, shows_contact, shows_open};
use crate::check::step::{
    ClosedRest, Context, Limit, OpenRest, Pace, Reach, Rest, Run, State, StepMachine, Waiting,
    value, words,
};
use crate::reading::{Magnitude, Measured, Reading, Seconds, Stamp};

/// Readings that must agree before a step reads at rest.
const SETTLED: usize = 3;
/// Readings taken at rest, over at least so long a time, and never more than so many.
const AT_REST: usize = 8;
const AT_REST_TIME: Seconds = Seconds(0.5);
const AT_REST_MOST: usize = 1_000;
/// Times contact may be lost while reading at rest.
const MOST_BOUNCES: u32 = 3;
/// Times the reading at rest may move, and is waited for anew.
const MOST_STIRS: u32 = 3;
/// Times a step of conductors apart may be interrupted.
const MOST_INTERRUPTIONS: u32 = 5;

impl StepMachine {
    pub(super) fn patience(&self, pace: &Pace) -> Seconds {
        match self.plan.reach {
            Reach::Touch | Reach::PullShort => pace.wait,
            // The operator may be fetching something; nothing is lost by waiting.
            Reach::Confirm => Seconds(pace.wait.0 * 4.0),
        }
    }

    /// By when the work must have been read at rest, once it was reached.
    pub(super) fn must_rest_by(&self, pace: &Pace) -> Option<Stamp> {
        self.reached
            .map(|reached| reached + Seconds(pace.wait.0 * 2.0))
    }

    /// Readings can be judged again. The time in between counts neither for nor against.
    pub fn resume(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        let Some(began) = self.suspended.take() else {
            return;
        };
        let paused = now.since(began);
        // What was read before may be long over.
        self.last = None;
        self.reached = self.reached.map(|reached| reached + paused);
        match &mut self.state {
            State::Waiting(waiting) => {
                waiting.since = waiting.since + paused;
                waiting.run = Run::default();
                // Nobody watched whether the probes stayed on.
                waiting.loop_seen = false;
            }
            State::Lifting { since, open, .. } => {
                (*since, *open) = (*since + paused, Run::default());
            }
            State::Done => {}
            _ if self.plan.wants() == Wants::Open => self.begin_anew(now, context, out),
            State::Settling { recent, since } => {
                recent.clear();
                *since = *since + paused;
            }
            State::Still { .. } => self.settle(now, out),
            State::Flexing(flexing) => {
                if let Some(happened) = flexing.resume(now) {
                    self.flexed(happened, now, context, out);
                }
            }
        }
    }

    /// Conductors apart read like probes in the air: after an interruption contact has to be
    /// proven anew.
    fn begin_anew(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        self.evidence.interruptions = self.evidence.interruptions.saturating_add(1);
        if self.evidence.interruptions > MOST_INTERRUPTIONS {
            return self.will_not_hold(now, context, out);
        }
        let prompt = match self.plan.reach {
            Reach::PullShort => words::ask_again(&self.plan, false),
            Reach::Touch | Reach::Confirm => self.plan.prompt.clone(),
        };
        self.wait_again(now, Some(prompt), out);
    }

    /// Settling begins: the work has been reached.
    pub(super) fn settle(&mut self, now: Stamp, out: &mut Outbox) {
        self.reached.get_or_insert(now);
        let recent = Vec::new();
        self.go_to(State::Settling { recent, since: now }, out);
    }

    /// Reading at rest begins.
    pub(super) fn read_at_rest(&mut self, now: Stamp, out: &mut Outbox) {
        let taken = Vec::with_capacity(AT_REST);
        self.go_to(State::Still { taken, since: now }, out);
    }

    /// The step ends because nothing would stay long enough to be read at rest.
    pub(super) fn will_not_hold(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        let why = words::will_not_hold(&self.plan);
        let judgement = self.evidence.cut_off(&self.plan, why);
        self.finish(judgement, now, context, out);
    }

    pub(super) fn ask(&mut self, prompt: String, out: &mut Outbox) {
        out.say(Notice::Step(StepBegins {
            step: self.plan.name.clone(),
            wants: self.plan.wants(),
            prompt,
        }));
        out.say(Notice::Phase {
            step: self.plan.name.clone(),
            phase: self.phase(),
        });
    }

    pub(super) fn go_to(&mut self, state: State, out: &mut Outbox) {
        self.state = state;
        out.say(Notice::Phase {
            step: self.plan.name.clone(),
            phase: self.phase(),
        });
    }

    /// Back to waiting, because contact was lost.
    pub(super) fn wait_again(&mut self, now: Stamp, prompt: Option<String>, out: &mut Outbox) {
        self.state = State::Waiting(Waiting {
            since: now,
            asked_again: false,
            run: Run::default(),
            loop_seen: false,
        });
        match prompt {
            Some(prompt) => self.ask(prompt, out),
            None => out.say(Notice::Phase {
                step: self.plan.name.clone(),
                phase: self.phase(),
            }),
        }
    }

    pub(super) fn wait_reading(&mut self, reading: &Reading, out: &mut Outbox) {
        let State::Waiting(waiting) = &mut self.state else {
            return;
        };
        let measured = &reading.measured;
        if measured.magnitude == Magnitude::Blank {
            return;
        }
        let contact = shows_contact(measured);
        let reached = match self.plan.reach {
            Reach::Touch => contact,
            Reach::PullShort => {
                waiting.loop_seen |= contact;
                let pulled = waiting.loop_seen && shows_open(measured);
                waiting.run.feed(pulled, reading.at)
            }
            // A steady low reading needs no word: something is connected.
            Reach::Confirm => waiting.run.feed(contact, reading.at),
        };
        if reached {
            self.evidence.proof = Proof::Seen;
            self.settle(reading.at, out);
        }
    }

    /// The waiting time is over, or the operator brought it forward.
    pub(super) fn waited(
        &mut self,
        waiting: Waiting,
        now: Stamp,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        if waiting.asked_again {
            let judgement =
                words::never_came(&self.plan, waiting.loop_seen, self.last.as_ref());
            if judgement.verdict == Verdict::Fail {
                self.evidence.proof = Proof::Operator;
            }
            self.finish(judgement, now, context, out);
        } else {
            self.state = State::Waiting(Waiting {
                since: now,
                asked_again: true,
                run: Run::default(),
                ..waiting
            });
            let prompt = words::ask_again(&self.plan, waiting.loop_seen);
            self.ask(prompt, out);
        }
    }

    /// Whether a reading shows that a step at rest has lost what it was reached by.
    fn is_lost(&self, measured: &Measured) -> bool {
        match (&self.plan.limit, self.evidence.proof, self.plan.reach) {
            // The last: a short seen before the operator's word, and gone again, was not yet
            // the work.
            (Limit::Closed { .. }, ..) | (Limit::Open { .. }, Proof::Seen, Reach::Confirm) => {
                shows_open(measured)
            }
            // A tight plug lets go and touches again before it is out; once it was out, a
            // closed reading is a short.
            (Limit::Open { .. }, _, Reach::PullShort) => {
                self.evidence.rest.is_none() && shows_contact(measured)
            }
            (Limit::Open { .. }, ..) => false,
        }
    }

    /// Back to waiting from a step at rest.
    fn lose(&mut self, now: Stamp, out: &mut Outbox) {
        self.wait_again(now, None, out);
        if let State::Waiting(waiting) = &mut self.state {
            // What was seen there is the closed loop again.
            waiting.loop_seen = self.plan.reach == Reach::PullShort;
        }
    }

    pub(super) fn settle_reading(
        &mut self,
        reading: &Reading,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        if self.is_lost(&reading.measured) {
            return self.lose(reading.at, out);
        }
        let State::Settling { recent, .. } = &mut self.state else {
            return;
        };
        if reading.measured.magnitude == Magnitude::Blank {
            recent.clear();
        } else {
            recent.push(reading.measured);
        }
        if recent.len() > SETTLED {
            recent.remove(0);
        }
        if recent.len() == SETTLED && is_settled(recent, &context.meter.facts) {
            self.evidence.flags.clear(Flags::RESTLESS);
            self.read_at_rest(reading.at, out);
        }
    }

    pub(super) fn still_reading(
        &mut self,
        reading: &Reading,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        if self.is_lost(&reading.measured) {
            self.evidence.bounces = self.evidence.bounces.saturating_add(1);
            if self.evidence.bounces > MOST_BOUNCES {
                return self.will_not_hold(reading.at, context, out);
            }
            return self.lose(reading.at, out);
        }
        let facts = &context.meter.facts;
        let State::Still { taken, since } = &mut self.state else {
            return;
        };
        let since = *since;
        if reading.measured.magnitude != Magnitude::Blank {
            taken.push(reading.measured);
        }
        if self.plan.wants() == Wants::Open {
            self.evidence.lowest_at_rest =
                lower(self.evidence.lowest_at_rest, &reading.measured);
        }
        let lies_still = match self.plan.limit {
            Limit::Closed { .. } => taken.len() < AT_REST || none_stands_out(taken),
            Limit::Open { .. } => is_settled(taken, facts),
        };
        if !lies_still && self.stirs() {
            return self.settle(reading.at, out);
        }
        let State::Still { taken, .. } = &self.state else {
            return;
        };
        let long_enough = reading.at.since(since) >= AT_REST_TIME;
        if taken.len() < AT_REST || (!long_enough && taken.len() < AT_REST_MOST) {
            return;
        }
        self.evidence.rest = match self.plan.limit {
            Limit::Closed { .. } => ClosedRest::of(taken, facts).map(Rest::Closed),
            Limit::Open { fail, .. } => OpenRest::of(taken, facts, fail).map(Rest::Open),
        };
        let Some(rest) = self.evidence.rest else {
            return self.will_not_hold(reading.at, context, out);
        };
        self.reached = None;
        let value = self.value(&rest, context);
        let decided = value.verdict == Verdict::Fail || self.plan.bends.is_empty();
        self.evidence.value = Some(value);
        if decided {
            self.judge(reading.at, context, out);
        } else {
            self.begin_go(reading.at, rest, context);
            out.say(Notice::Phase {
                step: self.plan.name.clone(),
                phase: self.phase(),
            });
        }
    }

    /// The verdict on the value at rest. Where conductors apart touched while bent, a value that
    /// fails shows that they stayed so; one that does not is judged by the touches.
    fn value(&self, rest: &Rest, context: Context<'_>) -> Judgement {
        let mut value = value::of(&self.plan, rest, context);
        if self.plan.wants() == Wants::Open && !self.evidence.gaps.is_empty() {
            let stayed = "touched while bent, and stayed so".to_owned();
            value.reasons.insert(0, stayed);
            let kept = if value.verdict == Verdict::Fail { 2 } else { 0 };
            value.reasons.truncate(kept);
        }
        value
    }

    /// What was read at rest moved; whether it is waited for anew. What will not come to rest is
    /// at last judged as it is.
    fn stirs(&mut self) -> bool {
        if self.evidence.flags.has(Flags::RESTLESS) {
            return false;
        }
        self.evidence.stirs = self.evidence.stirs.saturating_add(1);
        if self.evidence.stirs > MOST_STIRS {
            self.evidence.flags.set(Flags::RESTLESS);
        }
        self.evidence.stirs <= MOST_STIRS
    }

    pub(super) fn judge(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        let judgement = self.evidence.judge(&self.plan, context);
        self.finish(judgement, now, context, out);
    }

    pub(super) fn result_of(&self, judgement: Judgement, context: Context<'_>) -> StepResult {
        StepResult {
            step: self.plan.name.clone(),
            verdict: judgement.verdict,
            ohms: self.evidence.ohms(context.tare),
            proof: self.evidence.proof,
            finding: judgement.finding,
            coverage: judgement.coverage,
            reasons: judgement.reasons,
        }
    }

    fn finish(
        &mut self,
        judgement: Judgement,
        now: Stamp,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        self.result = Some(self.result_of(judgement, context));
        self.reached = None;
        // Unless the probes were seen to be off, they may still be on.
        if self.plan.lift_after && !self.last.as_ref().is_some_and(shows_open) {
            let lifting = State::Lifting {
                since: now,
                open: Run::default(),
                asked_again: false,
            };
            self.go_to(lifting, out);
        } else {
            self.done(out);
        }
    }

    pub(super) fn done(&mut self, out: &mut Outbox) {
        self.state = State::Done;
        if let Some(result) = &self.result {
            out.say(Notice::StepDone(result.clone()));
        }
    }
}
