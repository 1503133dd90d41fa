//! Readings of one kind in a row: what is no scratch of a probe.

use crate::reading::{Seconds, Stamp};

/// Readings of one kind in a row.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Run {
    count: u32,
    since: Stamp,
}

impl Run {
    /// So many readings over so long a time are no scratch of a probe.
    const READINGS: u32 = 2;
    const TIME: Seconds = Seconds(0.3);

    /// Takes a reading that is of the kind or is not; whether the run is long enough now.
    pub(crate) fn feed(&mut self, of_the_kind: bool, at: Stamp) -> bool {
        if !of_the_kind {
            self.count = 0;
            return false;
        }
        if self.count == 0 {
            self.since = at;
        }
        self.count = self.count.saturating_add(1);
        self.count >= Self::READINGS && at.since(self.since) >= Self::TIME
    }
}
