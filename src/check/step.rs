//! The step machine: waits for contact, lets the reading settle, reads at rest, watches while
//! the work is bent, asks to lift, and judges.
//!
//! It advances by what it reads; only [`Reach::Confirm`] takes a key. Time comes in with each
//! call and goes nowhere else: between calls the machine only says when it is [`due`].
//!
//! Where it lies: it takes the operator's bends on trust (it ticks, it cannot see hands), and
//! it cannot tell a lifted probe from a parted conductor; such a step ends in retest.
//!
//! [`due`]: StepMachine::due

mod bending;
mod flexing;
mod judge;
mod moves;
mod plan;
mod regain;
mod rest;
mod value;
mod words;

pub use flexing::{Flexing, Found, Pacing};
pub use plan::{Limit, Pace, Reach, StepPlan};
pub use rest::{CONTACT, ClosedRest, OpenLevel, OpenRest, Rest};

use crate::check::Outbox;
use crate::check::meter::MeterView;
use crate::check::notice::{Notice, Phase, Proof, StepResult};
use crate::reading::{Magnitude, Measured, Ohms, Reading, Stamp};
use judge::{Evidence, Flags};
pub(crate) use rest::shows_contact;
use rest::shows_open;

/// What a step is given with each call.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// The meter as it is now.
    pub meter: &'a MeterView,
    /// How thoroughly to work.
    pub pace: &'a Pace,
    /// The resistance of the probe leads, if it was taken.
    pub tare: Option<Ohms>,
}

/// One step under way.
#[derive(Debug, Clone)]
pub struct StepMachine {
    plan: StepPlan,
    state: State,
    suspended: bool,
    last: Option<Measured>,
    evidence: Evidence,
    result: Option<StepResult>,
}

#[derive(Debug, Clone)]
enum State {
    Waiting(Waiting),
    Settling {
        recent: Vec<Measured>,
        count: u32,
    },
    Still {
        taken: Vec<Measured>,
    },
    Flexing(Box<Flexing>),
    Lifting {
        since: Stamp,
        open: u32,
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
    run: u32,
    /// Whether the closed loop was seen (only for [`Reach::PullShort`]).
    loop_seen: bool,
}

/// Readings in a row that show a probe lifted or a plug pulled.
const OPEN_RUN: u32 = 2;

impl StepMachine {
    /// Begins a step. `closed` tells whether the last reading before it showed contact.
    pub fn begin(plan: StepPlan, now: Stamp, closed: bool, out: &mut Outbox) -> Self {
        let mut machine = Self {
            state: State::Waiting(Waiting {
                since: now,
                asked_again: false,
                run: 0,
                loop_seen: closed && plan.reach == Reach::PullShort,
            }),
            plan,
            suspended: false,
            last: None,
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
        if self.suspended {
            return None;
        }
        match &self.state {
            State::Waiting(waiting) => Some(waiting.since + self.patience(pace)),
            State::Lifting { since, .. } => Some(*since + pace.wait),
            State::Flexing(flexing) => Some(flexing.due()),
            State::Settling { .. } | State::Still { .. } | State::Done => None,
        }
    }

    /// Readings cannot be judged for now.
    pub fn suspend(&mut self, now: Stamp, out: &mut Outbox) {
        self.suspended = true;
        if let State::Flexing(flexing) = &mut self.state
            && let Some(found) = flexing.stop(now)
        {
            self.note_gap(found, out);
        }
    }

    /// Readings can be judged again.
    pub fn resume(&mut self, now: Stamp) {
        self.suspended = false;
        match &mut self.state {
            State::Waiting(waiting) => {
                *waiting = Waiting {
                    since: now,
                    run: 0,
                    ..*waiting
                }
            }
            State::Settling { recent, .. } => recent.clear(),
            State::Still { .. } => self.state = State::settling(),
            State::Flexing(flexing) => flexing.resume(now),
            State::Lifting { since, open, .. } => (*since, *open) = (now, 0),
            State::Done => {}
        }
    }

    /// Takes a reading.
    pub fn reading(&mut self, reading: &Reading, context: Context<'_>, out: &mut Outbox) {
        if self.suspended {
            return;
        }
        let measured = reading.measured;
        self.last = Some(measured);
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
                if measured.magnitude == Magnitude::Blank {
                    return;
                }
                *open = if shows_open(&measured) {
                    open.saturating_add(1)
                } else {
                    0
                };
                if *open >= OPEN_RUN {
                    self.done(out);
                }
            }
            State::Done => {}
        }
    }

    /// The operator pressed Enter.
    pub fn confirm(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        let State::Waiting(waiting) = self.state else {
            return;
        };
        if self.suspended {
            return;
        }
        if self.plan.reach == Reach::Confirm {
            self.evidence.proof = Proof::Operator;
            self.go_to(State::settling(), out);
        } else {
            // The first Enter is often a reflex: it brings the question forward, the second
            // answers it.
            self.waited(waiting, now, context, out);
        }
    }

    /// Time has come to [`Self::due`].
    pub fn time(&mut self, now: Stamp, context: Context<'_>, out: &mut Outbox) {
        if self.due(context.pace).is_none_or(|due| due > now) {
            return;
        }
        match &mut self.state {
            State::Waiting(waiting) => {
                let waiting = *waiting;
                self.waited(waiting, now, context, out);
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
                    (*since, *open, *asked_again) = (now, 0, true);
                    out.say(Notice::Phase {
                        step: self.plan.name,
                        phase: Phase::Lifting,
                    });
                }
            }
            State::Settling { .. } | State::Still { .. } | State::Done => {}
        }
    }
}

impl State {
    const fn settling() -> Self {
        Self::Settling {
            recent: Vec::new(),
            count: 0,
        }
    }
}
