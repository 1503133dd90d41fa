//! Whether the probes were lifted off the last lead: before that, nothing read is of the next.

use crate::check::step::shows_contact;
use crate::reading::{Magnitude, Reading, Seconds, Stamp};

/// Watches for the probes being lifted.
#[derive(Debug, Clone, Copy, Default)]
pub struct Lifted {
    since: Option<Stamp>,
    count: u32,
}

impl Lifted {
    /// So many readings over so long a time are no scratch of a probe.
    const READINGS: u32 = 2;
    const TIME: Seconds = Seconds(0.3);

    /// Takes a reading; whether the probes have been seen off the work.
    pub fn reading(&mut self, reading: &Reading) -> bool {
        if reading.measured.magnitude == Magnitude::Blank {
            return false;
        }
        if shows_contact(&reading.measured) || reading.measured.quantity.unit() != "ohm" {
            *self = Self::default();
            return false;
        }
        let since = *self.since.get_or_insert(reading.at);
        self.count = self.count.saturating_add(1);
        self.count >= Self::READINGS && reading.at.since(since) >= Self::TIME
    }
}
