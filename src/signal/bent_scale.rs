//! The height of a resistance where tenths of an ohm and megohms stand on one scale.

/// Straight from `low` to `knee`, which stands at `share` of the height; logarithmic above, up
/// to `top`. All in ohms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BentScale {
    /// At the foot.
    pub low: f64,
    /// Where straight becomes logarithmic.
    pub knee: f64,
    /// How high that stands, 0 to 1.
    pub share: f64,
}

impl BentScale {
    /// The height of a resistance: 0 at the foot, 1 at `top` or a decade above the knee,
    /// whichever is higher; beyond both where the resistance is. Never lower for more ohms.
    pub fn height(&self, ohms: f64, top: f64) -> f64 {
        let Self { low, knee, share } = *self;
        if ohms <= knee {
            (share * (ohms - low) / (knee - low)).min(share)
        } else {
            // Logarithms are taken one by one: of numbers far apart the quotient has none.
            let decades = (top.ln() - knee.ln()).max(10.0_f64.ln());
            share + (1.0 - share) * (ohms.ln() - knee.ln()) / decades
        }
    }
}
