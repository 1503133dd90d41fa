//! Seeded chance: the same seed gives the same bench, on every machine.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

/// One stream of random numbers.
///
/// Each part of the bench draws from a stream of its own, so that one part's draws never
/// shift another's.
#[derive(Debug, Clone)]
pub(super) struct Chance(ChaCha8Rng);

impl Chance {
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(stream);
        Self(source)
    }

    /// A number from 0 up to, not including, 1.
    pub(super) fn fraction(&mut self) -> f64 {
        self.0.random()
    }

    /// A number between two bounds.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.fraction()
    }

    /// Whether something of this probability happens now.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.fraction() < probability
    }

    /// A number of the standard normal distribution, by the Box-Muller transform.
    pub(super) fn gaussian(&mut self) -> f64 {
        // From (0, 1]: the logarithm of zero is never taken.
        let radius = (-2.0 * (1.0 - self.fraction()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.fraction()).cos()
    }
}
