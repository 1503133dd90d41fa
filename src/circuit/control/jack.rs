//! A volume control as the output jack shows it, loaded by the pickup: closed forms and their
//! inverses. One pickup selected, passive, settled, lead resistance left out.

use crate::reading::Ohms;
use crate::signal::{Branch, Track};

/// Two resistances side by side.
pub fn parallel(one: Ohms, other: Ohms) -> Ohms {
    let sum = one.0 + other.0;
    if one.0.is_infinite() {
        other
    } else if other.0.is_infinite() {
        one
    } else if sum > 0.0 {
        Ohms(one.0 * other.0 / sum)
    } else {
        Ohms(0.0)
    }
}

/// How the volume control is wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Wiring {
    /// Pickup to the top of the track, wiper to the jack, bottom to ground.
    Standard,
    /// Pickup to the wiper, top of the track to the jack, bottom to ground.
    Independent,
}

/// A volume control and its pickup, seen from the jack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jack {
    /// How it is wired.
    pub wiring: Wiring,
    /// The control's total.
    pub total: Ohms,
    /// The pickup at DC.
    pub pickup: Ohms,
}

impl Jack {
    /// Everything in the loop: control and pickup.
    fn loop_ohms(&self) -> f64 {
        self.total.0 + self.pickup.0
    }

    /// What full up reads, in either wiring: the pickup beside the track.
    pub fn full(&self) -> Ohms {
        parallel(self.total, self.pickup)
    }

    /// The roots of the standard wiring's parabola: a = (S ∓ √(S² - 4 S r)) / (2 R).
    fn standard_position(&self, reading: f64, branch: Branch) -> f64 {
        let (s, reading) = (self.loop_ohms(), reading.max(0.0));
        let root = (s * s - 4.0 * s * reading).max(0.0).sqrt();
        let twice = 2.0 * self.total.0;
        if twice <= 0.0 {
            return 0.0;
        }
        match branch {
            // The same root, without the difference of two near numbers.
            Branch::Rising => 4.0 * s * reading / ((s + root) * twice),
            Branch::Falling => (s + root) / twice,
        }
    }

    /// The root of (1 - a) R + (aR ∥ Rp) = r: with u = aR, u² - (R - r) u - (R - r) Rp = 0.
    fn independent_position(&self, reading: f64) -> f64 {
        let missing = self.total.0 - reading;
        if missing <= 0.0 || self.total.0 <= 0.0 {
            return 0.0;
        }
        let root = (missing * missing + 4.0 * missing * self.pickup.0).sqrt();
        0.5 * (missing + root) / self.total.0
    }

    /// How far below its peak the standard wiring reads when the wiper misses it by `off`.
    pub fn shortfall(&self, off: f64) -> Ohms {
        let s = self.loop_ohms();
        if s > 0.0 {
            Ohms((self.total.0 * off).powi(2) / s)
        } else {
            Ohms(0.0)
        }
    }
}

impl Track for Jack {
    fn total(&self) -> Ohms {
        self.total
    }

    fn reading_through(&self, position: f64, contact: Ohms) -> Ohms {
        let below = Ohms(self.total.0 * position.clamp(0.0, 1.0));
        let above = self.total.0 - below.0;
        match self.wiring {
            Wiring::Standard => {
                Ohms(parallel(below, Ohms(above + self.pickup.0)).0 + contact.0)
            }
            Wiring::Independent => {
                let pickup = Ohms(self.pickup.0 + contact.0);
                Ohms(above + parallel(below, pickup).0)
            }
        }
    }

    fn peak(&self) -> f64 {
        match self.wiring {
            Wiring::Standard if self.total.0 > 0.0 => {
                (self.loop_ohms() / (2.0 * self.total.0)).min(1.0)
            }
            Wiring::Standard => 1.0,
            Wiring::Independent => 0.0,
        }
    }

    fn position(&self, reading: Ohms, branch: Branch) -> f64 {
        match (self.wiring, branch) {
            (Wiring::Standard, Branch::Rising) => self
                .standard_position(reading.0, branch)
                .clamp(0.0, self.peak()),
            (Wiring::Standard, Branch::Falling) => self
                .standard_position(reading.0, branch)
                .clamp(self.peak(), 1.0),
            (Wiring::Independent, _) => self.independent_position(reading.0).clamp(0.0, 1.0),
        }
    }

    /// In standard wiring the wiper is in series with the jack and shows fully. In independent
    /// wiring it is in series with the pickup: (aR / (aR + Rp))².
    fn contact_gain(&self, position: f64) -> f64 {
        match self.wiring {
            Wiring::Standard => 1.0,
            Wiring::Independent => {
                let below = self.total.0 * position.clamp(0.0, 1.0);
                let around = below + self.pickup.0;
                if around > 0.0 {
                    (below / around).powi(2)
                } else {
                    1.0
                }
            }
        }
    }

    fn open_reading(&self) -> Option<Ohms> {
        match self.wiring {
            Wiring::Standard => None,
            Wiring::Independent => Some(self.total),
        }
    }
}
