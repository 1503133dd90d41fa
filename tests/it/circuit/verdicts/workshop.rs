//! The instrument with its fault, the meter that is off, and the technician who goes through
//! the steps as the check asks for them. The readings come from the circuit's own equations with
//! every part off its value; the judging knows only the slopes.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use steadyohm::check::rewire::{further, planned, with_pairs};
use steadyohm::circuit::diagnosis::standing::band;
use steadyohm::circuit::diagnosis::{
    Case, Diagnosis, Evidence, Meter, Observation, Priors, Seen, Verdict,
};
use steadyohm::circuit::{Change, Circuit, Effort, Fault, Forecasts, Job, Layout, Measurement};

/// A stray reading of a shaking hand: one in so many.
const STRAY: f64 = 1.0 / 200.0;
/// Measurements beyond the planned states, as the command has it.
const PROBES: usize = 6;

pub(crate) fn circuit(layout: &Layout) -> Circuit {
    let job = Job::from_text(layout.text, layout.id).unwrap_or_else(|error| panic!("{error}"));
    job.circuit().clone()
}

/// A layout with all that might be wrong with it, one at a time, and the states that the check
/// plans.
pub(crate) struct Bench<'a> {
    circuit: &'a Circuit,
    pub(crate) faults: Vec<Fault>,
    pub(crate) pairs: Vec<[usize; 2]>,
    table: Forecasts,
    planned: Vec<usize>,
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
    /// Readings taken.
    pub(crate) readings: usize,
    pub(crate) story: String,
}

/// What came of opening the instrument.
pub(crate) struct Opened {
    /// Probes as asked for.
    pub(crate) ours: usize,
    /// Probes in the fixed order.
    pub(crate) fixed: usize,
    /// The place of the true fault's group at the jack, and after our probes, from 0.
    pub(crate) ranks: [usize; 2],
    /// The true fault did not show at the jack.
    pub(crate) hidden: bool,
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

/// What was read and asked for so far.
struct Desk<'a> {
    bench: &'a Bench<'a>,
    evidence: Evidence,
    asked: Vec<usize>,
}

impl<'a> Bench<'a> {
    /// With what can be measured at the jack alone.
    pub(crate) fn outside(circuit: &'a Circuit) -> Self {
        Self::of(circuit, &circuit.outside())
    }

    /// With all that can be measured.
    pub(crate) fn whole(circuit: &'a Circuit) -> Self {
        Self::of(circuit, &circuit.measurements())
    }

    fn of(circuit: &'a Circuit, measurements: &[Measurement]) -> Self {
        let faults = circuit.faults();
        let table = circuit.predict(&faults, measurements);
        let meter = Meter::default();
        Self {
            circuit,
            pairs: Circuit::likelier_pairs(&faults),
            faults,
            planned: planned(&table, circuit, &meter),
            table,
            meter,
        }
    }

    /// One reading as the check takes it: what lies outside its band is taken again.
    fn taken(&self, instrument: &Instrument, index: usize) -> Observation {
        let measurement = &self.table.measurements[index];
        let seen = instrument.read(self, measurement, 0);
        let case = Case::new(&self.table, Priors::built_in().unwrap(), self.meter);
        let band = band(&case, index, seen.resolution).unwrap();
        let odd = match seen.seen {
            Seen::Ohms(ohms) => ohms < band.least || ohms > band.most,
            Seen::Over { .. } => band.most.is_finite(),
        };
        if !odd && !seen.unsteady {
            return seen;
        }
        let again = instrument.read(self, measurement, 1);
        let same = match (seen.seen, again.seen) {
            (Seen::Ohms(one), Seen::Ohms(two)) => (one - two).abs() < 0.02 * one + 2.0,
            (one, two) => one == two,
        };
        match (seen.unsteady, again.unsteady) {
            (true, true) => again.again(2),
            (true, false) => seen,
            (false, true) => again,
            // The odd one came again, or it was a stray.
            (false, false) if same => again.again(2),
            (false, false) => instrument.read(self, measurement, 2),
        }
    }

    /// The planned states, then what the diagnosis asks for at the jack.
    fn at_the_jack(&self, instrument: &Instrument) -> Desk<'_> {
        let mut desk = Desk {
            bench: self,
            evidence: Evidence::new(),
            asked: Vec::new(),
        };
        for index in &self.planned {
            desk.take(instrument, *index);
        }
        for _ in 0..PROBES {
            let next = desk.judged(None, |case, found, _| {
                let pass = found.standing(case, &self.planned).verdict == Verdict::Pass;
                let probe = further(case, found, false, &desk.asked).filter(|_| !pass)?;
                let at = probe.measurement;
                (self.table.measurements[at].effort == Effort::Outside).then_some(at)
            });
            let Some(index) = next else { break };
            desk.take(instrument, index);
        }
        desk
    }

    /// What the check makes of an instrument, closed; the true faults are numbers of the list.
    pub(crate) fn through(&self, instrument: &Instrument, truth: &[usize]) -> Found {
        let desk = self.at_the_jack(instrument);
        desk.judged(Some(truth), |case, found, row| {
            let standing = found.standing(case, &self.planned);
            let name = |row: usize| &case.forecasts.hypotheses[row].name;
            let rank = Self::rank(found, row, case);
            let first = &found.groups[0];
            let story = format!(
                "{:?} is at {rank} with {:.4}; first {:?} with {:.4}",
                name(row),
                found.probabilities[row],
                name(first.leader()),
                first.probability
            );
            Found {
                rank,
                verdict: standing.verdict,
                hidden: row > 0 && standing.unseen.contains(&row),
                nothing_fits: found.fit.nothing_fits(),
                readings: desk.evidence.len(),
                story,
            }
        })
    }

    /// The place of a row's group; last of all if only the true pair, which the check did not
    /// suppose, is in it.
    fn rank(found: &Diagnosis, row: usize, case: &Case<'_>) -> usize {
        let rank = found.rank(row).unwrap();
        let supposed = case.forecasts.hypotheses.len() - 1;
        let added = row == supposed && case.forecasts.hypotheses[row].causes.len() > 1;
        if added && found.groups[rank].rows == [row] {
            return usize::MAX;
        }
        rank
    }

    /// Probes inside until sure or nothing is worth it, and in the fixed order until as much is
    /// known. None where the jack alone settles it and the instrument `may` stay closed.
    pub(crate) fn inside(
        &self,
        instrument: &Instrument,
        truth: usize,
        open: bool,
    ) -> Option<Opened> {
        let mut desk = self.at_the_jack(instrument);
        let outside = desk.evidence.clone();
        let (jack, hidden, passes) = desk.judged(Some(&[truth]), |case, found, row| {
            let standing = found.standing(case, &self.planned);
            let hidden = standing.unseen.contains(&row);
            (
                found.rank(row).unwrap(),
                hidden,
                standing.verdict == Verdict::Pass,
            )
        });
        if passes && !open {
            return None;
        }
        let mut ours = 0;
        while let Some(probe) = desk.judged(None, |case, found, _| {
            further(case, found, open || ours > 0, &desk.asked)
        }) {
            let index = probe.measurement;
            ours += usize::from(self.table.measurements[index].effort != Effort::Outside);
            desk.take(instrument, index);
        }
        if ours == 0 {
            return None;
        }
        let (rank, known) = desk.judged(Some(&[truth]), |case, found, row| {
            (found.rank(row).unwrap(), found.uncertainty(case) + 0.02)
        });
        desk.evidence = outside;
        let mut fixed = 0;
        let inward = self.table.measurements.iter().enumerate();
        for (index, _) in inward.filter(|(_, one)| one.effort != Effort::Outside) {
            if desk.judged(None, |case, found, _| found.uncertainty(case)) <= known {
                break;
            }
            desk.take(instrument, index);
            fixed += 1;
        }
        Some(Opened {
            ours,
            fixed,
            ranks: [jack, rank],
            hidden,
        })
    }
}

impl Desk<'_> {
    fn take(&mut self, instrument: &Instrument, index: usize) {
        let seen = self.bench.taken(instrument, index);
        self.evidence.take(index, seen);
        self.asked.push(index);
    }

    /// What the check makes of it: pairs beside the single faults where it supposes them. The
    /// true faults' row is told too; where it is none of the check's it is put last.
    fn judged<T>(
        &self,
        truth: Option<&[usize]>,
        work: impl FnOnce(&Case<'_>, &Diagnosis, usize) -> T,
    ) -> T {
        let bench = self.bench;
        let on = |table: &Forecasts| {
            let mut case = Case::new(table, Priors::built_in().unwrap(), bench.meter);
            case.evidence = self.evidence.clone();
            let found = case.diagnosis();
            with_pairs(&case, &found, bench.circuit).ok_or(found)
        };
        let (mut table, found) = match on(&bench.table) {
            Ok(wider) => (Some(wider), None),
            Err(found) => (None, Some(found)),
        };
        let set = truth.unwrap_or_default();
        let name = |set: &[usize]| {
            let names = set
                .iter()
                .map(|at| bench.faults[*at].hypothesis.name.as_str());
            names.collect::<Vec<&str>>().join(", and ")
        };
        let known = |table: &Forecasts| match set {
            [] => Some(0),
            set => {
                let name = name(set);
                table.hypotheses.iter().position(|row| row.name == name)
            }
        };
        if known(table.as_ref().unwrap_or(&bench.table)).is_none() {
            let measurements = &bench.table.measurements;
            let more = bench
                .circuit
                .predict_sets(&bench.faults, &[set.to_vec()], measurements);
            let wider = table.get_or_insert_with(|| bench.table.clone());
            wider.hypotheses.extend(more.hypotheses);
            wider.rows.extend(more.rows);
        }
        let table = table.as_ref().unwrap_or(&bench.table);
        let mut case = Case::new(table, Priors::built_in().unwrap(), bench.meter);
        case.evidence = self.evidence.clone();
        let rows = table.rows.len();
        let found = found.filter(|found| found.probabilities.len() == rows);
        let found = found.unwrap_or_else(|| case.diagnosis());
        work(&case, &found, known(table).unwrap())
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
