//! A control with a hand on it: acts in, resistance over time out.

use crate::bench::agenda::{Act, Agenda};
use crate::bench::chance::Chance;
use crate::bench::course::Course;
use crate::bench::pot::{Pot, PotFault, Seat};
use crate::circuit::control::Lug;
use crate::reading::{Seconds, Stamp};

/// What is done to a control.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::bench) enum Turned {
    /// The probes are put on the outer lugs.
    Outer,
    /// One probe is put on the wiper, one on this lug; at the jack, both on the lead.
    Wiper(Lug),
    /// The probes are lifted.
    Apart,
    /// The hand begins to turn to and fro between the stops.
    Sweep,
    /// The hand turns to this part of the turn, quickly, and stays.
    To(f64),
    /// The hand turns slower from now on.
    Slower,
    /// The hand lets go.
    Stop,
    /// The next small piece of the turn; the number tells an old one.
    Step(u32),
}

/// Where the probes are.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Probed {
    Apart,
    Outer,
    Wiper(Lug),
}

/// What the hand is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Motion {
    Still,
    To(f64),
    /// To and fro: which way now, and until when it rests at the stop.
    Sweep {
        up: bool,
        rests_until: Stamp,
    },
}

/// The control and how it is handled.
#[derive(Debug, Clone)]
pub(in crate::bench) struct PotWork {
    pot: Pot,
    probed: Probed,
    turn: f64,
    motion: Motion,
    /// How fast, as a part of the usual speed.
    speed: f64,
    /// A hand that has just slowed down takes no more heed until here.
    heeds_again: Stamp,
    pauses_until: Stamp,
    /// Whether the contact is lost at the fault on this pass.
    lost: bool,
    grain: Seconds,
    last_step: Stamp,
    steps: u32,
    course: Course,
    chance: Chance,
}

/// A quick turn from stop to stop takes this long.
const QUICK: f64 = 1.5;

impl PotWork {
    pub(in crate::bench) fn new(pot: Pot, interval: Seconds, seed: u64) -> Self {
        Self {
            pot,
            probed: Probed::Apart,
            turn: 0.4,
            motion: Motion::Still,
            speed: 1.0,
            heeds_again: Stamp::START,
            pauses_until: Stamp::START,
            lost: pot.fault == PotFault::IntermittentTurn,
            // Several pieces in one reading, and no more than show.
            grain: Seconds((interval.0 / 5.0).clamp(0.002, 0.02)),
            last_step: Stamp::START,
            steps: 0,
            course: Course::new(f64::INFINITY),
            chance: Chance::new(seed, 5),
        }
    }

    pub(in crate::bench) const fn course(&self) -> &Course {
        &self.course
    }

    pub(in crate::bench) fn forget(&mut self, before: Stamp) {
        self.course.forget(before);
    }

    /// Carries out an act; what follows from it is noted in the agenda.
    pub(in crate::bench) fn perform(&mut self, at: Stamp, act: Act, agenda: &mut Agenda) {
        let Act::Turned(turned) = act else { return };
        match turned {
            Turned::Outer => self.probed = Probed::Outer,
            Turned::Wiper(lug) => self.probed = Probed::Wiper(lug),
            Turned::Apart => self.probed = Probed::Apart,
            Turned::Slower if !self.pot.turning.heeds => {}
            Turned::Slower if at < self.heeds_again => {}
            Turned::Slower => {
                self.speed = (self.speed * 0.75).max(0.2);
                self.heeds_again = at + Seconds(3.0);
            }
            Turned::Stop => self.motion = Motion::Still,
            Turned::To(turn) => self.set_off(Motion::To(turn), at, agenda),
            Turned::Sweep => {
                let rests_until = at + Seconds(self.chance.between(1.3, 2.0));
                let up = true;
                self.set_off(Motion::Sweep { up, rests_until }, at, agenda);
            }
            Turned::Step(number) if number == self.steps => self.step(at, agenda),
            Turned::Step(_) => {}
        }
        self.show(at);
    }

    fn set_off(&mut self, motion: Motion, at: Stamp, agenda: &mut Agenda) {
        self.motion = motion;
        self.last_step = at;
        self.steps = self.steps.wrapping_add(1);
        agenda.note(at + self.grain, Act::Turned(Turned::Step(self.steps)));
    }

    fn step(&mut self, at: Stamp, agenda: &mut Agenda) {
        let span = at.since(self.last_step).0;
        self.last_step = at;
        match self.motion {
            Motion::Still => return,
            Motion::To(goal) => {
                let most = span / QUICK;
                self.turn += (goal - self.turn).clamp(-most, most);
            }
            Motion::Sweep { up, rests_until } => self.sweep(at, span, (up, rests_until)),
        }
        agenda.note(at + self.grain, Act::Turned(Turned::Step(self.steps)));
    }

    fn sweep(&mut self, at: Stamp, span: f64, (up, rests_until): (bool, Stamp)) {
        if at < rests_until || at < self.pauses_until {
            return;
        }
        let turning = self.pot.turning;
        if self.chance.happens(turning.pauses * span) {
            self.pauses_until = at + Seconds(self.chance.between(0.2, 0.8));
            return;
        }
        let waver = 1.0 + turning.jitter * self.chance.between(-1.0, 1.0);
        let step = waver * self.speed * span / turning.pass.0.max(0.1);
        self.turn = (self.turn + if up { step } else { -step }).clamp(0.0, 1.0);
        let stopped = if up {
            self.turn >= 1.0
        } else {
            self.turn <= 0.0
        };
        if stopped {
            self.motion = Motion::Sweep {
                up: !up,
                rests_until: at + Seconds(self.chance.between(1.3, 2.0)),
            };
            // Turned upwards the contact may be lost; downwards it is not.
            self.lost = !up;
        }
    }

    /// Brings the resistance up to date.
    fn show(&mut self, at: Stamp) {
        let ohms = match self.probed {
            Probed::Outer if self.pot.seat == Seat::Lugs => self.pot.end_to_end(),
            Probed::Apart | Probed::Outer => f64::INFINITY,
            Probed::Wiper(lug) => {
                let chance = self.chance.fraction();
                let contact = self.pot.contact(self.turn, chance, self.lost);
                if contact.0.is_infinite() && self.pot.seat == Seat::Lugs {
                    f64::INFINITY
                } else {
                    self.pot.level(lug, self.turn, contact)
                }
            }
        };
        if ohms.to_bits() != self.course.latest().to_bits() {
            self.course.change(at, ohms);
        }
    }
}
