//! What a step read at rest, and how later readings stand against it.

use crate::check::meter::{Lift, MeterFacts};
use crate::reading::{Annunciator, Magnitude, Measured, Ohms};
use crate::signal::{Baseline, Standing, Summary, hit_fraction};

/// Below this a reading shows that something conducts on purpose: fingers and leakage lie
/// above it, joints however bad below it (common practice, no source).
pub const CONTACT: Ohms = Ohms(1_000.0);

/// Whether a reading shows contact.
pub(crate) fn shows_contact(measured: &Measured) -> bool {
    measured.ohms().is_some_and(|ohms| ohms < CONTACT)
}

/// Whether a reading shows that nothing is connected.
pub(super) fn shows_open(measured: &Measured) -> bool {
    match measured.magnitude {
        Magnitude::Over { .. } => true,
        Magnitude::Number(_) => !shows_contact(measured),
        Magnitude::Blank => false,
    }
}

/// A closed conductor at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClosedRest {
    /// The median, tare not taken off.
    pub raw: Ohms,
    /// A reading above this is a break.
    pub enter: Ohms,
    /// A reading below this ends it.
    pub leave: Ohms,
    /// The share of an aperture that a full opening must fill to be a hit.
    pub fraction: Option<f64>,
    /// Weight of the last digit.
    pub step: Option<Ohms>,
    /// The power of ten of the last digit, where it tells the range.
    range: Option<i8>,
}

impl ClosedRest {
    /// Widths of the noise at rest that the threshold stands above it. Few readings know
    /// their own width badly; six leave room for that.
    const WIDTHS: f64 = 6.0;
    /// Counts of the display that the threshold stands above it at least.
    const COUNTS: f64 = 5.0;
    /// Probe contact wanders by tenths of an ohm under a moving hand (common practice, no
    /// source); nothing below this is called a break.
    const LEAST_RISE: f64 = 0.5;
    /// A threshold further above the rest than this cannot see a poor contact.
    const MOST_RISE: f64 = 10.0;

    /// From the readings taken at rest; none if there is no number among them.
    pub fn of(taken: &[Measured], facts: &MeterFacts) -> Option<Self> {
        let values = numbers(taken);
        let last = taken.iter().rev().find(|m| m.ohms().is_some())?;
        let step = finest(taken);
        let baseline = Baseline::of(&values, step)?;
        // The larger of two widths: the robust one is too small by chance too often.
        let deviation = values
            .iter()
            .copied()
            .collect::<Summary>()
            .standard_deviation();
        let scale = baseline.scale.0.max(deviation.unwrap_or(0.0));
        let rise = Self::rise(scale, step);
        let clip = facts.told_scale(last);
        Some(Self {
            raw: Ohms(baseline.median.0),
            enter: Ohms(baseline.median.0 + rise),
            leave: Ohms(baseline.median.0 + rise / 2.0),
            fraction: clip.and_then(|clip| {
                hit_fraction(
                    Ohms(baseline.median.0 + rise),
                    Ohms(baseline.median.0),
                    clip,
                )
            }),
            step: step.map(Ohms),
            range: facts.counts.and(last.resolution),
        })
    }

    /// How far above the rest a break begins, for noise of such a width and such a last digit.
    fn rise(scale: f64, step: Option<f64>) -> f64 {
        (Self::WIDTHS * scale)
            .max(Self::COUNTS * step.unwrap_or(0.0))
            .max(Self::LEAST_RISE)
    }

    /// The power of ten of the last digit, where it tells the range.
    pub const fn range(&self) -> Option<i8> {
        self.range
    }

    /// Whether the noise is so large that a poor contact would drown in it.
    pub fn is_too_noisy(&self) -> bool {
        self.enter.0 - self.raw.0 > Self::MOST_RISE
    }

    /// What a reading must do to show a break.
    pub fn lift(&self) -> Lift {
        Lift::Break {
            rise: Ohms(self.enter.0 - self.raw.0),
            fraction: self.fraction,
            range: self.range,
        }
    }

    /// How a reading stands, given whether a gap is open.
    ///
    /// In a closed conductor nothing should ever leave the range it rested on: there a jump
    /// to a higher range is the break itself, and the way back down is its tail.
    pub fn standing(&self, measured: &Measured, gap_open: bool) -> Standing {
        let higher_range = self
            .range
            .zip(measured.resolution)
            .is_some_and(|(rest, now)| now > rest);
        match measured.magnitude {
            Magnitude::Blank => Standing::Nothing,
            Magnitude::Over { .. } => Standing::Beyond(None),
            Magnitude::Number(decimal) => match decimal.to_f64() {
                value if value > self.enter.0 => Standing::Beyond(Some(value)),
                _ if higher_range && gap_open => Standing::Tail,
                value if higher_range => Standing::Beyond(Some(value)),
                value if value > self.leave.0 => Standing::Between,
                _ => Standing::Clear,
            },
        }
    }
}

/// Conductors apart, at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpenRest {
    /// What was read.
    pub level: OpenLevel,
    /// A reading below this is a touch.
    pub enter: Ohms,
    /// A reading above this ends it.
    pub leave: Ohms,
    /// Whether the meter rested on its own choice of range.
    auto_range: bool,
}

/// What conductors that should be apart read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OpenLevel {
    /// Over-range throughout: more than this, where the range is known.
    MoreThan(Option<Ohms>),
    /// A number: the median, and the weight of its last digit.
    Reads(Ohms, Option<Ohms>),
}

impl OpenRest {
    /// A touch ends at this multiple of the level at which it begins.
    const HYSTERESIS: f64 = 2.0;
    /// An autoranging meter that shows over-range on a range this much lower than at rest has
    /// gone there because it saw something low.
    const RANGE_FELL: f64 = 5.0;

    /// From the readings taken at rest; none if all were blank.
    pub fn of(taken: &[Measured], facts: &MeterFacts, touch: Ohms) -> Option<Self> {
        let numbers = numbers(taken);
        let overs = taken
            .iter()
            .filter(|m| matches!(m.magnitude, Magnitude::Over { .. }));
        let level = if numbers.len() * 2 > taken.len() {
            OpenLevel::Reads(
                Baseline::of(&numbers, None)?.median,
                finest(taken).map(Ohms),
            )
        } else {
            let scales: Vec<Option<Ohms>> = overs.map(|m| facts.full_scale(m)).collect();
            let first = scales.first().copied()?;
            let least = scales
                .iter()
                .fold(first, |least, scale| match (least, scale) {
                    (Some(least), Some(scale)) => Some(Ohms(least.0.min(scale.0))),
                    _ => None,
                });
            OpenLevel::MoreThan(least)
        };
        let auto_range = taken
            .iter()
            .any(|m| m.annunciators.has(Annunciator::AutoRange));
        Some(Self {
            auto_range,
            level,
            enter: touch,
            leave: Ohms(touch.0 * Self::HYSTERESIS),
        })
    }

    /// How a reading stands, given whether a gap is open.
    pub fn standing(
        &self,
        measured: &Measured,
        facts: &MeterFacts,
        gap_open: bool,
    ) -> Standing {
        match measured.magnitude {
            // A meter that rests over-range on its highest range blanks only because it goes
            // down, and goes down only because it saw something low.
            Magnitude::Blank
                if self.auto_range && matches!(self.level, OpenLevel::MoreThan(_)) =>
            {
                Standing::Beyond(None)
            }
            Magnitude::Blank => Standing::Nothing,
            Magnitude::Number(decimal) => match decimal.to_f64() {
                value if value < self.enter.0 => Standing::Beyond(Some(value)),
                value if value < self.leave.0 => Standing::Between,
                _ => Standing::Clear,
            },
            Magnitude::Over { .. } => match (self.level, facts.full_scale(measured)) {
                (OpenLevel::MoreThan(Some(rest)), Some(now))
                    if now.0 * Self::RANGE_FELL < rest.0 =>
                {
                    if gap_open {
                        Standing::Tail
                    } else {
                        Standing::Beyond(None)
                    }
                }
                _ => Standing::Clear,
            },
        }
    }
}

/// A step at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rest {
    /// A closed conductor.
    Closed(ClosedRest),
    /// Conductors apart.
    Open(OpenRest),
}

impl Rest {
    /// How a reading stands, given whether a gap is open.
    pub fn standing(
        &self,
        measured: &Measured,
        facts: &MeterFacts,
        gap_open: bool,
    ) -> Standing {
        match self {
            Self::Closed(rest) => rest.standing(measured, gap_open),
            Self::Open(rest) => rest.standing(measured, facts, gap_open),
        }
    }

    /// What a reading must do to show an event.
    pub fn lift(&self) -> Lift {
        match self {
            Self::Closed(rest) => rest.lift(),
            Self::Open(_) => Lift::Touch,
        }
    }

    /// The thresholds: where a gap begins, and where it ends.
    pub const fn thresholds(&self) -> (Ohms, Ohms) {
        match self {
            Self::Closed(ClosedRest { enter, leave, .. })
            | Self::Open(OpenRest { enter, leave, .. }) => (*enter, *leave),
        }
    }
}

/// The lower of what was read so far and a reading.
pub(super) fn lower(lowest: Option<Ohms>, measured: &Measured) -> Option<Ohms> {
    let now = measured.ohms();
    match (lowest, now) {
        (Some(lowest), Some(now)) => Some(Ohms(lowest.0.min(now.0))),
        (lowest, now) => lowest.or(now),
    }
}

/// Whether no number among them lies so far from the others that it would be a break: it would
/// widen what they are later held against.
pub(super) fn none_stands_out(taken: &[Measured]) -> bool {
    let values = numbers(taken);
    let step = finest(taken);
    let Some(baseline) = Baseline::of(&values, step) else {
        return true;
    };
    let most = ClosedRest::rise(baseline.scale.0, step);
    values
        .iter()
        .all(|value| (value - baseline.median.0).abs() <= most)
}

/// The numbers among readings, in ohms.
fn numbers(taken: &[Measured]) -> Vec<f64> {
    taken.iter().filter_map(|m| Some(m.ohms()?.0)).collect()
}

/// The weight of the last digit, in ohms: the finest, since a text that drops its last zeros
/// shows a coarser digit than it has.
fn finest(taken: &[Measured]) -> Option<f64> {
    taken
        .iter()
        .filter_map(Measured::resolution_value)
        .reduce(f64::min)
}

/// Whether the last readings have come to rest.
pub(super) fn is_settled(recent: &[Measured], facts: &MeterFacts) -> bool {
    /// Counts, share and ohms that readings at rest may differ by.
    const COUNTS: f64 = 3.0;
    const SHARE: f64 = 0.02;
    const OHMS: f64 = 0.1;
    let numbers = numbers(recent);
    if numbers.len() == recent.len() {
        let (low, high) = bounds(&numbers);
        let step = recent
            .iter()
            .filter_map(Measured::resolution_value)
            .fold(0.0, f64::max);
        high - low <= (COUNTS * step).max(SHARE * high.abs()).max(OHMS)
    } else {
        let mut scales = recent
            .iter()
            .map(|m| facts.full_scale(m).map(|scale| scale.0.to_bits()));
        let first = scales.next();
        numbers.is_empty() && scales.all(|scale| Some(scale) == first)
    }
}

fn bounds(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(*v), high.max(*v))
        })
}
