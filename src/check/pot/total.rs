//! A resistance at rest: from outer lug to outer lug, or the wiper at a mark.

use crate::reading::{Magnitude, Ohms, Reading, Seconds, Stamp};

/// Readings that must agree.
const READINGS: usize = 4;

/// For at least so long.
const STILL: Seconds = Seconds(1.0);

/// How far they may be apart: a part of the reading, and counts.
const SPREAD: (f64, f64) = (0.002, 3.0);

/// Waits for a reading to come to rest.
#[derive(Debug, Clone, Default)]
pub(super) struct AtRest {
    taken: Vec<(Stamp, f64)>,
    /// Whether the probes must first leave what they are on.
    must_lift: bool,
    /// Over-range since here.
    over: Option<Stamp>,
    /// The full scale of a range below the control, where over-range is on such a one.
    pub(super) low_scale: Option<Ohms>,
}

impl AtRest {
    /// One that counts readings only after the probes have been lifted.
    pub(super) fn after_lifting() -> Self {
        Self {
            must_lift: true,
            ..Self::default()
        }
    }

    /// Takes a reading; gives the level once it is at rest.
    pub(super) fn feed(&mut self, reading: &Reading, tare: Ohms) -> Option<Ohms> {
        match reading.measured.magnitude {
            Magnitude::Over { .. } => {
                self.must_lift = false;
                self.over.get_or_insert(reading.at);
                self.taken.clear();
                return None;
            }
            Magnitude::Blank => return None,
            Magnitude::Number(_) => {}
        }
        let ohms = reading.measured.ohms()?.0 - tare.0;
        (self.over, self.low_scale) = (None, None);
        if self.must_lift {
            return None;
        }
        let digit = reading.measured.resolution_value().unwrap_or(0.0);
        let near =
            |other: f64| (other - ohms).abs() <= (SPREAD.0 * ohms.abs()).max(SPREAD.1 * digit);
        if !self.taken.iter().all(|(_, other)| near(*other)) {
            self.taken.clear();
        }
        self.taken.push((reading.at, ohms));
        let since = self.taken.first()?.0;
        (self.taken.len() >= READINGS && reading.at.since(since) >= STILL)
            .then(|| self.level())?
    }

    /// The median of what was taken.
    fn level(&self) -> Option<Ohms> {
        let values: Vec<f64> = self.taken.iter().map(|(_, ohms)| *ohms).collect();
        crate::signal::median(&values).map(Ohms)
    }

    /// The last reading, at rest or not.
    pub(super) fn latest(&self) -> Option<Ohms> {
        self.taken.last().map(|(_, ohms)| Ohms(*ohms))
    }

    /// Whether there is a reading at all.
    pub(super) const fn in_contact(&self) -> bool {
        !self.taken.is_empty()
    }

    /// How long it has been over-range.
    pub(super) fn over_for(&self, now: Stamp) -> Option<Seconds> {
        self.over.map(|since| now.since(since))
    }

    /// Begins anew.
    pub(super) fn restart(&mut self) {
        self.taken.clear();
        self.over = None;
    }
}
