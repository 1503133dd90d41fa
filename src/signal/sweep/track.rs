//! How a reading depends on where the wiper stands: what the sweep asks of a circuit.

use crate::reading::Ohms;

/// On which side of its highest reading the wiper stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Branch {
    /// The reading rises as the wiper leaves the low end.
    Rising,
    /// The reading falls as the wiper nears the high end.
    Falling,
}

/// A measuring circuit with a control in it. Positions are parts of the total, from the low
/// end.
pub trait Track {
    /// The control's total resistance.
    fn total(&self) -> Ohms;

    /// The reading with the wiper at this position and a resistance in its contact.
    fn reading_through(&self, position: f64, contact: Ohms) -> Ohms;

    /// The reading with a clean wiper at this position.
    fn reading(&self, position: f64) -> Ohms {
        self.reading_through(position, Ohms(0.0))
    }

    /// The position at which the reading is highest: 1 where it rises all the way, 0 where it
    /// falls all the way.
    fn peak(&self) -> f64;

    /// The position of a reading on one branch, held within that branch.
    fn position(&self, reading: Ohms, branch: Branch) -> f64;

    /// How much a small contact resistance at the wiper adds to the reading, as a part of it.
    fn contact_gain(&self, position: f64) -> f64;

    /// What an open wiper reads; `None` where it is over-range.
    fn open_reading(&self) -> Option<Ohms>;

    /// The highest reading of a sound control.
    fn highest(&self) -> Ohms {
        self.reading(self.peak())
    }
}
