//! The level a conductor reads at rest, and how much the reading moves by itself.
//!
//! Median and median absolute deviation: up to half the readings may be wild without moving
//! either out of bounds (Rousseeuw and Croux, "Alternatives to the Median Absolute Deviation",
//! JASA 88(424), 1993, 1273-1283).

use crate::reading::Ohms;

/// Makes the median absolute deviation of a Gaussian sample its standard deviation:
/// 1/Φ⁻¹(3/4), as Rousseeuw and Croux print it.
pub const MAD_TO_SIGMA: f64 = 1.4826;

/// The middle value; for an even count the mean of the two middle ones. `None` if there is no
/// value, or one that is not a number.
///
/// Over-range may be given as infinity: it takes its place above every number, and the median
/// is infinite when it lies among them.
pub fn median(values: &[f64]) -> Option<f64> {
    if values.iter().any(|value| value.is_nan()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    let lower = *sorted.get(sorted.len().saturating_sub(1) / 2)?;
    Some(f64::midpoint(lower, upper))
}

/// The median distance from the median, times [`MAD_TO_SIGMA`]. `None` where the median is
/// not a finite number.
///
/// It is zero when more than half the values are equal, which is ordinary on a display of few
/// digits: compare with the scale of a [`Baseline`], which has a floor.
pub fn scaled_mad(values: &[f64]) -> Option<f64> {
    let middle = median(values).filter(|middle| middle.is_finite())?;
    let distances: Vec<f64> = values.iter().map(|value| (value - middle).abs()).collect();
    median(&distances).map(|distance| distance * MAD_TO_SIGMA)
}

/// The standard uncertainty of a value shown in steps of `resolution`: q/√12, the uniform
/// distribution of the GUM (from memory).
pub fn quantisation(resolution: f64) -> f64 {
    resolution.abs() / 12_f64.sqrt()
}

/// A conductor at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Baseline {
    /// The median.
    pub median: Ohms,
    /// The width of the noise as a standard deviation: the scaled median absolute deviation,
    /// and never less than the quantisation, where the resolution is known.
    pub scale: Ohms,
    /// The weight of the display's last digit in ohms, where it is known.
    pub resolution: Option<f64>,
    /// How many readings it rests on.
    pub count: usize,
}

impl Baseline {
    /// The baseline of readings in ohms, over-range among them as infinity. `None` without
    /// readings, or when half of them or more are over-range.
    ///
    /// With no resolution known the scale of a still display is zero: the caller then needs a
    /// floor of its own.
    pub fn of(ohms: &[f64], resolution: Option<f64>) -> Option<Self> {
        let median = median(ohms).filter(|middle| middle.is_finite())?;
        let spread = scaled_mad(ohms)?;
        Some(Self {
            median: Ohms(median),
            scale: Ohms(spread.max(resolution.map_or(0.0, quantisation))),
            resolution,
            count: ohms.len(),
        })
    }
}
