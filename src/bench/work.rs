//! The lead on the bench with hands and probes on it: acts in, resistance over time out.

use crate::reading::{Seconds, Stamp};

use super::agenda::{Act, Agenda, Bent};
use super::chance::Chance;
use super::course::Course;
use super::lead::{Answer, Handling, Lead, LeadFault, Opening, Probes};

/// A momentary opening starts within this time of the bend, in seconds; stretched to a whole
/// number of the meter's intervals, so that every phase is equally likely.
const WITHIN: f64 = 0.1;

/// The lead and how it is handled.
#[derive(Debug, Clone)]
pub(super) struct Work {
    lead: Lead,
    /// What is taken up next.
    ready: Option<Lead>,
    handling: Handling,
    contact: bool,
    /// How long a hand takes from straight to bent.
    movement: Seconds,
    /// The meter's interval.
    interval: Seconds,
    /// A momentary opening lasts at least until here.
    acts_until: Stamp,
    course: Course,
    chance: Chance,
}

impl Work {
    pub(super) fn new(lead: Lead, movement: Seconds, interval: Seconds, seed: u64) -> Self {
        Self {
            lead,
            ready: None,
            handling: Handling::default(),
            contact: true,
            movement,
            interval,
            acts_until: Stamp::START,
            course: Course::new(f64::INFINITY),
            chance: Chance::new(seed, 3),
        }
    }

    pub(super) const fn course(&self) -> &Course {
        &self.course
    }

    /// Makes the lead ready that is taken up next.
    pub(super) fn make_ready(&mut self, lead: Lead) {
        self.ready = Some(lead);
    }

    pub(super) fn forget(&mut self, before: Stamp) {
        self.course.forget(before);
    }

    /// Carries out an act; what follows from it is noted in the agenda.
    pub(super) fn perform(&mut self, at: Stamp, act: Act, agenda: &mut Agenda) {
        match act {
            Act::Probes(probes) => {
                self.handling.probes = probes;
                self.contact = probes != Probes::Apart;
            }
            Act::Contact(contact) => self.contact = contact,
            Act::Shorted(shorted) => self.handling.shorted = shorted,
            Act::Bend(bent) => self.bend(at, bent, agenda),
            Act::Straighten => self.straighten(at, agenda),
            Act::Fault(acting) => self.handling.acting = acting,
            Act::MomentOver if at < self.acts_until => {}
            Act::MomentOver => self.handling.acting = false,
            Act::TakeUp => self.take_up(agenda),
            Act::Turned(_) | Act::Measure(_) | Act::Confirm | Act::Again => {}
        }
        let ohms = if self.contact {
            self.lead.resistance(self.handling).0
        } else {
            f64::INFINITY
        };
        if ohms.to_bits() != self.course.latest().to_bits() {
            self.course.change(at, ohms);
        }
    }

    fn take_up(&mut self, agenda: &mut Agenda) {
        if let Some(lead) = self.ready.take() {
            // What the last one was about to do is no matter of this one.
            agenda.strike(|act| matches!(act, Act::Fault(_) | Act::MomentOver));
            self.lead = lead;
            self.handling = Handling::default();
            self.contact = false;
        }
    }

    fn bend(&mut self, at: Stamp, bent: Bent, agenda: &mut Agenda) {
        let fault = self.lead.fault;
        let probe_fault = fault == LeadFault::ProbeLeadOpensWhenFlexed;
        let answer = match bent {
            Bent::ProbeLeads if !probe_fault => Answer::Never,
            Bent::ProbeLeads | Bent::Lead => fault.answers_a_bend(),
        };
        let habit = self.lead.habit;
        let (opening, chatter) = match answer {
            Answer::Always => (Opening::WhileHeld, 0),
            Answer::ByChance if self.chance.happens(habit.open_chance) => {
                (habit.opening, habit.chatter)
            }
            Answer::Never | Answer::ByChance => return,
        };
        match opening {
            Opening::WhileHeld => {
                // Somewhere in the second half of the way from straight to bent.
                let start = at + Seconds(self.movement.0 * self.chance.between(0.5, 1.0));
                self.part(start, None, chatter, agenda);
            }
            Opening::Moment(length) => {
                let interval = self.interval.0;
                let within = interval * (WITHIN / interval).ceil();
                let start = at + Seconds(self.chance.between(0.0, within));
                let end = start + length;
                self.part(start, Some(end), chatter, agenda);
                self.acts_until = self.acts_until.max(end);
                agenda.note(end, Act::MomentOver);
            }
        }
    }

    /// The fault begins to act, coming back a few times first.
    fn part(&mut self, start: Stamp, end: Option<Stamp>, chatter: u32, agenda: &mut Agenda) {
        let mut at = start;
        agenda.note(at, Act::Fault(true));
        for _ in 0..chatter {
            let back = at + Seconds(self.chance.between(0.001, 0.003));
            at = back + Seconds(self.chance.between(0.001, 0.003));
            if end.is_some_and(|end| end <= at) {
                break;
            }
            agenda.note(back, Act::Fault(false));
            agenda.note(at, Act::Fault(true));
        }
    }

    fn straighten(&mut self, at: Stamp, agenda: &mut Agenda) {
        let held = match self.lead.fault.answers_a_bend() {
            Answer::Always => true,
            Answer::ByChance => self.lead.habit.opening == Opening::WhileHeld,
            Answer::Never => false,
        };
        if held {
            // A bend let go before it was complete opens nothing any more.
            agenda.strike(|act| matches!(act, Act::Fault(_)));
            let end = at + Seconds(self.movement.0 * self.chance.between(0.0, 0.5));
            agenda.note(end, Act::Fault(false));
        }
    }
}
