//! What the hands and the fault are about to do, in time order.

use std::collections::BTreeMap;

use crate::reading::Stamp;

use super::lead::{Probes, Shorted};
use super::pot::Turned;

/// One thing that happens at the bench, besides the meter's conversions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Act {
    /// The probes are put somewhere.
    Probes(Probes),
    /// The probes make or lose contact where they are: bounce, a slip.
    Contact(bool),
    /// These ends wear a shorting plug from now on, and no others.
    Shorted(Shorted),
    /// A bend begins.
    Bend(Bent),
    /// The bend is let go.
    Straighten,
    /// The fault begins or ceases to act.
    Fault(bool),
    /// A momentary opening is over, unless a later one has begun meanwhile.
    MomentOver,
    /// The lead is laid aside, and the one made ready is taken up.
    TakeUp,
    /// Something is done to a control.
    Turned(Turned),
    /// The probes are put to a measurement of an instrument, all set for it; or taken off.
    Measure(Option<usize>),
    /// Enter is pressed.
    Confirm,
    /// A timed plan begins again.
    Again,
}

/// What is bent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bent {
    /// The lead.
    Lead,
    /// Only the meter's probe leads.
    ProbeLeads,
}

/// The acts still to come. Acts of one moment happen in the order they were noted.
#[derive(Debug, Clone, Default)]
pub(super) struct Agenda {
    acts: BTreeMap<(Stamp, u64), Act>,
    noted: u64,
}

impl Agenda {
    pub(super) fn note(&mut self, at: Stamp, act: Act) {
        self.noted += 1;
        self.acts.insert((at, self.noted), act);
    }

    pub(super) fn note_all(&mut self, acts: impl IntoIterator<Item = (Stamp, Act)>) {
        for (at, act) in acts {
            self.note(at, act);
        }
    }

    /// When Enter is next pressed.
    pub(super) fn next_confirm(&self) -> Option<Stamp> {
        self.acts
            .iter()
            .find(|(_, act)| **act == Act::Confirm)
            .map(|(key, _)| key.0)
    }

    /// Takes the next act if it is due by `now`.
    pub(super) fn take(&mut self, now: Stamp) -> Option<(Stamp, Act)> {
        let first = self.acts.first_entry()?;
        let at = first.key().0;
        (at <= now).then(|| (at, first.remove()))
    }

    /// Strikes out acts.
    pub(super) fn strike(&mut self, which: impl Fn(Act) -> bool) {
        self.acts.retain(|_, act| !which(*act));
    }
}
