//! The meter model: an integrating converter behind a display.
//!
//! Each conversion averages the resistance, limited to the range's over-range level, over an
//! aperture that ends with it. So a gap that fills part of an aperture lifts one reading part
//! of the way, and a gap between two apertures leaves no trace, as with the real thing.

use crate::reading::{
    Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity, Seconds, Stamp,
};

use super::chance::Chance;
use super::course::Course;
use super::range::{Display, Hunting, Range, Ranging};

/// How a meter is built and set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterSettings {
    /// Conversions a second.
    pub rate: f64,
    /// How long one conversion averages; see [`MeterSettings::aperture`] for the default.
    pub aperture: Option<Seconds>,
    /// What the display can show.
    pub display: Display,
    /// The power of ten of the lowest range's last digit (`-1` is 0.1 ohm); of no meaning
    /// with [`Display::Digits`], as the next.
    pub finest: i8,
    /// That of the highest range (`4` is 10 kilohm: 40.00 megohm with 4000 counts).
    pub coarsest: i8,
    /// How it chooses its range.
    pub ranging: Ranging,
    /// What it shows while it looks for its range.
    pub hunting: Hunting,
    /// Blank conversions after each change of range, besides what [`Hunting`] shows.
    pub blanks: u32,
    /// The level a conversion is limited to, as a multiple of the range's full scale.
    pub clip: f64,
    /// Standard deviation of the noise, in counts.
    pub noise: f64,
    /// Largest deviation of an interval from 1 / rate, as a fraction of it.
    pub jitter: f64,
    /// What the dial is set to.
    pub quantity: Quantity,
    /// What else is switched on: HOLD, REL, a low battery.
    pub marks: Annunciators,
}

impl Default for MeterSettings {
    /// A handheld of 4000 counts at three readings a second.
    fn default() -> Self {
        Self::handheld(3.0)
    }
}

impl MeterSettings {
    /// A handheld of 4000 counts at so many readings a second, choosing its range by itself.
    pub const fn handheld(rate: f64) -> Self {
        Self {
            rate,
            aperture: None,
            display: Display::Counts(4000),
            finest: -1,
            coarsest: 4,
            ranging: Ranging::Auto,
            hunting: Hunting::Blank,
            blanks: 0,
            clip: 1.1,
            noise: 0.3,
            jitter: 0.02,
            quantity: Quantity::Resistance,
            marks: Annunciators::NONE,
        }
    }

    /// A bench meter with a text interface at so many readings a second.
    pub const fn text_interface(rate: f64) -> Self {
        Self {
            display: Display::Digits,
            hunting: Hunting::Unseen,
            ..Self::handheld(rate)
        }
    }

    /// The mean time between conversions.
    pub fn interval(&self) -> Seconds {
        // One reading in 1000 s is the slowest and one in 10 µs the fastest.
        Seconds(1.0 / self.rate.clamp(0.001, 100_000.0))
    }

    /// How long one conversion averages: as set, or four fifths of the interval up to 0.1 s.
    pub fn aperture(&self) -> Seconds {
        self.aperture
            .unwrap_or_else(|| Seconds((0.8 * self.interval().0).min(0.1)))
    }
}

/// A simulated meter.
#[derive(Debug, Clone)]
pub struct Meter {
    settings: MeterSettings,
    ranges: Vec<Range>,
    /// The present range's place in `ranges`.
    rung: usize,
    blanks_left: u32,
    /// What HOLD froze.
    frozen: Option<Measured>,
    /// What REL subtracts, in ohms.
    zero: Option<f64>,
    noise: Chance,
    pace: Chance,
}

impl Meter {
    /// A meter that has stood with its probes apart: on its highest range, if it chooses.
    pub fn new(settings: MeterSettings, seed: u64) -> Self {
        let ranges = settings.display.ranges(settings.finest, settings.coarsest);
        let top = ranges.len().saturating_sub(1);
        let rung = match settings.ranging {
            Ranging::Auto => top,
            Ranging::Fixed(rung) => rung.min(top),
        };
        Self {
            settings,
            ranges,
            rung,
            blanks_left: 0,
            frozen: None,
            zero: None,
            noise: Chance::new(seed, 1),
            pace: Chance::new(seed, 2),
        }
    }

    /// Its settings.
    pub const fn settings(&self) -> &MeterSettings {
        &self.settings
    }

    /// Switches HOLD, REL and the rest.
    pub const fn mark(&mut self, marks: Annunciators) {
        self.settings.marks = marks;
    }

    /// Turns the dial.
    pub const fn turn(&mut self, quantity: Quantity) {
        self.settings.quantity = quantity;
    }

    /// When the conversion after the one that ended at `at` ends.
    pub fn after(&mut self, at: Stamp) -> Stamp {
        let jitter = self.settings.jitter.clamp(0.0, 0.9);
        let stretch = 1.0 + jitter * self.pace.between(-1.0, 1.0);
        at + Seconds(self.settings.interval().0 * stretch)
    }

    /// When the aperture of a conversion that ends at `at` began.
    pub fn aperture_before(&self, at: Stamp) -> Stamp {
        let length = self.settings.aperture().micros();
        Stamp::from_micros(at.micros().saturating_sub(length))
    }

    /// The conversion that ends at `at`.
    pub fn convert(&mut self, course: &Course, at: Stamp) -> Measured {
        let noise = self.settings.noise * self.noise.gaussian();
        let fresh = if self.settings.quantity.is_resistance() {
            self.resistance(course, at, noise)
        } else {
            self.elsewhere(noise)
        };
        let fresh = self.marked(fresh);
        if self.settings.marks.has(Annunciator::Hold) {
            *self.frozen.get_or_insert(fresh)
        } else {
            self.frozen = None;
            fresh
        }
    }

    /// With the dial off ohms: nothing is connected that gives a signal.
    fn elsewhere(&self, noise: f64) -> Measured {
        let number = Decimal {
            digits: whole(noise),
            exponent: -3,
        };
        Measured {
            quantity: self.settings.quantity,
            magnitude: Magnitude::Number(number),
            resolution: self.shown_resolution(-3),
            annunciators: Annunciators::NONE,
        }
    }

    fn resistance(&mut self, course: &Course, at: Stamp, noise: f64) -> Measured {
        let mut range = self.range();
        let mut ohms = self.average(course, at, range, noise);
        let mut to = self.next_rung(range, ohms);
        if self.settings.hunting == Hunting::Unseen {
            // Upward only or downward only, so that it ends.
            let upward = to > self.rung;
            while to != self.rung && (to > self.rung) == upward {
                self.rung = to;
                range = self.range();
                ohms = self.average(course, at, range, noise);
                to = self.next_rung(range, ohms);
            }
            to = self.rung;
        }
        let magnitude = if self.blanks_left > 0 {
            self.blanks_left -= 1;
            to = self.rung;
            Magnitude::Blank
        } else if to < self.rung && self.settings.hunting == Hunting::Blank {
            Magnitude::Blank
        } else {
            self.shown(range, ohms)
        };
        if to != self.rung {
            self.rung = to;
            self.blanks_left = self.settings.blanks;
        }
        Measured {
            quantity: self.settings.quantity,
            magnitude,
            // A blanked display shows no digit, so it has no last one.
            resolution: self
                .shown_resolution(range.exponent)
                .filter(|_| magnitude != Magnitude::Blank),
            annunciators: Annunciators::NONE,
        }
    }

    /// What the converter delivers on a range, in ohms.
    fn average(&self, course: &Course, at: Stamp, range: Range, noise: f64) -> f64 {
        let clip = self.settings.clip * range.full_scale;
        course.mean(self.aperture_before(at), at, clip) + noise * range.count
    }

    /// The range for the next conversion.
    fn next_rung(&self, range: Range, ohms: f64) -> usize {
        let top = self.ranges.len().saturating_sub(1);
        if !self.chooses() {
            self.rung
        } else if is_over(range, ohms) {
            top.min(self.rung + 1)
        } else if ohms < range.low {
            self.rung.saturating_sub(1)
        } else {
            self.rung
        }
    }

    /// Whether the meter is free to change its range; REL and the buzzer fix it.
    fn chooses(&self) -> bool {
        self.settings.ranging == Ranging::Auto
            && self.settings.quantity == Quantity::Resistance
            && !self.settings.marks.has(Annunciator::Relative)
    }

    fn range(&self) -> Range {
        let buzzer = self.settings.quantity == Quantity::Continuity;
        let rung = if buzzer { 0 } else { self.rung };
        self.ranges.get(rung).copied().unwrap_or(Range {
            exponent: 0,
            count: 1.0,
            full_scale: 0.0,
            low: 0.0,
        })
    }

    fn shown(&mut self, range: Range, ohms: f64) -> Magnitude {
        if is_over(range, ohms) {
            return Magnitude::Over {
                beyond: self.full_scale(range),
            };
        }
        let value = if self.settings.marks.has(Annunciator::Relative) {
            ohms - *self.zero.get_or_insert(ohms)
        } else {
            self.zero = None;
            // An ohms display has no sign.
            ohms.max(0.0)
        };
        let number = match self.settings.display {
            Display::Counts(_) => Some(Decimal {
                digits: whole(value / range.count),
                exponent: range.exponent,
            }),
            Display::Digits => format!("{value:.6e}").parse().ok(),
        };
        number.map_or(Magnitude::Blank, Magnitude::Number)
    }

    fn full_scale(&self, range: Range) -> Option<Decimal> {
        match self.settings.display {
            Display::Counts(counts) => Some(Decimal {
                digits: i64::from(counts),
                exponent: range.exponent,
            }),
            Display::Digits => None,
        }
    }

    const fn shown_resolution(&self, exponent: i8) -> Option<i8> {
        match self.settings.display {
            Display::Counts(_) => Some(exponent),
            Display::Digits => None,
        }
    }

    fn marked(&self, measured: Measured) -> Measured {
        let mut annunciators = self.settings.marks;
        if matches!(self.settings.display, Display::Counts(_)) && self.chooses() {
            annunciators = annunciators.with(Annunciator::AutoRange);
        }
        Measured {
            annunciators,
            ..measured
        }
    }
}

/// Whether a value no longer fits the display: half a count below full scale it rounds up.
fn is_over(range: Range, ohms: f64) -> bool {
    range.full_scale - 0.5 * range.count <= ohms
}

/// The nearest whole number.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the cast saturates, and no display has eighteen digits"
)]
fn whole(value: f64) -> i64 {
    value.round() as i64
}
