//! The binomial distribution, as far as a count of gaps needs it.

/// The logarithm of the likelihood of `seen` of `made` at this chance each, without the
/// binomial coefficient, which no comparison needs.
pub fn log_likelihood(seen: u32, made: u32, chance: f64) -> f64 {
    let part = |count: u32, share: f64| {
        if count == 0 {
            0.0
        } else {
            f64::from(count) * share.ln()
        }
    };
    part(seen, chance) + part(made.saturating_sub(seen), 1.0 - chance)
}

/// The probability of exactly so many.
pub fn exactly(seen: u32, made: u32, chance: f64) -> f64 {
    if seen > made {
        return 0.0;
    }
    let ways: f64 = (1..=seen)
        .map(|k| (f64::from(made - seen + k) / f64::from(k)).ln())
        .sum();
    (ways + log_likelihood(seen, made, chance)).exp()
}

/// The probability of at most so many.
pub fn at_most(seen: u32, made: u32, chance: f64) -> f64 {
    let sum: f64 = (0..=seen).map(|k| exactly(k, made, chance)).sum();
    sum.min(1.0)
}

/// The probability of at least so many.
pub fn at_least(seen: u32, made: u32, chance: f64) -> f64 {
    let sum: f64 = (seen..=made).map(|k| exactly(k, made, chance)).sum();
    sum.min(1.0)
}
