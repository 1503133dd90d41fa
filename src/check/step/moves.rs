//! The moves of the step machine from one state to the next.

use crate::check::Outbox;
use crate::check::notice::{Notice, Proof, StepBegins, StepResult, Verdict, Wants};
use crate::check::step::judge::{Flags, Judgement};
use crate::check::step::rest::{is_settled, shows_contact, shows_open};
use crate::check::step::{
    ClosedRest, Context, Limit, OPEN_RUN, OpenRest, Pace, Reach, Rest, State, StepMachine,
    Waiting, value, words,
};
use crate::reading::{Magnitude, Measured, Reading, Seconds, Stamp};

/// Readings that must agree before a step reads at rest.
const SETTLED: usize = 3;
/// Readings after which a step no longer waits for agreement.
const SETTLED_AT_LATEST: u32 = 60;
/// Readings taken at rest.
const AT_REST: usize = 6;
/// Times contact may be lost while reading at rest.
const MOST_BOUNCES: u32 = 3;

impl StepMachine {
    pub(super) fn patience(&self, pace: &Pace) -> Seconds {
        match self.plan.reach {
            Reach::Touch | Reach::PullShort => pace.wait,
            // The operator may be fetching something; nothing is lost by waiting.
            Reach::Confirm => Seconds(pace.wait.0 * 4.0),
        }
    }

    pub(super) fn ask(&mut self, prompt: String, out: &mut Outbox) {
        out.say(Notice::Step(StepBegins {
            step: self.plan.name,
            wants: self.plan.wants(),
            prompt,
        }));
        out.say(Notice::Phase {
            step: self.plan.name,
            phase: self.phase(),
        });
    }

    pub(super) fn go_to(&mut self, state: State, out: &mut Outbox) {
        self.state = state;
        out.say(Notice::Phase {
            step: self.plan.name,
            phase: self.phase(),
        });
    }

    /// Back to waiting, because contact was lost.
    pub(super) fn wait_again(&mut self, now: Stamp, prompt: Option<String>, out: &mut Outbox) {
        self.state = State::Waiting(Waiting {
            since: now,
            asked_again: false,
            run: 0,
            loop_seen: false,
        });
        match prompt {
            Some(prompt) => self.ask(prompt, out),
            None => out.say(Notice::Phase {
                step: self.plan.name,
                phase: self.phase(),
            }),
        }
    }

    pub(super) fn wait_reading(&mut self, reading: &Reading, out: &mut Outbox) {
        let State::Waiting(waiting) = &mut self.state else {
            return;
        };
        let measured = &reading.measured;
        let contact = shows_contact(measured);
        match self.plan.reach {
            Reach::Touch => {
                if contact {
                    self.evidence.proof = Proof::Seen;
                    self.go_to(State::settling(), out);
                }
            }
            Reach::PullShort => {
                if contact {
                    (waiting.loop_seen, waiting.run) = (true, 0);
                } else if waiting.loop_seen && shows_open(measured) {
                    waiting.run = waiting.run.saturating_add(1);
                    if waiting.run >= OPEN_RUN {
                        self.evidence.proof = Proof::Seen;
                        self.go_to(State::settling(), out);
                    }
                }
            }
            Reach::Confirm => {
                // A steady low reading needs no word: something is connected.
                waiting.run = if contact {
                    waiting.run.saturating_add(1)
                } else {
                    0
                };
                if waiting.run > OPEN_RUN {
                    self.evidence.proof = Proof::Seen;
                    self.go_to(State::settling(), out);
                }
            }
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
                run: 0,
                ..waiting
            });
            let prompt = words::ask_again(&self.plan, waiting.loop_seen);
            self.ask(prompt, out);
        }
    }

    /// Whether a reading shows that a step at rest has lost what it was reached by.
    fn is_lost(&self, measured: &Measured) -> bool {
        match (self.plan.wants(), self.evidence.proof, self.plan.reach) {
            // The last: a short seen before the operator's word, and gone again, was not yet
            // the work.
            (Wants::Closed, ..) | (Wants::Open, Proof::Seen, Reach::Confirm) => {
                shows_open(measured)
            }
            (Wants::Open, ..) => false,
        }
    }

    pub(super) fn settle_reading(
        &mut self,
        reading: &Reading,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        if self.is_lost(&reading.measured) {
            return self.wait_again(reading.at, None, out);
        }
        let State::Settling { recent, count } = &mut self.state else {
            return;
        };
        *count = count.saturating_add(1);
        if reading.measured.magnitude == Magnitude::Blank {
            recent.clear();
        } else {
            recent.push(reading.measured);
        }
        if recent.len() > SETTLED {
            recent.remove(0);
        }
        let settled = recent.len() == SETTLED && is_settled(recent, &context.meter.facts);
        if settled || *count >= SETTLED_AT_LATEST {
            if !settled {
                self.evidence.flags.set(Flags::RESTLESS);
            }
            self.go_to(
                State::Still {
                    taken: Vec::with_capacity(AT_REST),
                },
                out,
            );
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
                let judgement = words::will_not_hold();
                return self.finish(judgement, reading.at, context, out);
            }
            return self.wait_again(reading.at, None, out);
        }
        let facts = &context.meter.facts;
        let State::Still { taken } = &mut self.state else {
            return;
        };
        if reading.measured.magnitude != Magnitude::Blank {
            taken.push(reading.measured);
        }
        let restless = self.evidence.flags.has(Flags::RESTLESS);
        if self.plan.wants() == Wants::Open && !restless && !is_settled(taken, facts) {
            self.evidence.bounces = self.evidence.bounces.saturating_add(1);
            if self.evidence.bounces > MOST_BOUNCES {
                // It will not come to rest: what it reads is judged as it is.
                self.evidence.flags.set(Flags::RESTLESS);
            }
            return self.go_to(State::settling(), out);
        }
        if taken.len() < AT_REST {
            return;
        }
        self.evidence.rest = match self.plan.limit {
            Limit::Closed { .. } => ClosedRest::of(taken, facts).map(Rest::Closed),
            Limit::Open { fail, .. } => OpenRest::of(taken, facts, fail).map(Rest::Open),
        };
        let Some(rest) = self.evidence.rest else {
            return;
        };
        let mut value = value::of(&self.plan, &rest, context.tare);
        if self.plan.wants() == Wants::Open && !self.evidence.gaps.is_empty() {
            value
                .reasons
                .insert(0, "touched while bent, and stayed so".to_owned());
            value
                .reasons
                .truncate(if value.verdict == Verdict::Fail { 2 } else { 0 });
        }
        let decided = value.verdict == Verdict::Fail || !self.plan.flexed;
        self.evidence.value = Some(value);
        if decided {
            self.judge(reading.at, context, out);
        } else {
            self.begin_go(reading.at, rest, context);
            out.say(Notice::Phase {
                step: self.plan.name,
                phase: self.phase(),
            });
        }
    }

    pub(super) fn judge(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        let judgement = self.evidence.judge(&self.plan, context);
        self.finish(judgement, now, context, out);
    }

    fn finish(
        &mut self,
        judgement: Judgement,
        now: Stamp,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        self.result = Some(StepResult {
            step: self.plan.name,
            verdict: judgement.verdict,
            ohms: self.evidence.ohms(context.tare),
            proof: self.evidence.proof,
            coverage: judgement.coverage,
            reasons: judgement.reasons,
        });
        if self.plan.lift_after && self.last.as_ref().is_some_and(shows_contact) {
            let lifting = State::Lifting {
                since: now,
                open: 0,
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
