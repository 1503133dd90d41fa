//! The step machine: waits for contact, lets the reading settle, reads at rest, watches while
//! the work is bent, asks to lift, and judges.
//!
//! It advances by what it reads; only [`Reach::Confirm`] needs a key, elsewhere Enter answers a
//! question that waiting would answer too. Time comes in with each call and goes nowhere else:
//! between calls the machine only says when it is [`due`], and in every state but the last it
//! is due some time.
//!
//! Where it lies: it takes the operator's bends on trust (it ticks, it cannot see hands), and
//! it cannot tell a lifted probe from a parted conductor, unless it happens again and again.
//!
//! [`due`]: StepMachine::due

mod bending;
mod evidence;
mod flexing;
mod judge;
mod moves;
mod plan;
mod regain;
mod rest;
mod run;
mod value;
mod words;

pub use flexing::{Flexing, Found, Pacing};
pub use plan::{Limit, Pace, Reach, StepPlan};
pub use rest::{CONTACT, ClosedRest, OpenLevel, OpenRest, Rest};

use crate::check::Outbox;
use crate::check::meter::MeterView;
use crate::check::notice::{Notice, Phase, Proof, StepResult};
use crate::reading::{Magnitude, Measured, Ohms, Reading, Seconds, Stamp};
use evidence::{Evidence, Flags};
pub(crate) use rest::shows_contact;
use rest::shows_open;
pub(crate) use run::Run;

/// What a step is given with each call.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// The meter as it is now.
    pub meter: &'a MeterView,
    /// How thoroughly to work.
    pub pace: Pace,
    /// The resistance of the probe leads, if it was taken.
    pub tare: Option<Ohms>,
}

/// One step under way.
#[derive(Debug, Clone)]
pub struct StepMachine {
    plan: StepPlan,
    state: State,
    /// Since when readings cannot be judged.
    suspended: Option<Stamp>,
    /// The last reading that was not blank.
    last: Option<Measured>,
    /// When the work was first reached, until it is read at rest.
    reached: Option<Stamp>,
    last_enter: Option<Stamp>,
    evidence: Evidence,
    result: Option<StepResult>,
}

#[derive(Debug, Clone)]
enum State {
    Waiting(Waiting),
    Settling {
        recent: Vec<Measured>,
        since: Stamp,
    },
    Still {
        taken: Vec<Measured>,
        since: Stamp,
    },
    Flexing(Box<Flexing>),
    Lifting {
        since: Stamp,
        open: Run,
        asked_again: bool,
    },
    Done,
}

/// Waiting for contact, for the far-end plug to come out, or for the operator's word.
#[derive(Debug, Clone, Copy)]
struct Waiting {
    since: Stamp,
    asked_again: bool,
    /// Readings in a row of the kind that ends the waiting.
    run: Run,
    /// Whether the closed loop was seen (only for [`Reach::PullShort`]).
    loop_seen: bool,
}

impl StepMachine {
    /// Begins a step. `closed` tells whether the last reading before it showed contact.
    pub fn begin(plan: StepPlan, now: Stamp, closed: bool, out: &mut Outbox) -> Self {
        let mut machine = Self {
            state: State::Waiting(Waiting {
                since: now,
                asked_again: false,
                run: Run::default(),
                loop_seen: closed && plan.reach == Reach::PullShort,
            }),
            plan,
            suspended: None,
            last: None,
            reached: None,
            last_enter: None,
            evidence: Evidence::default(),
            result: None,
        };
        machine.ask(machine.plan.prompt.clone(), out);
        machine
    }

    /// The step's plan.
    pub const fn plan(&self) -> &StepPlan {
        &self.plan
    }

    /// What the step found, once it is over.
    pub const fn result(&self) -> Option<&StepResult> {
        match self.state {
            State::Done => self.result.as_ref(),
            _ => None,
        }
    }

    /// What was read at rest.
    pub const fn rest(&self) -> Option<&Rest> {
        self.evidence.rest.as_ref()
    }

    /// The go of flexing in progress.
    pub const fn flexing(&self) -> Option<&Flexing> {
        match &self.state {
            State::Flexing(flexing) => Some(flexing),
            _ => None,
        }
    }

    /// Whether the probes were left on the work when asked to lift.
    pub const fn probes_left_on(&self) -> bool {
        self.evidence.flags.has(Flags::LEFT_ON)
    }

    /// Where the step is.
    pub const fn phase(&self) -> Phase {
        match self.state {
            State::Waiting(_) => match self.plan.reach {
                Reach::Confirm => Phase::Confirm,
                Reach::Touch | Reach::PullShort => Phase::Waiting,
            },
            State::Settling { .. } => Phase::Settling,
            State::Still { .. } => Phase::Still,
            State::Flexing(_) => Phase::Flexing,
            State::Lifting { .. } | State::Done => Phase::Lifting,
        }
    }

    /// When the machine wants [`Self::time`] to be called.
    pub fn due(&self, pace: &Pace) -> Option<Stamp> {
        if self.suspended.is_some() {
            return None;
        }
        let own = match &self.state {
            State::Waiting(waiting) => waiting.since + self.patience(pace),
            State::Lifting { since, .. }
            | State::Settling { since, .. }
            | State::Still { since, .. } => *since + pace.wait,
            State::Flexing(flexing) => flexing.due(),
            State::Done => return None,
        };
        Some(self.must_rest_by(pace).map_or(own, |by| own.min(by)))
    }

    /// What the step has found so far, if it found anything against the work.
    pub fn so_far(&self, context: Context<'_>) -> Option<StepResult> {
        if self.evidence.is_clean() || matches!(self.state, State::Done) {
            return None;
        }
        let unfinished = "the step was not finished".to_owned();
        let judgement = self.evidence.cut_off(&self.plan, unfinished);
        Some(self.result_of(judgement, context))
    }

    /// Readings cannot be judged for now.
    pub fn suspend(&mut self, now: Stamp, out: &mut Outbox) {
        self.suspended.get_or_insert(now);
        if let State::Flexing(flexing) = &mut self.state
            && let Some(found) = flexing.stop(now)
        {
            self.note_gap(found, out);
        }
    }

    /// A frame came that could not be read.
    pub fn missed(&mut self) {
        if let State::Flexing(flexing) = &mut self.state {
            flexing.missed();
        }
    }

    /// Takes a reading.
    pub fn reading(&mut self, reading: &Reading, context: Context<'_>, out: &mut Outbox) {
        if self.suspended.is_some() {
            return;
        }
        let measured = reading.measured;
        let blank = measured.magnitude == Magnitude::Blank;
        if !blank {
            self.last = Some(measured);
        }
        match &mut self.state {
            State::Waiting(_) => self.wait_reading(reading, out),
            State::Settling { .. } => self.settle_reading(reading, context, out),
            State::Still { .. } => self.still_reading(reading, context, out),
            State::Flexing(flexing) => {
                for happened in flexing.reading(reading, &context.meter.facts) {
                    self.flexed(happened, reading.at, context, out);
                }
            }
            State::Lifting { open, .. } => {
                if !blank && open.feed(shows_open(&measured), reading.at) {
                    self.done(out);
                }
            }
            State::Done => {}
        }
    }

    /// The operator pressed Enter.
    pub fn confirm(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        /// A key that is held down repeats itself; nobody answers a question that fast.
        const REPEATS: Seconds = Seconds(1.0);
        let repeated = self
            .last_enter
            .is_some_and(|last| now.since(last) < REPEATS);
        self.last_enter = Some(now);
        let State::Waiting(waiting) = self.state else {
            return;
        };
        if self.suspended.is_some() || repeated {
            return;
        }
        if self.plan.reach == Reach::Confirm {
            self.evidence.proof = Proof::Operator;
            self.settle(now, out);
        } else if now.since(waiting.since) >= REPEATS {
            // The first Enter is often a reflex: it brings the question forward, the second
            // answers it.
            self.waited(waiting, now, context, out);
        }
    }

    /// Time has come to [`Self::due`].
    pub fn time(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        if self.due(&context.pace).is_none_or(|due| due > now) {
            return;
        }
        if self.must_rest_by(&context.pace).is_some_and(|by| by <= now) {
            return self.will_not_hold(now, context, out);
        }
        match &mut self.state {
            State::Waiting(waiting) => {
                let waiting = *waiting;
                self.waited(waiting, now, context, out);
            }
            State::Settling { recent, .. } if !recent.is_empty() => {
                self.evidence.flags.set(Flags::RESTLESS);
                self.read_at_rest(now, out);
            }
            State::Settling { .. } | State::Still { .. } => {
                self.will_not_hold(now, context, out);
            }
            State::Flexing(flexing) => {
                if let Some(happened) = flexing.time(now) {
                    self.flexed(happened, now, context, out);
                }
            }
            State::Lifting {
                since,
                open,
                asked_again,
            } => {
                if *asked_again {
                    self.evidence.flags.set(Flags::LEFT_ON);
                    self.done(out);
                } else {
                    (*since, *open, *asked_again) = (now, Run::default(), true);
                    out.say(Notice::Phase {
                        step: self.plan.name.clone(),
                        phase: Phase::Lifting,
                    });
                }
            }
            State::Done => {}
        }
    }
}
