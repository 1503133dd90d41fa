//! A volume control whose track is cracked across, seen through the jack in standard wiring.
//!
//! Below the crack only the way to ground is left, above it only the way through the pickup: two
//! straight lines where a sound control shows one parabola. In independent wiring a wiper below
//! the crack reads nothing at all.

use crate::circuit::control::{Jack, Wiring};
use crate::reading::Ohms;
use crate::signal::{Branch, Track};

/// A cracked volume control in standard wiring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrackedJack {
    /// The control's total, were it whole.
    pub total: Ohms,
    /// The pickup at DC.
    pub pickup: Ohms,
    /// Where it is cracked, in parts of the total from the low end.
    pub at: f64,
}

impl CrackedJack {
    /// From what is read on both sides of the crack and full up: R = A + B - F, F being the
    /// pickup alone, since nothing lies beside it any more. `None` if no control reads so.
    pub fn of(below: Ohms, above: Ohms, full: Ohms) -> Option<Self> {
        let total = below.0 + above.0 - full.0;
        let sound = total.is_finite() && full.0 > 0.0 && above > full && below.0 > 0.0;
        sound.then(|| Self {
            total: Ohms(total),
            pickup: full,
            at: (below.0 / total).clamp(0.0, 1.0),
        })
    }

    /// What the same control and pickup would read, were it whole.
    pub const fn whole(&self) -> Jack {
        Jack {
            wiring: Wiring::Standard,
            total: self.total,
            pickup: self.pickup,
        }
    }
}

impl Track for CrackedJack {
    fn total(&self) -> Ohms {
        self.total
    }

    fn reading_through(&self, position: f64, contact: Ohms) -> Ohms {
        let position = position.clamp(0.0, 1.0);
        let path = if position <= self.at {
            position * self.total.0
        } else {
            (1.0 - position) * self.total.0 + self.pickup.0
        };
        Ohms(path + contact.0)
    }

    fn peak(&self) -> f64 {
        self.at
    }

    fn position(&self, reading: Ohms, branch: Branch) -> f64 {
        if self.total.0 <= 0.0 {
            return 0.0;
        }
        match branch {
            Branch::Rising => (reading.0 / self.total.0).clamp(0.0, self.at),
            Branch::Falling => {
                (1.0 - (reading.0 - self.pickup.0) / self.total.0).clamp(self.at, 1.0)
            }
        }
    }

    fn contact_gain(&self, _position: f64) -> f64 {
        1.0
    }

    fn open_reading(&self) -> Option<Ohms> {
        None
    }

    fn highest(&self) -> Ohms {
        let (below, above) = (self.at, 1.0 - self.at);
        Ohms((below * self.total.0).max(above * self.total.0 + self.pickup.0))
    }
}
