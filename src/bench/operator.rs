//! The operator: two hands, an ear for the program, and human delays.

use crate::check::notice::{Notice, Phase, StepBegins, StepName};
use crate::reading::{Seconds, Stamp};

use super::agenda::{Act, Bent};
use super::chance::Chance;
use super::lead::{Probes, Shorted};
use crate::check::lead::{LeadStep, Method, find_step};
use crate::circuit::lead::LeadKind;
use std::sync::Arc;

/// How the operator's hands work. All times are multiplied by `pace`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hands {
    /// 1 for a human; smaller is faster.
    pub pace: f64,
    /// Shortest time from a word to the deed.
    pub quickest: Seconds,
    /// Longest time from a word to the deed.
    pub slowest: Seconds,
    /// Longest time from a tick to the bend: one falls in with a beat.
    pub beat: Seconds,
    /// From straight to bent, and from bent to the other side.
    pub movement: Seconds,
    /// For how long a contact bounces when it is made; not multiplied by `pace`.
    pub bounce: Seconds,
    /// Added before the first touch.
    pub slow_start: Seconds,
    /// At this tick, counted from 1 over the whole check, a probe slips off for half a
    /// second.
    pub slips_at: Option<u32>,
}

impl Default for Hands {
    fn default() -> Self {
        Self {
            pace: 1.0,
            quickest: Seconds(0.4),
            slowest: Seconds(0.9),
            beat: Seconds(0.15),
            movement: Seconds(0.15),
            bounce: Seconds(0.006),
            slow_start: Seconds(0.0),
            slips_at: None,
        }
    }
}

impl Hands {
    /// A time at the operator's pace.
    pub(super) fn paced(&self, span: Seconds) -> Seconds {
        Seconds(span.0 * self.pace)
    }
}

/// How long a shorting plug put back stays in before it is pulled again.
const PLUG_AGAIN: Seconds = Seconds(2.0);

/// From laying one lead aside to having the next in hand.
const EXCHANGE: Seconds = Seconds(2.0);

/// How long a slipped probe is off the work.
const SLIP: Seconds = Seconds(0.5);

/// An operator who does what the program says.
#[derive(Debug, Clone)]
pub(super) struct Follower {
    kind: Arc<LeadKind>,
    method: Method,
    hands: Hands,
    chance: Chance,
    /// Where the probes are, or are on their way to.
    probes: Probes,
    /// The ends that wear a shorting plug, or soon will.
    shorted: Shorted,
    /// The step last heard of.
    step: Option<StepName>,
    /// The ends whose shorting plug is pulled to reach it.
    pulled: Shorted,
    bent: bool,
    bends: Bent,
    ticks: u32,
    touched_before: bool,
    /// The hands are busy until here.
    busy_until: Stamp,
}

pub(super) type Acts = Vec<(Stamp, Act)>;

impl Follower {
    pub(super) fn new(kind: Arc<LeadKind>, method: Method, hands: Hands, seed: u64) -> Self {
        Self {
            kind,
            method,
            hands,
            chance: Chance::new(seed, 4),
            probes: Probes::Apart,
            shorted: Shorted::NONE,
            step: None,
            pulled: Shorted::NONE,
            bent: false,
            bends: Bent::Lead,
            ticks: 0,
            touched_before: false,
            busy_until: Stamp::START,
        }
    }

    /// What the operator will do about something said at `at`.
    pub(super) fn hear(&mut self, at: Stamp, notice: &Notice) -> Acts {
        let mut acts = Acts::new();
        match notice {
            Notice::Step(begins) => self.begin(at, begins, &mut acts),
            Notice::Phase { phase, .. } => self.follow(at, *phase, &mut acts),
            Notice::Tick(_) => self.bend(at, &mut acts),
            Notice::StepDone(_) => {
                self.straighten(at, &mut acts);
            }
            Notice::Verdict(_) => self.lift(at, &mut acts),
            Notice::Opened(_)
            | Notice::Reading(_)
            | Notice::Disturbance(_)
            | Notice::Trouble { .. } => {}
        }
        acts
    }

    /// Lays the lead aside, with probes and plugs off it, and takes up another of its kind.
    pub(super) fn take_up(&mut self, at: Stamp) -> Acts {
        let mut acts = Acts::new();
        let free = self.straighten(at, &mut acts);
        acts.push((free, Act::Probes(Probes::Apart)));
        let ready = free + self.hands.paced(EXCHANGE);
        acts.push((ready, Act::TakeUp));
        self.probes = Probes::Apart;
        (self.shorted, self.pulled) = (Shorted::NONE, Shorted::NONE);
        self.step = None;
        self.busy_until = ready;
        acts
    }

    fn begin(&mut self, at: Stamp, begins: &StepBegins, acts: &mut Acts) {
        let of_probes = matches!(begins.step.as_str(), "tare" | "probes");
        let step = if of_probes {
            None
        } else {
            // A step of another trade: hands off.
            let Some(step) = find_step(&self.kind, self.method, &begins.step) else {
                return;
            };
            Some(step)
        };
        let wanted = step.as_ref().map_or(Probes::Together, |step| {
            let [a, b] = step.probes;
            Probes::On(a, b)
        });
        self.bends = if begins.step == "probes" {
            Bent::ProbeLeads
        } else {
            Bent::Lead
        };
        let mut ready = self.straighten(at, acts);
        if self.probes != wanted && self.probes != Probes::Apart {
            acts.push((ready, Act::Probes(Probes::Apart)));
            ready = ready + self.reaction();
        }
        let plugs = |of: fn(&LeadStep) -> &Vec<usize>| {
            step.as_ref()
                .map_or(Shorted::NONE, |step| Shorted::of(of(step)))
        };
        let pulled = plugs(|step| &step.pulled);
        let plugged = pulled != Shorted::NONE;
        // An operator reads: asked for the loop once more, the plug goes back in first.
        let once_more = plugged && begins.prompt.contains("plug back");
        let shorted = if once_more {
            pulled
        } else {
            plugs(|step| &step.shorted)
        };
        if shorted != self.shorted || plugged {
            acts.push((ready, Act::Shorted(shorted)));
            self.shorted = shorted;
        }
        self.pulled = pulled;
        if self.probes != wanted {
            if !self.touched_before {
                ready = ready + self.hands.paced(self.hands.slow_start);
                self.touched_before = true;
            }
            ready = self.touch(ready, wanted, acts);
        } else if self.step.as_ref() == Some(&begins.step) && !plugged {
            ready = self.touch_again(ready, acts);
        }
        if once_more {
            ready = ready + Seconds(PLUG_AGAIN.0) + self.reaction();
            acts.push((ready, Act::Shorted(Shorted::NONE)));
            self.shorted = Shorted::NONE;
        }
        self.step = Some(begins.step.clone());
        self.busy_until = ready;
    }

    fn follow(&mut self, at: Stamp, phase: Phase, acts: &mut Acts) {
        match phase {
            Phase::Settling | Phase::Still => {
                self.straighten(at, acts);
            }
            // Asked again with the hands at rest: lift, and put the probes down afresh.
            // Where a plug is waited for, the probes stay on.
            Phase::Waiting
                if self.busy_until < at
                    && self.probes != Probes::Apart
                    && self.pulled == Shorted::NONE =>
            {
                let ready = self.straighten(at, acts);
                self.busy_until = self.touch_again(ready, acts);
            }
            Phase::Waiting | Phase::Flexing | Phase::Sweeping => {}
            Phase::Lifting => self.lift(at, acts),
            Phase::Confirm => {
                let ready = self.straighten(at.max(self.busy_until), acts);
                acts.push((ready, Act::Confirm));
                self.busy_until = ready;
            }
        }
    }

    fn lift(&mut self, at: Stamp, acts: &mut Acts) {
        let straight = self.straighten(at, acts);
        let lifted = straight + self.hands.paced(self.hands.movement);
        acts.push((lifted, Act::Probes(Probes::Apart)));
        self.probes = Probes::Apart;
        self.busy_until = lifted;
    }

    /// Lifts the probes and puts them down where they were; returns when the contact is
    /// steady.
    fn touch_again(&mut self, at: Stamp, acts: &mut Acts) -> Stamp {
        acts.push((at, Act::Probes(Probes::Apart)));
        let down = at + self.reaction();
        self.touch(down, self.probes, acts)
    }

    /// Puts the probes down; returns when the contact is steady.
    fn touch(&mut self, at: Stamp, probes: Probes, acts: &mut Acts) -> Stamp {
        self.probes = probes;
        acts.push((at, Act::Probes(probes)));
        self.settle(at, acts)
    }

    /// The bounces of a contact that has just been made.
    fn settle(&mut self, at: Stamp, acts: &mut Acts) -> Stamp {
        let part = self.hands.bounce.0 / 4.0;
        let mut moment = at;
        for contact in [false, true, false, true] {
            moment = moment + Seconds(self.chance.between(0.2 * part, part));
            acts.push((moment, Act::Contact(contact)));
        }
        moment
    }

    fn bend(&mut self, at: Stamp, acts: &mut Acts) {
        let beat = self.hands.paced(self.hands.beat).0;
        let start = at + Seconds(self.chance.between(beat / 3.0, beat));
        if self.bent {
            acts.push((start, Act::Straighten));
        }
        acts.push((start, Act::Bend(self.bends)));
        self.bent = true;
        self.ticks = self.ticks.saturating_add(1);
        if self.hands.slips_at == Some(self.ticks) {
            acts.push((start, Act::Contact(false)));
            let back = start + SLIP;
            acts.push((back, Act::Contact(true)));
            self.busy_until = self.settle(back, acts);
        }
    }

    /// Lets a bend go, if there is one; returns when the hands are free after `at`.
    fn straighten(&mut self, at: Stamp, acts: &mut Acts) -> Stamp {
        let ready = at.max(self.busy_until) + self.reaction();
        if self.bent {
            acts.push((ready, Act::Straighten));
            self.bent = false;
        }
        ready
    }

    fn reaction(&mut self) -> Seconds {
        let (quickest, slowest) = (self.hands.quickest.0, self.hands.slowest.0);
        let span = self.chance.between(quickest, slowest);
        self.hands.paced(Seconds(span))
    }
}
