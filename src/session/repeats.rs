//! Readings that a meter sends twice: the second is the first one again, not a second look.

use crate::protocol::Item;
use crate::reading::{Measured, Seconds, Stamp};

/// Tells a reading sent again from a new one that says the same.
#[derive(Debug, Clone)]
pub(super) struct Repeats {
    /// Within which time an equal reading is the same one; none if the format sends it once.
    within: Option<Seconds>,
    /// The last reading that was a new one, unless something else came after it.
    last: Option<(Stamp, Measured)>,
}

impl Repeats {
    pub(super) const fn new(within: Option<Seconds>) -> Self {
        Self { within, last: None }
    }

    /// The stream begins anew.
    pub(super) const fn restart(&mut self) {
        self.last = None;
    }

    /// Whether this is the last reading sent again. The time counts from the reading that was
    /// kept, so that a steady value is kept time and again, and what was kept is kept in a
    /// replay too.
    pub(super) fn is_repeat(&mut self, item: &Item, now: Stamp) -> bool {
        let Some(within) = self.within else {
            return false;
        };
        let Item::Reading(measured) = item else {
            self.last = None;
            return false;
        };
        if let Some((at, last)) = self.last
            && last == *measured
            && now.since(at) <= within
        {
            return true;
        }
        self.last = Some((now, *measured));
        false
    }
}
