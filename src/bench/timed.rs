//! An operator who hears nothing and works through a lead by the clock.
//!
//! For a simulated port: the program that listens there has no way to speak to the bench.
//! The plan leaves enough time for each step and then goes on bending for a margin, so that a
//! check a little behind still sees its bends.

use crate::reading::{Seconds, Stamp};

use super::agenda::{Act, Bent};
use super::lead::{Probes, Shorted};
use crate::check::lead::LeadStep;

/// A plan by the clock.
#[derive(Debug, Clone, PartialEq)]
pub struct TimedPlan {
    /// What is measured on the lead, in order.
    pub steps: Vec<LeadStep>,
    /// Whether the probes are first held together for their own resistance.
    pub tare: bool,
    /// Whether the probe leads are first bent alone.
    pub probes: bool,
    /// Before the first touch.
    pub lead_in: Seconds,
    /// On the work before bending begins: settling and the reading at rest.
    pub rest: Seconds,
    /// From bend to bend.
    pub tick: Seconds,
    /// Bends the check needs in a step.
    pub flexes: u32,
    /// Bends beyond them.
    pub margin: u32,
    /// Probes in the air between steps.
    pub apart: Seconds,
}

impl TimedPlan {
    /// A plan for a meter of this interval and aperture and a check that needs so many bends.
    pub fn for_meter(
        steps: Vec<LeadStep>,
        interval: Seconds,
        aperture: Seconds,
        flexes: u32,
    ) -> Self {
        Self {
            steps,
            tare: false,
            probes: false,
            lead_in: Seconds(1.0),
            // Six ranges down, two readings to settle, a dozen at rest.
            rest: Seconds(20.0 * interval.0 + 1.0),
            // Two intervals and an aperture held, and the way there.
            tick: Seconds(2.0 * interval.0 + aperture.0 + 0.4),
            flexes,
            margin: flexes / 4 + 4,
            apart: Seconds(8.0 * interval.0 + 1.0),
        }
    }

    /// How long one go through the lead takes.
    pub fn length(&self) -> Seconds {
        self.acts(Stamp::START)
            .last()
            .map_or(Seconds(0.0), |act| act.0.since(Stamp::START))
    }

    /// One go through the lead from `begin`, with the call to begin again at its end.
    pub(super) fn acts(&self, begin: Stamp) -> Vec<(Stamp, Act)> {
        let mut acts = Vec::new();
        let mut at = begin + self.lead_in;
        if self.tare {
            acts.push((at, Act::Probes(Probes::Together)));
            at = self.lifted(at + self.rest, &mut acts);
        }
        if self.probes {
            acts.push((at, Act::Probes(Probes::Together)));
            at = self.bends(at, Bent::ProbeLeads, &mut acts);
            at = self.lifted(at, &mut acts);
        }
        for step in &self.steps {
            let [a, b] = step.probes;
            acts.push((at, Act::Shorted(Shorted::of(&step.shorted))));
            acts.push((at, Act::Probes(Probes::On(a, b))));
            at = self.bends(at, Bent::Lead, &mut acts);
            // What is reached by pulling a plug is reached with the probes left on.
            if step.shorted.is_empty() {
                at = self.lifted(at, &mut acts);
            }
        }
        acts.push((at, Act::Again));
        acts
    }

    /// Rests, then bends to one side and the other; returns when that is over.
    fn bends(&self, at: Stamp, bent: Bent, acts: &mut Vec<(Stamp, Act)>) -> Stamp {
        let mut moment = at + self.rest;
        for flex in 0..self.flexes.saturating_add(self.margin) {
            if flex > 0 {
                acts.push((moment, Act::Straighten));
            }
            acts.push((moment, Act::Bend(bent)));
            moment = moment + self.tick;
        }
        acts.push((moment, Act::Straighten));
        moment + self.tick
    }

    fn lifted(&self, at: Stamp, acts: &mut Vec<(Stamp, Act)>) -> Stamp {
        acts.push((at, Act::Probes(Probes::Apart)));
        at + self.apart
    }
}
