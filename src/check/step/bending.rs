//! The moves of the step machine while the work is bent.

use crate::check::Outbox;
use crate::check::notice::{Disturbance, DisturbanceKind, Notice, Tick, Trouble};
use crate::check::step::evidence::Flags;
use crate::check::step::flexing::Happened;
use crate::check::step::judge::{self, MOST_RESTARTS};
use crate::check::step::{
    Context, Flexing, Found, Limit, Pacing, Rest, State, StepMachine, words,
};
use crate::reading::{Ohms, Stamp};
use crate::signal::Gap;

impl StepMachine {
    pub(super) fn begin_go(&mut self, now: Stamp, rest: Rest, context: Context<'_>) {
        self.evidence.gos = self.evidence.gos.saturating_add(1);
        let pacing = Pacing::of(context.meter, &rest, &context.pace);
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
                    step: self.plan.name.clone(),
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
                            step: self.plan.name.clone(),
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
    pub(super) fn end_go(&mut self) {
        if let State::Flexing(flexing) = &mut self.state {
            self.evidence.held = flexing.held;
            self.evidence.lowest = flexing.lowest;
            self.evidence.needed = flexing.pacing.flexes;
            self.evidence.hold = flexing.pacing.hold;
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
        match self.plan.limit {
            Limit::Closed { .. } if in_contact => {
                // Still conducting, at another level: read it at rest anew.
                self.evidence.jumps.push(found);
                out.say(Notice::Disturbance(
                    self.disturbance(DisturbanceKind::Jump, &found.gap),
                ));
                self.settle_unless_again(now, context, out);
            }
            Limit::Closed { .. } => {
                self.evidence.lifts.push(found);
                out.say(Notice::Disturbance(
                    self.disturbance(DisturbanceKind::Break, &found.gap),
                ));
                if self.evidence.restarts() > MOST_RESTARTS {
                    self.judge(now, context, out);
                } else {
                    let prompt = words::contact_lost(&self.plan);
                    self.wait_again(now, Some(prompt), out);
                }
            }
            Limit::Open { .. } => {
                // Still touching: either it stays so, which the next reading at rest fails,
                // or it was passing.
                self.note_gap(found, out);
                self.settle_unless_again(now, context, out);
            }
        }
    }

    /// Reads at rest anew, unless it has happened too often already.
    fn settle_unless_again(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        if self.evidence.occurrences() > 1 || self.evidence.restarts() > MOST_RESTARTS {
            self.judge(now, context, out);
        } else {
            self.settle(now, out);
        }
    }

    pub(super) fn note_gap(&mut self, found: Found, out: &mut Outbox) {
        let kind = match self.plan.limit {
            Limit::Closed { .. } => DisturbanceKind::Break,
            Limit::Open { .. } => DisturbanceKind::Touch,
        };
        out.say(Notice::Disturbance(self.disturbance(kind, &found.gap)));
        self.evidence.gaps.push(found);
    }

    pub(super) fn disturbance(&self, kind: DisturbanceKind, gap: &Gap) -> Disturbance {
        let ohms = match self.plan.limit {
            Limit::Closed { .. } => gap
                .numbers
                .filter(|_| !gap.over)
                .map(|(_, high)| Ohms(high)),
            Limit::Open { .. } => gap.numbers.map(|(low, _)| Ohms(low)),
        };
        Disturbance {
            kind,
            step: self.plan.name.clone(),
            from: gap.from,
            to: gap.to,
            at_least: gap.at_least(),
            at_most: gap.at_most(),
            ohms,
        }
    }
}
