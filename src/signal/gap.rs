//! Breaks and touches: intervals in which readings are where they should not be, found with
//! hysteresis, with both bounds on how long they really lasted.
//!
//! Readings are instants. A gap seen at readings i..j lasted at least `t_j - t_i`, and at
//! most from the last clear reading before it to the first clear reading after it.

use crate::reading::{Seconds, Stamp};

/// Where one reading stands against the two thresholds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// On the good side of the leaving threshold.
    Clear,
    /// Between the thresholds: keeps whatever state there is.
    Between,
    /// Past the entering threshold; the number, if it was one.
    Beyond(Option<f64>),
    /// The meter finding its range again after a gap: lengthens only the upper bound, and
    /// never opens a gap.
    Tail,
    /// Tells nothing (a blank): it neither opens nor closes a gap.
    Nothing,
}

/// One gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// The first reading beyond.
    pub from: Stamp,
    /// The last reading beyond.
    pub to: Stamp,
    /// The last clear reading before it, or the start of watching.
    pub before: Stamp,
    /// The first clear reading after it, or the end of watching.
    pub after: Stamp,
    /// Whether some reading in it was past the meter's range.
    pub over: bool,
    /// The smallest and largest number in it.
    pub numbers: Option<(f64, f64)>,
    /// How many readings were beyond.
    pub count: u32,
}

impl Gap {
    /// The least it can have lasted.
    pub fn at_least(&self) -> Seconds {
        self.to.since(self.from)
    }

    /// The most it can have lasted.
    pub fn at_most(&self) -> Seconds {
        self.after.since(self.before)
    }
}

/// Finds gaps in a stream of standings.
#[derive(Debug, Clone)]
pub struct GapFinder {
    clear_at: Stamp,
    open: Option<Gap>,
}

impl GapFinder {
    /// Starts watching at a moment known to be clear.
    pub const fn new(began: Stamp) -> Self {
        Self {
            clear_at: began,
            open: None,
        }
    }

    /// Takes one reading's standing; gives the gap that this reading closed.
    pub fn feed(&mut self, at: Stamp, standing: Standing) -> Option<Gap> {
        match standing {
            Standing::Clear => {
                self.clear_at = at;
                self.close(at)
            }
            Standing::Beyond(number) => {
                let gap = self.open.get_or_insert(Gap {
                    from: at,
                    to: at,
                    before: self.clear_at,
                    after: at,
                    over: false,
                    numbers: None,
                    count: 0,
                });
                gap.to = at;
                gap.count = gap.count.saturating_add(1);
                match number {
                    None => gap.over = true,
                    Some(value) => {
                        let (low, high) = gap.numbers.unwrap_or((value, value));
                        gap.numbers = Some((low.min(value), high.max(value)));
                    }
                }
                None
            }
            Standing::Between | Standing::Tail | Standing::Nothing => None,
        }
    }

    /// Ends an open gap where watching ends.
    pub fn close(&mut self, at: Stamp) -> Option<Gap> {
        let gap = self.open.take()?;
        self.clear_at = at;
        Some(Gap {
            after: at.max(gap.to),
            ..gap
        })
    }

    /// The gap that is open now.
    pub const fn open(&self) -> Option<&Gap> {
        self.open.as_ref()
    }
}

/// Tells flicker: over-range entered several times within a short window.
#[derive(Debug, Clone)]
pub struct FlickerFinder {
    window: Seconds,
    recent: Vec<Gap>,
}

impl FlickerFinder {
    /// How many entries make a flicker.
    const ENTRIES: usize = 3;

    /// Looks for [`Self::ENTRIES`] entries within `window`.
    pub const fn new(window: Seconds) -> Self {
        Self {
            window,
            recent: Vec::new(),
        }
    }

    /// Takes a closed gap; gives the span of a flicker that it completes.
    pub fn feed(&mut self, gap: &Gap) -> Option<Gap> {
        if !gap.over {
            return None;
        }
        self.recent
            .retain(|earlier| gap.to.since(earlier.from) <= self.window);
        self.recent.push(*gap);
        let first = self.recent.first().copied()?;
        if self.recent.len() < Self::ENTRIES {
            return None;
        }
        self.recent.clear();
        Some(Gap {
            from: first.from,
            before: first.before,
            ..*gap
        })
    }
}
