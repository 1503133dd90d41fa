//! Whether the probes were lifted off the last lead: before that, nothing read is of the next.

use crate::check::step::{Run, shows_contact};
use crate::reading::{Magnitude, Reading};

/// Watches for the probes being lifted.
#[derive(Debug, Clone, Copy, Default)]
pub struct Lifted(Run);

impl Lifted {
    /// Takes a reading; whether the probes have been seen off the work.
    pub fn reading(&mut self, reading: &Reading) -> bool {
        let measured = &reading.measured;
        if measured.magnitude == Magnitude::Blank {
            return false;
        }
        let off = measured.quantity.is_resistance() && !shows_contact(measured);
        self.0.feed(off, reading.at)
    }
}
