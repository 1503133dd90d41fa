//! Every supposed fault against every measurement.

use crate::circuit::fault::{Change, Fault};
use crate::circuit::forecast::{Ailment, Forecast, Forecasts, Hypothesis, Measurement};
use crate::circuit::model::{CONTACTS, COPPER, Circuit};
use crate::circuit::network::{Edit, Port, Response, Solved, Thing};
use crate::circuit::state::State;

/// A fault in one state.
enum Prepared {
    /// A step on the state's factorisation.
    Step(Thing),
    /// Nothing that the state would notice.
    Same,
    /// Only another network tells.
    Anew,
}

/// One state with every fault prepared in it.
struct Stage<'a> {
    circuit: &'a Circuit,
    state: &'a State,
    solved: Solved,
    prepared: Vec<Prepared>,
    /// For each branch its spreads.
    spreads: Vec<(usize, Option<usize>)>,
}

impl Circuit {
    /// The forecasts of the circuit as it ought to be and of each single fault.
    pub fn predict(&self, faults: &[Fault], measurements: &[Measurement]) -> Forecasts {
        let sets: Vec<Vec<usize>> = std::iter::once(Vec::new())
            .chain((0..faults.len()).map(|fault| vec![fault]))
            .collect();
        self.predict_sets(faults, &sets, measurements)
    }

    /// The forecasts of the circuit as it ought to be and of each of these pairs of faults.
    pub fn predict_pairs(
        &self,
        faults: &[Fault],
        pairs: &[[usize; 2]],
        measurements: &[Measurement],
    ) -> Forecasts {
        let sets: Vec<Vec<usize>> = std::iter::once(Vec::new())
            .chain(pairs.iter().map(|pair| pair.to_vec()))
            .collect();
        self.predict_sets(faults, &sets, measurements)
    }

    /// The forecasts of sets of faults, each a list of numbers of `faults`.
    pub fn predict_sets(
        &self,
        faults: &[Fault],
        sets: &[Vec<usize>],
        measurements: &[Measurement],
    ) -> Forecasts {
        let hypotheses: Vec<Hypothesis> =
            sets.iter().map(|set| together(faults, set)).collect();
        let mut rows: Vec<Vec<Forecast>> = sets
            .iter()
            .map(|_| vec![Forecast::open(0); measurements.len()])
            .collect();
        let mut done = vec![false; measurements.len()];
        for first in 0..measurements.len() {
            if done.get(first) != Some(&false) {
                continue;
            }
            let Some(state) = measurements
                .get(first)
                .map(|measurement| &measurement.state)
            else {
                continue;
            };
            let stage = Stage::of(self, faults, state);
            let alike = measurements.iter().zip(&mut done).enumerate().skip(first);
            for (column, (measurement, done)) in alike {
                if measurement.state == *state {
                    *done = true;
                    stage.column(faults, sets, measurement.between, |row, forecast| {
                        if let Some(slot) =
                            rows.get_mut(row).and_then(|row| row.get_mut(column))
                        {
                            *slot = forecast;
                        }
                    });
                }
            }
        }
        let (spreads, measurements) = (self.spreads.clone(), measurements.to_vec());
        Forecasts {
            spreads,
            measurements,
            hypotheses,
            rows,
        }
    }
}

/// The hypothesis that all of a set hold.
fn together(faults: &[Fault], set: &[usize]) -> Hypothesis {
    let found: Vec<&Hypothesis> = set
        .iter()
        .filter_map(|at| faults.get(*at))
        .map(|fault| &fault.hypothesis)
        .collect();
    let names: Vec<&str> = found.iter().map(|one| one.name.as_str()).collect();
    let name = if names.is_empty() {
        "everything is as the job says".to_owned()
    } else {
        names.join(", and ")
    };
    let causes = found
        .iter()
        .flat_map(|one| one.causes.iter().cloned())
        .collect();
    let own = found
        .iter()
        .flat_map(|one| one.own.iter().cloned())
        .collect();
    Hypothesis { name, causes, own }
}

impl<'a> Stage<'a> {
    fn of(circuit: &'a Circuit, faults: &'a [Fault], state: &'a State) -> Self {
        let solved = circuit.network(state).solve();
        let prepare = |fault: &Fault| match circuit.edits(&fault.change, state).as_deref() {
            Some([]) => Prepared::Same,
            Some([edit]) => Prepared::Step(solved.thing(*edit)),
            Some(_) | None => Prepared::Anew,
        };
        let prepared = faults.iter().map(prepare).collect();
        let spreads = circuit
            .elements
            .iter()
            .enumerate()
            .map(|(number, element)| {
                let copper = element.copper.then_some(COPPER);
                (circuit.spread_in(number, state), copper)
            });
        let spreads = spreads.collect();
        Self {
            circuit,
            state,
            solved,
            prepared,
            spreads,
        }
    }

    /// One measurement of every set.
    fn column(
        &self,
        faults: &[Fault],
        sets: &[Vec<usize>],
        ends: [usize; 2],
        mut put: impl FnMut(usize, Forecast),
    ) {
        let [from, to] = ends;
        let port = self.solved.port(from, to);
        for (row, set) in sets.iter().enumerate() {
            put(row, self.forecast(faults, set, ends, port.as_ref()));
        }
    }

    fn forecast(
        &self,
        faults: &[Fault],
        set: &[usize],
        ends: [usize; 2],
        port: Option<&Port>,
    ) -> Forecast {
        let mut things = Vec::with_capacity(set.len());
        for at in set {
            match self.prepared.get(*at) {
                Some(Prepared::Step(thing)) => things.push(thing),
                Some(Prepared::Same) | None => {}
                Some(Prepared::Anew) => return self.anew(faults, set, ends),
            }
        }
        // Two faults of one place add up, which no step from the sound circuit tells.
        let branch = |thing: &Thing| match thing.edit() {
            Edit::Set { branch, .. } => Some(branch),
            Edit::Bridge { .. } => None,
        };
        let twice = things.iter().enumerate().any(|(at, thing)| {
            let mut others = things.iter().take(at);
            branch(thing).is_some() && others.any(|other| branch(other) == branch(thing))
        });
        if twice {
            return self.anew(faults, set, ends);
        }
        let response = self.solved.response(ends, port, &things);
        let own = set.iter().filter_map(|at| {
            let fault = faults
                .get(*at)
                .filter(|fault| !fault.hypothesis.own.is_empty())?;
            let place = set.iter().take_while(|other| *other != at);
            let steps = place
                .filter(|other| matches!(self.prepared.get(**other), Some(Prepared::Step(_))));
            let amperes = match self.prepared.get(*at) {
                Some(Prepared::Step(_)) => response.own.get(steps.count()).copied(),
                _ => None,
            };
            Some(self.own(fault, &[amperes.unwrap_or(0.0)]))
        });
        let own: Vec<f64> = own.collect();
        let changed: Vec<Edit> = things.iter().map(|thing| thing.edit()).collect();
        self.finished(&response, &changed, &own)
    }

    /// The change in ohms for a relative change of a fault's own value.
    fn own(&self, fault: &Fault, amperes: &[f64]) -> f64 {
        let ohms = match &fault.change {
            Change::More { ohms, .. } => vec![*ohms],
            Change::Times { elements, factor } => elements
                .iter()
                .filter(|element| self.circuit.has_value(**element, self.state))
                .map(|element| self.circuit.ohms(*element, self.state) * factor)
                .collect(),
            _ => Vec::new(),
        };
        let felt = ohms
            .iter()
            .zip(amperes)
            .map(|(ohms, amperes)| ohms * amperes * amperes);
        felt.sum()
    }

    /// The forecast of a response, with what the parts' spreads do to it.
    fn finished(&self, response: &Response, changed: &[Edit], own: &[f64]) -> Forecast {
        let count = self.circuit.spreads.len();
        if response.ohms.is_infinite() {
            return Forecast::open(count + own.len());
        }
        let mut gradient = vec![0.0; count + own.len()];
        let branches = self.solved.network().branches();
        let currents = response.currents.iter();
        for (number, ((branch, amperes), spreads)) in
            branches.iter().zip(currents).zip(&self.spreads).enumerate()
        {
            if !branch.ohms.is_finite() {
                continue;
            }
            // A bad joint's own ohms are the fault's; a part of another value varies in
            // proportion to what it has.
            let ohms = changed.iter().fold(branch.ohms, |ohms, edit| match edit {
                Edit::Set { branch, ohms: now }
                    if *branch == number && spreads.0 != CONTACTS =>
                {
                    *now
                }
                _ => ohms,
            });
            let felt = if ohms.is_finite() {
                ohms * amperes * amperes
            } else {
                0.0
            };
            for spread in [Some(spreads.0), spreads.1].into_iter().flatten() {
                if let Some(slot) = gradient.get_mut(spread) {
                    *slot += felt;
                }
            }
        }
        for (slot, own) in gradient.iter_mut().skip(count).zip(own) {
            *slot = *own;
        }
        Forecast {
            ohms: response.ohms,
            gradient,
        }
    }

    /// By a network of its own.
    fn anew(&self, faults: &[Fault], set: &[usize], [from, to]: [usize; 2]) -> Forecast {
        let found: Vec<&Fault> = set.iter().filter_map(|at| faults.get(*at)).collect();
        let changes: Vec<&Change> = found.iter().map(|fault| &fault.change).collect();
        let owning = found
            .iter()
            .filter(|fault| !fault.hypothesis.own.is_empty());
        let network = self.circuit.faulty(self.state, &changes);
        let Some(port) = network.solve().port(from, to) else {
            return Forecast::open(self.circuit.spreads.len() + owning.count());
        };
        let ohms: Vec<f64> = network
            .branches()
            .iter()
            .map(|branch| branch.ohms)
            .collect();
        let mut gradient = self.circuit.gradient(self.state, &ohms, port.currents());
        for fault in owning {
            let elements: Vec<usize> = match &fault.change {
                Change::More { element, .. } => vec![*element],
                Change::Times { elements, .. } => elements
                    .iter()
                    .copied()
                    .filter(|element| self.circuit.has_value(*element, self.state))
                    .collect(),
                _ => Vec::new(),
            };
            let amperes = |at: &usize| port.currents().get(*at).copied().unwrap_or(0.0);
            let amperes: Vec<f64> = elements.iter().map(amperes).collect();
            gradient.push(self.own(fault, &amperes));
        }
        Forecast {
            ohms: port.ohms(),
            gradient,
        }
    }
}

impl Fault {
    /// Whether it comes and goes.
    pub fn is_intermittent(&self) -> bool {
        let mut causes = self.hypothesis.causes.iter();
        causes.any(|cause| cause.ailment == Ailment::Intermittent)
    }
}
