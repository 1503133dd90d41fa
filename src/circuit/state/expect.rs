//! What a state ought to read, within what, and why.

use crate::circuit::forecast::Spread;
use crate::circuit::model::{COPPER, Circuit};
use crate::circuit::network::Port;
use crate::circuit::state::State;
use crate::reading::Ohms;

/// The likely band holds this part of all instruments whose parts are within tolerance.
pub const LIKELY: f64 = 0.95;
/// The standard normal deviate that holds it.
const DEVIATE: f64 = 1.959_964;

/// What ought to be read between two terminals. All in ohms.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// With every part at its nominal value: infinite where no path is.
    pub ohms: f64,
    /// With every part at the end of its tolerance that reads least.
    pub least: f64,
    /// With every part at the end of its tolerance that reads most.
    pub most: f64,
    /// Standard deviation to first order, every part anywhere within its tolerance.
    pub deviation: f64,
    /// What each spread of the circuit shifts the reading by at the end of its tolerance.
    pub shares: Vec<f64>,
}

impl Expectation {
    /// The band that holds [`LIKELY`] of all good instruments, to first order: never wider than
    /// the worst case.
    pub fn likely(&self) -> [f64; 2] {
        if self.ohms.is_infinite() {
            return [f64::INFINITY; 2];
        }
        let reach = DEVIATE * self.deviation;
        [
            (self.ohms - reach).max(self.least),
            (self.ohms + reach).min(self.most),
        ]
    }

    /// The limits and where they come from, in a sentence.
    pub fn sentence(&self, spreads: &[Spread]) -> String {
        if self.ohms.is_infinite() {
            return "No path joins the two: it must read open.".to_owned();
        }
        let mut parts: Vec<(&Spread, f64)> = spreads
            .iter()
            .zip(&self.shares)
            .map(|(spread, share)| (spread, *share))
            .filter(|(_, share)| *share > 0.0 && *share >= 0.01 * (self.most - self.least))
            .collect();
        parts.sort_by(|one, other| other.1.total_cmp(&one.1));
        let why: Vec<String> = parts
            .iter()
            .take(4)
            .map(|(spread, share)| {
                let off = spread.most * 100.0;
                let typical = if spread.typical {
                    ", a typical one,"
                } else {
                    ""
                };
                format!("{}{typical} ±{off:.0} % (±{})", spread.name, Ohms(*share))
            })
            .collect();
        let (ohms, least, most) = (Ohms(self.ohms), Ohms(self.least), Ohms(self.most));
        let why = if why.is_empty() {
            "nothing that may vary".to_owned()
        } else {
            why.join(", ")
        };
        let basis = if parts.iter().any(|(spread, _)| spread.typical) {
            "typical of the layout, since the job does not give every value"
        } else {
            "by the job's values"
        };
        format!(
            "{ohms} {basis}; {least} to {most} by the parts alone, each at its worst: {why}."
        )
    }
}

impl Circuit {
    /// How much a port's ohms change for each relative change of each spread.
    pub(in crate::circuit) fn gradient(
        &self,
        state: &State,
        ohms: &[f64],
        currents: &[f64],
    ) -> Vec<f64> {
        let mut gradient = vec![0.0; self.spreads.len()];
        for (number, element) in self.elements.iter().enumerate() {
            let (Some(ohms), Some(amperes)) = (ohms.get(number), currents.get(number)) else {
                continue;
            };
            if !ohms.is_finite() {
                continue;
            }
            let felt = ohms * amperes * amperes;
            let copper = element.copper.then_some(COPPER);
            for spread in [Some(self.spread_in(number, state)), copper]
                .into_iter()
                .flatten()
            {
                if let Some(slot) = gradient.get_mut(spread) {
                    *slot += felt;
                }
            }
        }
        gradient
    }

    /// What ought to be read between two terminals in a state.
    pub fn expect(&self, state: &State, [from, to]: [usize; 2]) -> Expectation {
        let network = self.network(state);
        let solved = network.solve();
        let Some(port) = solved.port(from, to) else {
            return Expectation {
                ohms: f64::INFINITY,
                least: f64::INFINITY,
                most: f64::INFINITY,
                deviation: 0.0,
                shares: vec![0.0; self.spreads.len()],
            };
        };
        let ohms: Vec<f64> = network
            .branches()
            .iter()
            .map(|branch| branch.ohms)
            .collect();
        let gradient = self.gradient(state, &ohms, port.currents());
        let shares: Vec<f64> = gradient
            .iter()
            .zip(&self.spreads)
            .map(|(by, spread)| by * spread.most)
            .collect();
        let square = |(by, spread): (&f64, &Spread)| (by * spread.deviation()).powi(2);
        let variance: f64 = gradient.iter().zip(&self.spreads).map(square).sum();
        // Raising any resistance never lowers the reading (Rayleigh, 1899, from memory): the
        // ends of all tolerances together are the ends of the reading.
        let ends = |sign: f64| {
            let off: Vec<f64> = self
                .spreads
                .iter()
                .map(|spread| sign * spread.most)
                .collect();
            let solved = self.network_with(state, &off).solve();
            solved
                .port(from, to)
                .as_ref()
                .map_or(f64::INFINITY, Port::ohms)
        };
        Expectation {
            ohms: port.ohms(),
            least: ends(-1.0),
            most: ends(1.0),
            deviation: variance.sqrt(),
            shares,
        }
    }
}
