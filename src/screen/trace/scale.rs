//! Where a resistance stands on the trace, from 0 at the bottom to 1 at the top.
//!
//! What matters in a closed conductor happens between its rest and a little above its limit,
//! tenths of an ohm; what matters between conductors apart, over decades of megohms; and a
//! pickup's or a control's level is neither. So the scale is straight up to a knee and
//! logarithmic above it, the knee being put where the step's limit is.

use crate::check::notice::Wants;
use crate::check::step::{Rest, StepMachine};
use crate::reading::Ohms;
use crate::screen::reading;
use crate::signal::{BentScale, Column};

/// The top of the scale, above what handheld meters show as a number (common practice, no
/// source).
const TOP: f64 = 100e6;

/// A scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Scale {
    /// Straight up to a knee, logarithmic above.
    Bent(BentScale),
    /// Straight from `low` to `high`.
    Even { low: f64, high: f64 },
}

impl Scale {
    /// A conductor that should be closed, of which nothing is known.
    const CLOSED: Self = Self::Bent(BentScale {
        low: 0.0,
        knee: 3.0,
        share: 0.6,
    });
    /// Conductors apart.
    const OPEN: Self = Self::Bent(BentScale {
        low: 0.0,
        knee: 10.0,
        share: 0.1,
    });

    /// The scale for a step, or for what is shown where there is none; `off` ohms of tare are
    /// taken off before.
    pub(super) fn of(step: Option<&StepMachine>, columns: &[Column], off: f64) -> Self {
        let Some(step) = step else {
            return Self::fitting(columns, off);
        };
        match (step.rest(), step.plan().wants()) {
            (Some(Rest::Closed(rest)), _) => {
                let rise = rest.enter.0 - rest.raw.0;
                Self::closed(rest.raw.0 - off, rise)
            }
            (None, Wants::Closed) => Self::closed(0.0, reading::pass(step.plan()).0),
            (_, Wants::Open) | (Some(Rest::Open(_)), _) => Self::OPEN,
            (None, Wants::Sweep | Wants::Value) => Self::fitting(columns, off),
        }
    }

    /// A control, which reads from nothing to this.
    pub(super) const fn up_to(highest: Ohms) -> Self {
        Self::Even {
            low: 0.0,
            high: 1.05 * highest.0,
        }
    }

    /// Rest and limit well apart, the limit below the middle.
    fn closed(rest: f64, rise: f64) -> Self {
        if !(rest.is_finite() && rise.is_finite() && rise > 0.0) {
            return Self::CLOSED;
        }
        let low = (rest - rise).max(0.0);
        Self::Bent(BentScale {
            low,
            knee: (rest + 3.0 * rise).max(low + rise),
            share: 0.65,
        })
    }

    /// For readings of no step: straight when they lie close together, so that their noise can
    /// be seen.
    fn fitting(columns: &[Column], off: f64) -> Self {
        /// Readings of which the highest is no more than this many times the lowest.
        const CLOSE: f64 = 3.0;
        /// The least that the height stands for, as a share of the level.
        const LEAST_SHARE: f64 = 0.01;
        /// The same in ohms.
        const LEAST: f64 = 0.1;
        let low = columns
            .iter()
            .filter_map(|column| column.min)
            .reduce(f64::min);
        let high = columns
            .iter()
            .filter_map(|column| column.max)
            .reduce(f64::max);
        match (low, high) {
            (Some(low), Some(high)) if low - off > 0.0 && high - off < (low - off) * CLOSE => {
                let (low, high) = (low - off, high - off);
                let span = (high - low).max(LEAST_SHARE * high).max(LEAST);
                let middle = f64::midpoint(low, high);
                Self::Even {
                    low: middle - 0.75 * span,
                    high: middle + 0.75 * span,
                }
            }
            _ => Self::CLOSED,
        }
    }

    /// The height of a resistance, 0 to 1; zero for what is not a number.
    pub(super) fn height(&self, ohms: f64) -> f64 {
        let height = match *self {
            Self::Bent(bend) => bend.height(ohms, TOP),
            Self::Even { low, high } => (ohms - low) / (high - low),
        };
        if height.is_nan() {
            0.0
        } else {
            height.clamp(0.0, 1.0)
        }
    }

    /// Round values to label, the most telling first.
    pub(super) fn ticks(&self) -> Vec<Ohms> {
        match *self {
            Self::Bent(BentScale { low, .. }) => {
                let decades = [1e3, 1e6, 1.0, 10.0, 100.0, 1e5, 1e4, 1e7].into_iter();
                let above = decades.filter(|decade| *decade > low);
                [low].into_iter().chain(above).map(Ohms).collect()
            }
            Self::Even { low, high } => {
                let step = round_step((high - low) / 3.0);
                let first = (low / step).ceil();
                (0..8_u8)
                    .map(|index| (first + f64::from(index)) * step)
                    .filter(|tick| *tick <= high)
                    .map(Ohms)
                    .collect()
            }
        }
    }
}

/// The nearest of 1, 2 and 5 times a power of ten below this.
fn round_step(rough: f64) -> f64 {
    let decade = 10_f64.powf(rough.log10().floor());
    [5.0, 2.0]
        .into_iter()
        .map(|digit| digit * decade)
        .find(|step| *step <= rough)
        .unwrap_or(decade)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_sound_lead_its_limit_and_an_open_one_stand_apart() {
        let scale = Scale::closed(0.3, 0.7);
        let (rest, limit, open) = (scale.height(0.3), scale.height(1.0), scale.height(60e6));
        // An eighth of the height is a row of its own on the smallest plot with limits.
        assert!(limit - rest > 0.125, "{rest} {limit}");
        assert!(open - limit > 0.5, "{limit} {open}");
    }

    proptest! {
        #[test]
        fn higher_is_never_drawn_lower(
            rest in 0.0..1e3_f64,
            rise in 0.01..1e3_f64,
            low in 0.0..1e9_f64,
            more in 0.0..1e9_f64,
        ) {
            for scale in [Scale::closed(rest, rise), Scale::OPEN, Scale::CLOSED] {
                prop_assert!(scale.height(low) <= scale.height(low + more), "{scale:?}");
            }
        }

        #[test]
        fn heights_stay_within(ohms in any::<f64>(), rest in any::<f64>(), rise in any::<f64>()) {
            let height = Scale::closed(rest, rise).height(ohms);
            prop_assert!((0.0..=1.0).contains(&height), "{height}");
        }
    }
}
