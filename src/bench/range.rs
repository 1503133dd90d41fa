//! The ranges of a simulated meter, and how it moves between them.

use crate::reading::Decimal;

/// What the display can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Display {
    /// So many display counts: 4000 shows up to 3999.
    /// The ranges are decades of it, the last digit telling the range.
    Counts(u32),
    /// Seven significant digits without a display behind them, as a text interface sends
    /// them: neither resolution nor range is told.
    Digits,
}

/// How the meter chooses its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ranging {
    /// By itself.
    Auto,
    /// Fixed on this range, 0 being the lowest.
    Fixed(usize),
}

/// What the meter shows while it looks for its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hunting {
    /// One step a conversion: over-range on the way up, blank on the way down.
    Blank,
    /// One step a conversion: over-range on the way up, the coarse value on the way down.
    Coarse,
    /// Nothing: the range is found inside the conversion.
    Unseen,
}

/// One range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    /// The power of ten of the last digit.
    pub(super) exponent: i8,
    /// The weight of the last digit, in ohms.
    pub(super) count: f64,
    /// From here on the display is over-range, in ohms.
    pub(super) full_scale: f64,
    /// Below this, the next lower range shows more, in ohms.
    pub(super) low: f64,
}

/// A text interface's highest nominal range is 100 megohm, its lowest 100 ohm.
const NOMINAL: std::ops::RangeInclusive<i8> = 2..=8;

impl Display {
    /// The ranges, lowest first; `finest` and `coarsest` are the powers of ten of the last
    /// digit of the lowest and the highest.
    pub(super) fn ranges(self, finest: i8, coarsest: i8) -> Vec<Range> {
        match self {
            Self::Counts(counts) => (finest..=coarsest.max(finest))
                .map(|exponent| {
                    let count = power_of_ten(exponent);
                    let full_scale = f64::from(counts) * count;
                    Range {
                        exponent,
                        count,
                        full_scale,
                        // A little under a tenth, so that it does not come straight back.
                        low: 0.09 * full_scale,
                    }
                })
                .collect(),
            // Up above 120 %, down below 10 % of the nominal range, as the manuals of text
            // interfaces state it.
            Self::Digits => NOMINAL
                .map(|decade| {
                    let nominal = power_of_ten(decade);
                    Range {
                        exponent: decade - 6,
                        count: power_of_ten(decade - 6),
                        full_scale: 1.2 * nominal,
                        low: 0.1 * nominal,
                    }
                })
                .collect(),
        }
    }
}

/// Ten to a power, correctly rounded.
fn power_of_ten(exponent: i8) -> f64 {
    Decimal {
        digits: 1,
        exponent,
    }
    .to_f64()
}
