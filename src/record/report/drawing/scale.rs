//! Heights of a trace: one scale must show tenths of an ohm and megohms both.

use crate::reading::Ohms;
use crate::signal::BentScale;

/// The top of the scale, above what handheld meters show as a number (common practice, no
/// source).
const TOP: f64 = 100e6;

/// The heights of one trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale(BentScale);

impl Scale {
    /// A closed conductor: the rest and the threshold of a break well apart, and both in the
    /// straight part.
    pub(super) fn closed(rest: Option<Ohms>, threshold: Option<Ohms>) -> Self {
        let rest = rest.map_or(0.0, |ohms| ohms.0);
        let rise = threshold.map_or(1.0, |ohms| ohms.0 - rest);
        if !(rest.is_finite() && rise.is_finite() && rise > 0.0) {
            return Self(BentScale {
                low: 0.0,
                knee: 3.0,
                share: 0.6,
            });
        }
        let low = (rest - rise).max(0.0);
        Self(BentScale {
            low,
            knee: (rest + 1.5 * rise).max(low + rise),
            share: 0.66,
        })
    }

    /// Conductors apart.
    pub(super) const fn apart() -> Self {
        Self(BentScale {
            low: 0.0,
            knee: 10.0,
            share: 0.1,
        })
    }

    /// A control turned: even up to the highest that it should read and a little beyond, so that
    /// what poor contact adds stands above it.
    pub(super) fn up_to(top: Ohms) -> Self {
        let top = if top.0.is_finite() && top.0 > 0.0 {
            top.0.min(TOP / 2.0)
        } else {
            1.0
        };
        Self(BentScale {
            low: 0.0,
            knee: 1.25 * top,
            share: 0.9,
        })
    }

    /// The height of a resistance, 0 to 1; zero for what is not a number.
    pub(super) fn height(&self, ohms: f64) -> f64 {
        let height = self.0.height(ohms, TOP);
        if height.is_nan() {
            0.0
        } else {
            height.clamp(0.0, 1.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn rest_threshold_and_an_open_conductor_stand_apart() {
        let scale = Scale::closed(Some(Ohms(0.3)), Some(Ohms(0.8)));
        let [rest, threshold, open] = [0.3, 0.8, 60e6].map(|ohms| scale.height(ohms));
        assert!(threshold - rest > 0.15, "{rest} {threshold}");
        assert!(open - threshold > 0.3, "{threshold} {open}");
    }

    /// A knee so close to nothing that the top divided by it has no number.
    #[test]
    fn the_smallest_of_knees_hides_nothing() {
        let scale = Scale::closed(Some(Ohms(-6.213_348_276_064_8e-310)), Some(Ohms(0.0)));
        let (small, large) = (1.700_358_127_476_609_6e-308, 3.632_075_226_685_234_4e158);
        assert!(scale.height(small) <= scale.height(large));
        assert!(scale.height(large) > 0.9, "{}", scale.height(large));
    }

    proptest! {
        #[test]
        fn higher_is_never_drawn_lower_nor_outside(
            rest in any::<f64>(),
            threshold in any::<f64>(),
            low in any::<f64>(),
            more in any::<f64>(),
        ) {
            for scale in [
                Scale::closed(Some(Ohms(rest)), Some(Ohms(threshold))),
                Scale::apart(),
                Scale::up_to(Ohms(rest)),
            ] {
                let (a, b) = (low.min(more), low.max(more));
                prop_assert!(scale.height(a) <= scale.height(b), "{scale:?} {a} {b}");
                prop_assert!((0.0..=1.0).contains(&scale.height(low)));
            }
        }
    }
}
