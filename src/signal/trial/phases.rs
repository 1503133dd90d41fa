//! Whether gaps met the meter at every moment of its cycle.
//!
//! Gaps made at a steady beat may fall in step with the readings: then all of them meet the
//! meter at the same few moments, and the share that shows is all or nothing, or a half, and
//! not the chance. Kuiper's statistic is the largest difference, over all stretches of the
//! cycle, between the share of phases in the stretch and its length, wherever the cycle is
//! taken to begin (N. H. Kuiper, "Tests concerning random points on a circle", Proc. Kon. Ned.
//! Akad. Wet. A 63 (1960), 38-47). So no share of gaps seen is further from the chance than
//! that, and where it is no larger than chance itself makes it, the binomial interval of the
//! share already allows for it.

/// The upper 1 % point of the statistic as modified by M. A. Stephens, "Use of the
/// Kolmogorov-Smirnov, Cramer-von Mises and related statistics without extensive tables",
/// J. R. Stat. Soc. B 32 (1970), 115-122 (from memory; the limiting distribution gives 0.0100).
const LIMIT: f64 = 2.001;

/// Kuiper's statistic of phases from 0 to 1; none without phases.
pub fn kuiper(phases: &[f64]) -> Option<f64> {
    let mut sorted = phases.to_vec();
    sorted.sort_by(f64::total_cmp);
    let count = f64::from(u32::try_from(sorted.len()).ok()?);
    if sorted.is_empty() {
        return None;
    }
    let (mut above, mut below, mut rank) = (0.0_f64, 0.0_f64, 0.0);
    for phase in sorted {
        below = below.max(phase - rank / count);
        rank += 1.0;
        above = above.max(rank / count - phase);
    }
    Some(above + below)
}

/// Whether the phases are as evenly spread as those of gaps at random moments would be, 99
/// times in 100.
pub fn are_spread(phases: &[f64]) -> bool {
    let count = u32::try_from(phases.len()).unwrap_or(u32::MAX);
    let root = f64::from(count).sqrt();
    kuiper(phases).is_some_and(|value| value * (root + 0.155 + 0.24 / root) <= LIMIT)
}
