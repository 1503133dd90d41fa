//! A control on the bench: the meter between the wiper and one outer lug.

use crate::reading::Ohms;
use crate::signal::{Branch, Track};

/// The outer lug the meter is on, the other probe being on the wiper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Lug {
    /// The one the wiper reaches when turned down.
    Low,
    /// The one the wiper reaches when turned up.
    High,
}

/// What the meter reads on the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BenchTrack {
    /// From outer lug to outer lug.
    pub total: Ohms,
    /// The lug the meter is on.
    pub lug: Lug,
    /// What that end reads with the wiper all the way there: end and contact resistance.
    pub end: Ohms,
}

impl BenchTrack {
    /// A track measured from the low lug, its end not yet read.
    pub const fn new(total: Ohms) -> Self {
        Self {
            total,
            lug: Lug::Low,
            end: Ohms(0.0),
        }
    }
}

impl Track for BenchTrack {
    fn total(&self) -> Ohms {
        self.total
    }

    fn reading_through(&self, position: f64, contact: Ohms) -> Ohms {
        let from_lug = match self.lug {
            Lug::Low => position,
            Lug::High => 1.0 - position,
        };
        let track = from_lug.clamp(0.0, 1.0) * (self.total.0 - self.end.0);
        Ohms(self.end.0 + track + contact.0)
    }

    fn peak(&self) -> f64 {
        match self.lug {
            Lug::Low => 1.0,
            Lug::High => 0.0,
        }
    }

    fn position(&self, reading: Ohms, _branch: Branch) -> f64 {
        let track = self.total.0 - self.end.0;
        let from_lug = if track > 0.0 {
            ((reading.0 - self.end.0) / track).clamp(0.0, 1.0)
        } else {
            0.0
        };
        match self.lug {
            Lug::Low => from_lug,
            Lug::High => 1.0 - from_lug,
        }
    }

    fn contact_gain(&self, _position: f64) -> f64 {
        1.0
    }

    fn open_reading(&self) -> Option<Ohms> {
        None
    }
}
