//! Figures of merit as the potentiometer handbooks define them, for controls whose turn is
//! known and for limits quoted from data sheets.

/// What a divider at position `fraction` gives as a part of its input when the load is
/// `total_over_load` times lighter than infinite: a / (1 + a(1 - a) R/RL).
pub fn loaded_ratio(fraction: f64, total_over_load: f64) -> f64 {
    fraction / (1.0 + fraction * (1.0 - fraction) * total_over_load)
}

/// Contact resistance variation in per cent of the total, from its definition: 100 ΔV / (I R).
pub fn contact_variation_percent(volts: f64, amperes: f64, total: f64) -> f64 {
    100.0 * volts / (amperes * total)
}

/// Equivalent noise resistance in ohms: the peak voltage over the current.
pub fn noise_resistance(volts: f64, amperes: f64) -> f64 {
    volts / amperes
}

/// The largest distance from the line through the first and the last point, as a part of the
/// output; `None` without two turns apart. Points are (turn, part of the total).
pub fn terminal_linearity(points: &[(f64, f64)]) -> Option<f64> {
    let (first, last) = (points.first()?, points.last()?);
    let slope = (last.1 - first.1) / (last.0 - first.0);
    slope
        .is_finite()
        .then(|| largest(points, |turn| first.1 + slope * (turn - first.0)))
}

/// The smallest largest distance from any straight line: the Chebyshev line, found among the
/// lines parallel to a chord, as one of them is best.
pub fn independent_linearity(points: &[(f64, f64)]) -> Option<f64> {
    let mut best = None;
    for (index, one) in points.iter().enumerate() {
        for other in points.iter().skip(index + 1) {
            let slope = (other.1 - one.1) / (other.0 - one.0);
            if !slope.is_finite() {
                continue;
            }
            let offsets = points.iter().map(|(turn, part)| part - slope * turn);
            let (low, high) = offsets
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), offset| {
                    (low.min(offset), high.max(offset))
                });
            let half = 0.5 * (high - low);
            best = Some(best.map_or(half, |least: f64| least.min(half)));
        }
    }
    best
}

/// The smallest largest distance from a straight line through a fixed first point, its slope
/// free.
pub fn zero_based_linearity(points: &[(f64, f64)]) -> Option<f64> {
    let first = points.first()?;
    let spread = |slope: f64| largest(points, |turn| first.1 + slope * (turn - first.0));
    let slopes = points
        .iter()
        .skip(1)
        .map(|point| (point.1 - first.1) / (point.0 - first.0))
        .filter(|slope| slope.is_finite());
    let (mut low, mut high) = slopes
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), slope| {
            (low.min(slope), high.max(slope))
        });
    if low > high {
        return None;
    }
    // The distance is convex in the slope: close in on its least value from both sides.
    for _round in 0..200 {
        let third = (high - low) / 3.0;
        if spread(low + third) <= spread(high - third) {
            high -= third;
        } else {
            low += third;
        }
    }
    Some(spread(f64::midpoint(low, high)))
}

fn largest(points: &[(f64, f64)], line: impl Fn(f64) -> f64) -> f64 {
    points
        .iter()
        .map(|(turn, part)| (part - line(*turn)).abs())
        .fold(0.0, f64::max)
}
