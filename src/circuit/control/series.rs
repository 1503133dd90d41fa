//! The preferred values of IEC 60063 (values from memory), as far as controls use them.

use crate::reading::Ohms;

/// A series of preferred values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Series {
    /// Three values a decade.
    E3,
    /// Six values a decade.
    E6,
    /// Twelve values a decade.
    E12,
    /// Twenty-four values a decade.
    E24,
}

impl Series {
    /// Every series, coarsest first.
    pub const ALL: [Self; 4] = [Self::E3, Self::E6, Self::E12, Self::E24];

    /// The values of one decade, in tenths: 47 is 4.7.
    pub const fn members(self) -> &'static [u8] {
        match self {
            Self::E3 => &[10, 22, 47],
            Self::E6 => &[10, 15, 22, 33, 47, 68],
            Self::E12 => &[10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82],
            Self::E24 => &[
                10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62,
                68, 75, 82, 91,
            ],
        }
    }

    /// Whether a value belongs to the series.
    pub fn contains(self, value: Ohms) -> bool {
        is_one_of(value, self.members())
    }
}

/// Whether a value is of the 1-2-5 series that many controls are sold in.
pub fn is_one_two_five(value: Ohms) -> bool {
    is_one_of(value, &[10, 20, 50])
}

fn is_one_of(value: Ohms, tenths: &[u8]) -> bool {
    if !(value.0.is_finite() && value.0 > 0.0) {
        return false;
    }
    let mantissa = 10_f64.powf(value.0.log10().rem_euclid(1.0));
    tenths.iter().any(|member| {
        let member = f64::from(*member) / 10.0;
        // A whole decade may come out as 10 less a last bit.
        (mantissa / member - 1.0).abs() < 1e-9 || (mantissa / member / 10.0 - 1.0).abs() < 1e-9
    })
}
