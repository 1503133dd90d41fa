//! The instrument with its fault, the meter that is off, and the technician who goes through
//! the steps. The readings come from the circuit's own equations with every part off its
//! value; the judging knows only the slopes.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use steadyohm::circuit::diagnosis::standing::band;
use steadyohm::circuit::diagnosis::{Case, Meter, Next, Observation, Priors, Seen, Verdict};
use steadyohm::circuit::{Change, Circuit, Effort, Fault, Forecasts, Job, Layout, Measurement};

/// A stray reading of a shaking hand: one in so many.
const STRAY: f64 = 1.0 / 200.0;

pub(crate) fn circuit(layout: &Layout) -> Circuit {
    let job = Job::from_text(layout.text, layout.id).unwrap_or_else(|error| panic!("{error}"));
    job.circuit().clone()
}

/// A layout with all that might be wrong with it.
pub(crate) struct Bench<'a> {
    circuit: &'a Circuit,
    pub(crate) faults: Vec<Fault>,
    pub(crate) pairs: Vec<[usize; 2]>,
    sets: Vec<Vec<usize>>,
    table: Forecasts,
    meter: Meter,
}

/// What came of the readings at the jack.
pub(crate) struct Found {
    /// The place of the true fault's group, from 0.
    pub(crate) rank: usize,
    pub(crate) verdict: Verdict,
    /// The true fault is one that these readings do not show.
    pub(crate) hidden: bool,
    pub(crate) nothing_fits: bool,
    pub(crate) story: String,
}

/// What came of opening the instrument.
pub(crate) struct Opened {
    /// Probes as asked for.
    pub(crate) ours: usize,
    /// Probes in the fixed order.
    pub(crate) fixed: usize,
    /// The place of the true fault's group after ours, from 0.
    pub(crate) rank: usize,
}

/// One instrument with its parts, its faults and the meter it meets.
pub(crate) struct Instrument {
    off: Vec<f64>,
    changes: Vec<Change>,
    comes_and_goes: bool,
    gain: f64,
    offset: f64,
    seed: u64,
}

impl<'a> Bench<'a> {
    pub(crate) fn singles(circuit: &'a Circuit) -> Self {
        Self::of(circuit, Vec::new(), &circuit.measurements())
    }

    pub(crate) fn pairs(circuit: &'a Circuit) -> Self {
        let pairs = Circuit::likelier_pairs(&circuit.faults());
        Self::of(circuit, pairs, &circuit.outside())
    }

    fn of(circuit: &'a Circuit, pairs: Vec<[usize; 2]>, measurements: &[Measurement]) -> Self {
        let faults = circuit.faults();
        let singles = (0..faults.len()).map(|fault| vec![fault]);
        let sets: Vec<Vec<usize>> = std::iter::once(Vec::new())
            .chain(singles)
            .chain(pairs.iter().map(|pair| pair.to_vec()))
            .collect();
        let table = circuit.predict_sets(&faults, &sets, measurements);
        Self {
            circuit,
            faults,
            pairs,
            sets,
            table,
            meter: Meter::default(),
        }
    }

    /// The row of a set of faults.
    pub(crate) fn row(&self, set: &[usize]) -> usize {
        self.sets.iter().position(|known| known == set).unwrap()
    }

    fn case(&self) -> Case<'_> {
        Case::new(&self.table, Priors::built_in().unwrap(), self.meter)
    }

    fn at_the_jack(&self) -> Vec<usize> {
        let all = self.table.measurements.iter().enumerate();
        let outside = all.filter(|(_, one)| one.effort == Effort::Outside);
        outside.map(|(index, _)| index).collect()
    }

    /// Every state at the jack; what lies outside its band is taken again.
    fn readings(&self, instrument: &Instrument) -> Case<'_> {
        let mut case = self.case();
        for index in self.at_the_jack() {
            let measurement = &self.table.measurements[index];
            let mut seen = instrument.read(self, measurement, 0);
            let band = band(&case, index, seen.resolution).unwrap();
            let odd = match seen.seen {
                Seen::Ohms(ohms) => ohms < band.least || ohms > band.most,
                Seen::Over { .. } => band.most.is_finite(),
            };
            if odd || seen.unsteady {
                let again = instrument.read(self, measurement, 1);
                let same = match (seen.seen, again.seen) {
                    (Seen::Ohms(one), Seen::Ohms(two)) => (one - two).abs() < 0.02 * one + 2.0,
                    (one, two) => one == two,
                };
                seen = match (seen.unsteady, again.unsteady) {
                    (true, true) => again.again(2),
                    (true, false) => seen,
                    (false, true) => again,
                    // The odd one came again, or it was a stray.
                    (false, false) if same => again.again(2),
                    (false, false) => instrument.read(self, measurement, 2),
                };
            }
            case.evidence.take(index, seen);
        }
        case
    }

    pub(crate) fn outside(&self, instrument: &Instrument, truth: usize) -> Found {
        let case = self.readings(instrument);
        let found = case.diagnosis();
        let rank = found.rank(truth).unwrap();
        let standing = found.standing(&case, &self.at_the_jack());
        let name = |row: usize| &self.table.hypotheses[row].name;
        let leader = found.first().unwrap().leader();
        let chance = found.groups[rank].probability;
        let story = format!(
            "{:?} is at {rank} with {chance:.4}; first {:?} with {:.4}",
            name(truth),
            name(leader),
            found.groups[0].probability
        );
        Found {
            rank,
            verdict: standing.verdict,
            hidden: truth > 0 && rank == 0 && standing.unseen.contains(&truth),
            nothing_fits: found.fit.nothing_fits(),
            story,
        }
    }

    /// Probes inside until sure or nothing is worth it, and in the fixed order until as much is
    /// known. None where the jack alone settles it.
    pub(crate) fn inside(&self, instrument: &Instrument, truth: usize) -> Option<Opened> {
        let outside = self.readings(instrument);
        let Next::Take(_) = outside.diagnosis().next(&outside, false) else {
            return None;
        };
        let (mut case, mut ours) = (outside.clone(), 0);
        let mut found = case.diagnosis();
        while let Next::Take(probe) = found.next(&case, ours > 0) {
            let measurement = &self.table.measurements[probe.measurement];
            let seen = instrument.read(self, measurement, 0);
            case.evidence.take(probe.measurement, seen);
            ours += usize::from(measurement.effort != Effort::Outside);
            found = case.diagnosis();
        }
        let rank = found.rank(truth).unwrap();
        let known = found.uncertainty(&case) + 0.02;
        let (mut case, mut fixed) = (outside, 0);
        let inward = self.table.measurements.iter().enumerate();
        let inward = inward.filter(|(_, one)| one.effort != Effort::Outside);
        for (index, measurement) in inward {
            if case.diagnosis().uncertainty(&case) <= known {
                break;
            }
            let seen = instrument.read(self, measurement, 0);
            case.evidence.take(index, seen);
            fixed += 1;
        }
        Some(Opened { ours, fixed, rank })
    }
}

impl Instrument {
    pub(crate) fn with(bench: &Bench<'_>, set: &[usize], seed: u64) -> Self {
        let number = set.iter().fold(1, |sum, fault| sum * 1000 + fault);
        let number = u64::try_from(number).unwrap();
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        chance.set_stream(number);
        let mut within = |most: f64| most * (2.0 * chance.random::<f64>() - 1.0);
        let faults: Vec<&Fault> = set.iter().map(|fault| &bench.faults[*fault]).collect();
        let changes = faults.iter().map(|fault| match fault.change.clone() {
            // Anywhere within its step of sizes, a quarter of a decade each way.
            Change::More { element, ohms } => Change::More {
                element,
                ohms: ohms * 10.0_f64.powf(within(0.25)),
            },
            Change::Times { elements, factor } => Change::Times {
                elements,
                factor: factor * (1.0 + within(0.2)),
            },
            change => change,
        });
        Self {
            changes: changes.collect(),
            comes_and_goes: faults.iter().any(|fault| fault.is_intermittent()),
            gain: within(bench.meter.accuracy),
            offset: within(bench.meter.counts),
            off: bench.circuit.draw(seed, number),
            seed: seed * 1_000_003 + number,
        }
    }

    fn ohms(&self, bench: &Bench<'_>, at: &Measurement, shows: bool) -> f64 {
        let changes: Vec<&Change> = self.changes.iter().filter(|_| shows).collect();
        let network = bench.circuit.faulty_with(&at.state, &changes, &self.off);
        network.resistance(at.between[0], at.between[1])
    }

    /// What the meter shows, for the so-manyth time.
    fn read(&self, bench: &Bench<'_>, at: &Measurement, time: u64) -> Observation {
        let mut chance = ChaCha8Rng::seed_from_u64(self.seed);
        let place = bench.table.measurements.iter().position(|one| one == at);
        chance.set_stream(u64::try_from(place.unwrap()).unwrap() * 8 + time);
        let (stray, moves, caught): (f64, f64, f64) =
            (chance.random(), chance.random(), chance.random());
        let touch = 0.4 * chance.random::<f64>();
        let held = self.ohms(bench, at, !self.comes_and_goes);
        if stray < STRAY {
            let ohms = 10.0_f64.powf(6.0 * chance.random::<f64>());
            return self.shown(bench, ohms);
        }
        if self.comes_and_goes {
            let open = self.ohms(bench, at, true);
            let differ =
                open.is_finite() != held.is_finite() || (open - held).abs() > 0.02 * held;
            if differ && moves < 0.5 {
                return self.shown(bench, held + touch).moving();
            }
            if differ && caught < 0.3 {
                return self.shown(bench, open + touch);
            }
        }
        self.shown(bench, held + touch)
    }

    /// Rounded to the digits of the lowest range that holds it.
    fn shown(&self, bench: &Bench<'_>, ohms: f64) -> Observation {
        let ranges = (0..6).map(|decade| 400.0 * 10.0_f64.powi(decade));
        let off =
            |range: f64| ohms * (1.0 + self.gain) + self.offset * range / bench.meter.span;
        let range = ranges.clone().find(|range| off(*range) < *range);
        let Some(range) = range else {
            return Observation::once(Seen::Over {
                beyond: Some(bench.meter.top),
            });
        };
        let digit = range / bench.meter.span;
        Observation {
            resolution: digit,
            ..Observation::once(Seen::Ohms((off(range) / digit).round() * digit))
        }
    }
}
