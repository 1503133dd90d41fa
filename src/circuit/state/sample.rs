//! The same band by trying: instruments drawn at random from within the tolerances.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::circuit::model::Circuit;
use crate::circuit::state::State;

/// What drawn instruments read. All in ohms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampled {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub deviation: f64,
    /// The band that holds the likely part, equal parts left out on both sides.
    pub likely: [f64; 2],
}

impl Circuit {
    /// Relative changes of every spread for one instrument of a seed, each anywhere within its
    /// tolerance.
    pub fn draw(&self, seed: u64, number: u64) -> Vec<f64> {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        chance.set_stream(number);
        let within = |most: f64, part: f64| most * (2.0 * part - 1.0);
        self.spreads
            .iter()
            .map(|spread| within(spread.most, chance.random()))
            .collect()
    }

    /// Reads so many instruments of a seed between two terminals; none where no path is.
    pub fn sample(
        &self,
        state: &State,
        [from, to]: [usize; 2],
        (seed, instruments): (u64, u32),
    ) -> Option<Sampled> {
        let mut drawn = Vec::new();
        for number in 0..instruments {
            let off = self.draw(seed, u64::from(number));
            let solved = self.network_with(state, &off).solve();
            drawn.push(solved.port(from, to)?.ohms());
        }
        drawn.sort_by(f64::total_cmp);
        let count = f64::from(instruments.max(1));
        let mean = drawn.iter().sum::<f64>() / count;
        let spread = drawn.iter().map(|ohms| (ohms - mean).powi(2)).sum::<f64>();
        // A fortieth on either side.
        let outside = usize::try_from(instruments / 40).unwrap_or_default();
        let low = drawn.get(outside).copied()?;
        let high = drawn.iter().rev().nth(outside).copied()?;
        let deviation = (spread / count).sqrt();
        Some(Sampled {
            mean,
            deviation,
            likely: [low, high],
        })
    }
}
