//! Isotonic regression by pooling adjacent violators.
//!
//! Ayer, Brunk, Ewing, Reid and Silverman, "An Empirical Distribution Function for Sampling
//! with Incomplete Information", Annals of Mathematical Statistics 26(4), 1955, 641-647; Barlow,
//! Bartholomew, Bremner and Brunk, "Statistical Inference under Order Restrictions", 1972 (both
//! from memory).

/// Neighbours that were pooled into their weighted mean.
#[derive(Debug, Clone, Copy)]
struct Block {
    mean: f64,
    weight: f64,
    count: usize,
}

/// The non-decreasing sequence nearest to `values` in weighted least squares, in linear time.
///
/// A value that is not finite, or whose weight is missing or not above zero, has no say: it
/// takes the level of what stands before it, or at the beginning of what comes after it. The
/// answer is as long as `values`, and zero throughout if nothing has a say.
pub fn isotonic(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let mut blocks: Vec<Block> = Vec::with_capacity(values.len());
    let mut leading = 0;
    let weights = weights.iter().copied().chain(std::iter::repeat(0.0));
    for (value, weight) in values.iter().zip(weights) {
        if !(value.is_finite() && weight.is_finite() && weight > 0.0) {
            match blocks.last_mut() {
                Some(block) => block.count += 1,
                None => leading += 1,
            }
            continue;
        }
        let mut block = Block {
            mean: *value,
            weight,
            count: 1 + std::mem::take(&mut leading),
        };
        while let Some(before) = blocks.pop_if(|before| before.mean >= block.mean) {
            let weight = before.weight + block.weight;
            block = Block {
                mean: before.mean + (block.mean - before.mean) * (block.weight / weight),
                weight,
                count: before.count + block.count,
            };
        }
        blocks.push(block);
    }
    let mut fitted = Vec::with_capacity(values.len());
    for block in &blocks {
        fitted.extend(std::iter::repeat_n(block.mean, block.count));
    }
    fitted.resize(values.len(), 0.0);
    fitted
}
