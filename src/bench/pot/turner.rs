//! The hand that turns a control: one that hears the program, and one that goes by the clock.

use crate::bench::agenda::Act;
use crate::bench::chance::Chance;
use crate::bench::operator::Hands;
use crate::bench::pot::Turned;
use crate::check::notice::{Notice, Phase, StepBegins, StepName};
use crate::circuit::control::Lug;
use crate::reading::{Seconds, Stamp};

type Acts = Vec<(Stamp, Act)>;

/// An operator who does what the program says of a control.
#[derive(Debug, Clone)]
pub(in crate::bench) struct Turner {
    hands: Hands,
    chance: Chance,
    step: Option<StepName>,
    /// The next mark of the turn to confirm.
    mark: usize,
    on_wiper: Option<Lug>,
}

/// The marks of the turn, in the order they are asked for.
const MARKS: [f64; 3] = [0.0, 0.5, 1.0];

/// How long a quick turn and a steady number take.
const TO_A_MARK: Seconds = Seconds(3.0);

impl Turner {
    pub(in crate::bench) fn new(hands: Hands, seed: u64) -> Self {
        Self {
            hands,
            chance: Chance::new(seed, 4),
            step: None,
            mark: 0,
            on_wiper: None,
        }
    }

    /// What the operator will do about something said at `at`.
    pub(in crate::bench) fn hear(&mut self, at: Stamp, notice: &Notice) -> Acts {
        let mut acts = Acts::new();
        match notice {
            Notice::Step(begins) if self.step.as_ref() == Some(&begins.step) => {
                if begins.prompt.contains("lower") {
                    acts.push((at + self.reaction(), Act::Turned(Turned::Slower)));
                }
                // At a mark the sentence is the next thing to do.
                if self.mark > 0 {
                    self.next_mark(at, &mut acts);
                }
            }
            Notice::Step(begins) => self.begin(at, begins, &mut acts),
            Notice::Phase {
                phase: Phase::Confirm,
                ..
            } => self.next_mark(at + Seconds(1.0), &mut acts),
            Notice::StepDone(_) => {
                self.mark = 0;
                acts.push((at, Act::Turned(Turned::Stop)));
            }
            Notice::Verdict(_) => {
                acts.push((at, Act::Turned(Turned::Stop)));
                acts.push((at + self.reaction(), Act::Turned(Turned::Apart)));
            }
            _ => {}
        }
        acts
    }

    fn begin(&mut self, at: Stamp, begins: &StepBegins, acts: &mut Acts) {
        self.step = Some(begins.step.clone());
        let name = begins.step.as_str();
        let is = |word: &str| name.starts_with(word);
        let ready = at + self.reaction();
        let down = ready + self.reaction();
        if is("total") {
            self.on_wiper = None;
            acts.push((ready, Act::Turned(Turned::Apart)));
            acts.push((ready, Act::Turned(Turned::To(0.0))));
            acts.push((down, Act::Turned(Turned::Outer)));
        } else if is("law") {
            self.on(Lug::Low, (ready, down), acts);
        } else if is("sweep") || is("other-end") {
            let lug = if is("sweep") { Lug::Low } else { Lug::High };
            self.on(lug, (ready, down), acts);
            let turned = down + Seconds(2.0);
            acts.push((down, Act::Turned(Turned::To(0.0))));
            acts.push((turned, Act::Turned(Turned::Sweep)));
        }
    }

    /// Puts the probes on the wiper and a lug, where they are not yet.
    fn on(&mut self, lug: Lug, (ready, down): (Stamp, Stamp), acts: &mut Acts) {
        if self.on_wiper != Some(lug) {
            acts.push((ready, Act::Turned(Turned::Apart)));
            acts.push((down, Act::Turned(Turned::Wiper(lug))));
            self.on_wiper = Some(lug);
        }
    }

    fn next_mark(&mut self, at: Stamp, acts: &mut Acts) {
        let Some(turn) = MARKS.get(self.mark) else {
            return;
        };
        self.mark += 1;
        let ready = at + self.reaction();
        acts.push((ready, Act::Turned(Turned::To(*turn))));
        acts.push((ready + TO_A_MARK, Act::Confirm));
    }

    fn reaction(&mut self) -> Seconds {
        let (quickest, slowest) = (self.hands.quickest.0, self.hands.slowest.0);
        let span = self.chance.between(quickest, slowest);
        self.hands.paced(Seconds(span))
    }
}

/// A control turned by the clock: for a simulated port, whose operator hears nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnPlan {
    /// Whether it is on the bench, so that the total comes first.
    pub at_lugs: bool,
    /// On the outer lugs.
    pub total: Seconds,
    /// Turning to and fro.
    pub sweeping: Seconds,
    /// Probes in the air between steps.
    pub apart: Seconds,
}

impl TurnPlan {
    /// A plan for a meter of this interval and a hand that takes so long from stop to stop.
    pub fn of(at_lugs: bool, interval: Seconds, pass: Seconds) -> Self {
        Self {
            at_lugs,
            total: Seconds(16.0 * interval.0 + 4.0),
            // Two up, two down, two more for what was passed too fast, and the rests.
            sweeping: Seconds(6.0 * (pass.0 * 1.1 + 3.0)),
            apart: Seconds(8.0 * interval.0 + 1.0),
        }
    }

    /// One go through the control from `begin`, with the call to begin again at its end.
    pub(in crate::bench) fn acts(&self, begin: Stamp) -> Acts {
        let mut acts = Acts::new();
        let mut at = begin + Seconds(1.0);
        let mut act = |at: Stamp, turned: Turned| acts.push((at, Act::Turned(turned)));
        act(begin, Turned::Apart);
        act(begin, Turned::To(0.0));
        if self.at_lugs {
            act(at, Turned::Outer);
            at = at + self.total;
            act(at, Turned::Apart);
            at = at + self.apart;
        }
        act(at, Turned::Wiper(Lug::Low));
        act(at, Turned::Sweep);
        at = at + self.sweeping;
        act(at, Turned::Stop);
        act(at, Turned::Apart);
        acts.push((at + self.apart, Act::Again));
        acts
    }
}
