//! The moves of the step machine from one state to the next.

use crate::check::Outbox;
use crate::check::notice::{
    Disturbance, DisturbanceKind, Notice, Proof, StepBegins, StepResult, Tick, Trouble,
    Verdict, Wants,
};
use crate::check::step::flexing::Happened;
use crate::check::step::judge::{self, Flags, Judgement, MOST_RESTARTS};
use crate::check::step::rest::{is_settled, shows_contact, shows_open};
use crate::check::step::{
    ClosedRest, Context, Flexing, Found, Limit, OPEN_RUN, OpenRest, Pace, Pacing, Reach, Rest,
    State, StepMachine, Waiting,
};
use crate::reading::{Magnitude, Measured, Ohms, Reading, Seconds, Stamp};
use crate::signal::Gap;

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
    fn wait_again(&mut self, now: Stamp, prompt: Option<String>, out: &mut Outbox) {
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
                judge::never_came(&self.plan, waiting.loop_seen, self.last.as_ref());
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
            let prompt = judge::ask_again(&self.plan, waiting.loop_seen);
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
                let judgement = judge::will_not_hold();
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
        let mut value = judge::value(&self.plan, &rest, context.tare);
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

    fn begin_go(&mut self, now: Stamp, rest: Rest, context: Context<'_>) {
        self.evidence.gos = self.evidence.gos.saturating_add(1);
        let pacing = Pacing::of(context.meter, &rest, context.pace);
        let flexing = Flexing::new(now, rest, pacing, self.evidence.gos);
        self.state = State::Flexing(Box::new(flexing));
    }

    pub(super) fn flexed(
        &mut self,
        happened: Happened,
        now: Stamp,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        let State::Flexing(flexing) = &mut self.state else {
            return;
        };
        let of = flexing.pacing.flexes;
        match happened {
            Happened::Tick(flex) => {
                out.say(Notice::Tick(Tick {
                    step: self.plan.name,
                    flex,
                    of,
                }));
            }
            Happened::Gap(found) => {
                self.note_gap(found, out);
                if self.evidence.occurrences() > judge::MANY {
                    self.end_go();
                    self.judge(now, context, out);
                }
            }
            Happened::Flicker(gap) => {
                out.say(Notice::Disturbance(
                    self.disturbance(DisturbanceKind::Flicker, &gap),
                ));
            }
            Happened::Outlasted => self.outlasted(now, context, out),
            Happened::Blanked => out.say(Notice::Trouble {
                what: Trouble::RangeChange,
                text: "the display went blank while the work was bent: what it hid is not \
                       counted as watched; fix the meter's range if this goes on"
                    .to_owned(),
            }),
            Happened::Finished => {
                self.end_go();
                if self.evidence.occurrences() == 1 && self.evidence.second_go_due() {
                    self.evidence.second_go = true;
                    if let Some(rest) = self.evidence.rest {
                        // Nothing is asked anew: the probes stay on, only the bends begin again.
                        self.begin_go(now, rest, context);
                        return out.say(Notice::Phase {
                            step: self.plan.name,
                            phase: self.phase(),
                        });
                    }
                }
                self.judge(now, context, out);
            }
            Happened::GaveUp => {
                self.evidence.flags.set(Flags::UNWATCHED);
                self.end_go();
                self.judge(now, context, out);
            }
        }
    }

    /// Takes what a go of flexing leaves behind.
    fn end_go(&mut self) {
        if let State::Flexing(flexing) = &mut self.state {
            self.evidence.held = flexing.held;
            self.evidence.lowest = flexing.lowest;
            self.evidence.needed = flexing.pacing.flexes;
        }
    }

    /// A gap outlasted the bends.
    fn outlasted(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        let State::Flexing(flexing) = &mut self.state else {
            return;
        };
        let in_contact = flexing.in_contact();
        let Some(found) = flexing.stop(now) else {
            return;
        };
        self.end_go();
        match self.plan.wants() {
            Wants::Closed if in_contact => {
                // Still conducting, at another level: read it at rest anew.
                self.evidence.jumps = self.evidence.jumps.saturating_add(1);
                out.say(Notice::Disturbance(
                    self.disturbance(DisturbanceKind::Jump, &found.gap),
                ));
                self.go_on_unless_again(State::settling(), now, context, out);
            }
            Wants::Closed => {
                self.evidence.lifts = self.evidence.lifts.saturating_add(1);
                out.say(Notice::Disturbance(
                    self.disturbance(DisturbanceKind::Break, &found.gap),
                ));
                if self.evidence.restarts() > MOST_RESTARTS {
                    self.judge(now, context, out);
                } else {
                    let prompt = judge::contact_lost(&self.plan);
                    self.wait_again(now, Some(prompt), out);
                }
            }
            Wants::Open => {
                // Still touching: either it stays so, which the next reading at rest fails,
                // or it was passing.
                self.note_gap(found, out);
                self.go_on_unless_again(State::settling(), now, context, out);
            }
        }
    }

    fn go_on_unless_again(
        &mut self,
        state: State,
        now: Stamp,
        context: Context<'_>,
        out: &mut Outbox,
    ) {
        if self.evidence.occurrences() > 1 || self.evidence.restarts() > MOST_RESTARTS {
            self.judge(now, context, out);
        } else {
            self.go_to(state, out);
        }
    }

    pub(super) fn note_gap(&mut self, found: Found, out: &mut Outbox) {
        let kind = match self.plan.wants() {
            Wants::Closed => DisturbanceKind::Break,
            Wants::Open => DisturbanceKind::Touch,
        };
        out.say(Notice::Disturbance(self.disturbance(kind, &found.gap)));
        self.evidence.gaps.push(found);
    }

    fn disturbance(&self, kind: DisturbanceKind, gap: &Gap) -> Disturbance {
        let ohms = match self.plan.wants() {
            Wants::Closed => gap
                .numbers
                .filter(|_| !gap.over)
                .map(|(_, high)| Ohms(high)),
            Wants::Open => gap.numbers.map(|(low, _)| Ohms(low)),
        };
        Disturbance {
            kind,
            step: self.plan.name,
            from: gap.from,
            to: gap.to,
            at_least: gap.at_least(),
            at_most: gap.at_most(),
            ohms,
        }
    }

    fn judge(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
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
