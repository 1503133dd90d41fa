//! A tone control at the jack: invisible, but for the moment its capacitor charges.
//!
//! In series with its capacitor the control is open at DC. For the first fraction of a second
//! the capacitor draws current and the jack reads low.

use crate::circuit::control::parallel;
use crate::reading::{Ohms, Seconds};

/// How near to its end a charging capacitor must be to count as settled: a thousandth.
pub const SETTLED: f64 = 0.001;

/// A tone control and its capacitor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// The control's resistance as it is set.
    pub control: Ohms,
    /// The capacitor, in farads.
    pub farads: f64,
}

impl Tone {
    /// The time constant against the resistance of the node it hangs on: C (`R_t` + `R_n`).
    /// That is with a meter that sends a current; one that divides a voltage is faster.
    pub fn time_constant(&self, node: Ohms) -> Seconds {
        Seconds(self.farads * (self.control.0 + node.0))
    }

    /// How long until the reading is within [`SETTLED`] of where it goes.
    pub fn settling(&self, node: Ohms) -> Seconds {
        Seconds(self.time_constant(node).0 * -SETTLED.ln())
    }

    /// How far the first moment reads off, as a part of the settled reading; never above zero.
    pub fn initial_error(&self, node: Ohms) -> f64 {
        if node.0 > 0.0 {
            parallel(node, self.control).0 / node.0 - 1.0
        } else {
            0.0
        }
    }

    /// How long a reading at the jack is waited for after contact is made: 47 nF behind 500k and
    /// the largest node of a volume control settle in 0.2 s, and a drift that lasts longer than
    /// this is not the capacitor.
    pub const WAIT: Seconds = Seconds(0.3);

    /// Why a sweep of a tone control at the jack gets no verdict.
    pub const REFUSAL: &str = "a tone control cannot be judged at the jack: its capacitor keeps \
         direct current out of it, so the meter reads the same wherever it stands. Measure it at \
         its own lugs.";
}
