//! The resistance between the probes as a function of time.
//!
//! Contacts make and part in steps, so the course is piecewise constant and its mean over an
//! aperture is exact: nothing is sampled, and a gap however short has its full weight.

use std::collections::VecDeque;

use crate::reading::Stamp;

/// A resistance in ohms over time; infinite where the probes are apart.
#[derive(Debug, Clone)]
pub struct Course {
    before: f64,
    changes: VecDeque<(Stamp, f64)>,
}

impl Course {
    /// A course of this many ohms from the start on.
    pub const fn new(ohms: f64) -> Self {
        Self {
            before: ohms,
            changes: VecDeque::new(),
        }
    }

    /// The resistance is this many ohms from `at` on.
    /// A change dated before the newest one is taken to happen together with it.
    pub fn change(&mut self, at: Stamp, ohms: f64) {
        let newest = self.changes.back().map_or(Stamp::START, |change| change.0);
        self.changes.push_back((at.max(newest), ohms));
    }

    /// The resistance at the end of what is known, in ohms.
    pub fn latest(&self) -> f64 {
        self.changes.back().map_or(self.before, |change| change.1)
    }

    /// The mean over a window, in ohms, with the resistance limited to `clip` at every
    /// instant; the value at its end if the window has no length.
    pub fn mean(&self, from: Stamp, to: Stamp, clip: f64) -> f64 {
        let mut area = 0.0;
        let mut start = from;
        let mut ohms = self.before;
        for &(at, next) in self.changes.iter().take_while(|change| change.0 <= to) {
            if at > start {
                area += ohms.min(clip) * at.since(start).0;
                start = at;
            }
            ohms = next;
        }
        area += ohms.min(clip) * to.since(start).0;
        let span = to.since(from).0;
        if span > 0.0 {
            area / span
        } else {
            ohms.min(clip)
        }
    }

    /// Drops what lies before a moment that no window will reach back over.
    pub fn forget(&mut self, before: Stamp) {
        while let Some(&(at, ohms)) = self.changes.front() {
            if before < at {
                break;
            }
            self.before = ohms;
            self.changes.pop_front();
        }
    }
}
