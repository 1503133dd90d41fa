//! Which states are measured, in which order, and what each step asks.

use std::collections::BTreeSet;

use crate::check::notice::StepName;
use crate::circuit::diagnosis::standing::{Band, parts};
use crate::circuit::diagnosis::{Meter, Observation, Seen};
use crate::circuit::{Circuit, Effort, Forecasts, Measurement};

/// One measurement to take.
#[derive(Debug, Clone, PartialEq)]
pub struct ValuePlan {
    /// Its name in the command contract.
    pub name: StepName,
    /// Its number in the table.
    pub measurement: usize,
    /// What the operator is asked to do.
    pub prompt: String,
    /// What it reads with every part at its nominal value, in ohms; infinite for open.
    pub ohms: f64,
    /// What all parts at the ends of their tolerances shift that by, in ohms.
    pub parts: f64,
    /// It may read as the one before it does, so only Enter tells that it is set.
    pub alike: bool,
    /// The parts that matter to it and whose value nobody gave, in words.
    pub typical: Vec<String>,
}

/// What is typical holds to within this factor: pickups from 2 kΩ to 16 kΩ are in common use
/// (common practice, no source).
const TYPICAL_FACTOR: f64 = 3.0;
/// A part matters from this share of what all parts shift a reading by.
const MATTERS: f64 = 0.1;

impl ValuePlan {
    /// Between what a sound instrument reads on this meter.
    pub fn band(&self, meter: &Meter, resolution: f64) -> Band {
        Band::around(self.ohms, self.parts, meter, resolution)
    }

    /// A reading outside the band may be no more than another value of a part whose own nobody
    /// gave.
    pub fn only_typical(&self, seen: &Observation) -> bool {
        let Seen::Ohms(ohms) = seen.seen else {
            return false;
        };
        let near = self.ohms / TYPICAL_FACTOR..self.ohms * TYPICAL_FACTOR;
        !self.typical.is_empty() && near.contains(&ohms)
    }

    /// The band to tell beside a reading.
    pub fn told_band(&self, meter: &Meter, seen: Option<&Observation>) -> Band {
        Band::told(self.ohms, self.parts, meter, seen)
    }
}

/// The name of a measurement's step: the state where it is at the jack, else where to probe.
pub fn step_name(circuit: &Circuit, measurement: &Measurement) -> StepName {
    let [tip, sleeve] = circuit.jack();
    let set = circuit.describe(&measurement.state);
    let set = set
        .strip_suffix(", everything full up")
        .unwrap_or(&set)
        .to_owned();
    if measurement.effort == Effort::Outside && measurement.between == [tip, sleeve] {
        set.into()
    } else if measurement.effort == Effort::Outside
        && circuit
            .ring()
            .is_some_and(|ring| measurement.between == [ring, sleeve])
    {
        format!("ring, {set}").into()
    } else {
        measurement.name.as_str().into()
    }
}

/// The measurement of a step's name.
pub fn find_measurement(circuit: &Circuit, all: &[Measurement], name: &str) -> Option<usize> {
    all.iter()
        .position(|measurement| step_name(circuit, measurement) == name)
}

/// The fewest measurements at the jack that see every fault which all of them see, in the order
/// of least moving: every position full up, and in each the controls that are turned there. A
/// position with a control turned is never the last, so that the control's way back is read too.
pub fn planned(table: &Forecasts, circuit: &Circuit, meter: &Meter) -> Vec<usize> {
    let outside = |index: &usize| {
        let known = table.measurements.get(*index);
        known.is_some_and(|known| known.effort == Effort::Outside)
    };
    let all: Vec<usize> = (0..table.measurements.len()).filter(outside).collect();
    let state = |index: usize| table.measurements.get(index).map(|known| &known.state);
    let positions = circuit.positions();
    let mut chosen: BTreeSet<usize> = all
        .iter()
        .copied()
        .filter(|index| state(*index).is_some_and(|state| positions.contains(state)))
        .collect();
    let seen = |index: usize| shown(table, index, meter);
    let mut unseen: BTreeSet<usize> = all.iter().flat_map(|index| seen(*index)).collect();
    for index in &chosen {
        unseen.retain(|row| !seen(*index).contains(row));
    }
    let shows: Vec<(usize, BTreeSet<usize>)> =
        all.iter().map(|index| (*index, seen(*index))).collect();
    while !unseen.is_empty() {
        let gain = |rows: &BTreeSet<usize>| rows.intersection(&unseen).count();
        let best = shows
            .iter()
            .rev()
            .max_by_key(|(_, rows)| gain(rows))
            .filter(|(_, rows)| gain(rows) > 0);
        let Some((index, rows)) = best else { break };
        chosen.insert(*index);
        unseen.retain(|row| !rows.contains(row));
    }
    ordered(table, &positions, &chosen)
}

/// What stays meaningful inside an active circuit without its battery: every pickup at its own
/// wires, in the first position, and all metal to ground.
pub(super) fn meaningful(table: &Forecasts) -> Vec<usize> {
    let first = table
        .measurements
        .iter()
        .find(|it| it.effort == Effort::Inside);
    let all = table.measurements.iter().enumerate();
    all.filter(|(_, known)| {
        let at_rest = first.is_some_and(|first| first.state == known.state);
        let own = known.name.contains(" at its own wires: ") || known.name.contains("sleeve");
        known.effort == Effort::Inside && at_rest && own
    })
    .map(|(index, _)| index)
    .collect()
}

/// The rows of faults that a measurement alone would show.
pub(super) fn shown(table: &Forecasts, measurement: usize, meter: &Meter) -> BTreeSet<usize> {
    let of = |row: usize| table.rows.get(row)?.get(measurement);
    let Some(sound) = of(0) else {
        return BTreeSet::new();
    };
    let band = Band::around(sound.ohms, parts(sound, &table.spreads), meter, 0.0);
    (1..table.rows.len())
        .filter(|row| {
            of(*row).is_some_and(|found| found.ohms < band.least || found.ohms > band.most)
        })
        .collect()
}

fn ordered(
    table: &Forecasts,
    positions: &[crate::circuit::State],
    chosen: &BTreeSet<usize>,
) -> Vec<usize> {
    let state = |index: usize| table.measurements.get(index).map(|known| &known.state);
    let mut groups: Vec<Vec<usize>> = positions
        .iter()
        .map(|position| {
            let same = |index: &usize| {
                state(*index).is_some_and(|state| state.positions == position.positions)
            };
            chosen.iter().copied().filter(same).collect()
        })
        .collect();
    // The metal is probed last: the probes leave the jack for it.
    let jack = |index: &usize| {
        let known = table.measurements.get(*index);
        known.is_some_and(|known| known.name.starts_with("at the jack"))
    };
    let metal: Vec<usize> = chosen.iter().copied().filter(|at| !jack(at)).collect();
    for group in &mut groups {
        group.retain(jack);
    }
    groups.sort_by_key(|group| group.len() < 2);
    groups.into_iter().flatten().chain(metal).collect()
}

/// Whose values nobody gave, of the parts that matter to a measurement.
fn typical(table: &Forecasts, measurement: usize, parts: f64) -> Vec<String> {
    let sound = table.rows.first().and_then(|row| row.get(measurement));
    let slopes = sound.map_or(&[][..], |sound| &sound.gradient);
    let spreads = slopes.iter().zip(&table.spreads);
    spreads
        .filter(|(slope, spread)| {
            spread.typical && (**slope * spread.most).abs() > MATTERS * parts
        })
        .map(|(_, spread)| spread.name.clone())
        .collect()
}

/// A measurement as a step, after the one before it.
pub(super) fn step(
    table: &Forecasts,
    circuit: &Circuit,
    (measurement, before): (usize, Option<usize>),
    meter: &Meter,
) -> Option<ValuePlan> {
    let known = table.measurements.get(measurement)?;
    let expected = |index: usize| {
        let sound = table.rows.first()?.get(index)?;
        Some((sound.ohms, parts(sound, &table.spreads)))
    };
    let (ohms, parts) = expected(measurement)?;
    let mut plan = ValuePlan {
        name: step_name(circuit, known),
        measurement,
        prompt: String::new(),
        ohms,
        parts,
        alike: false,
        typical: typical(table, measurement, parts),
    };
    let earlier = before.and_then(|index| table.measurements.get(index));
    let moved = earlier.is_some_and(|earlier| earlier.between != known.between);
    plan.alike = before.and_then(expected).is_some_and(|(other, off)| {
        let (one, other) = (plan.band(meter, 0.0), Band::around(other, off, meter, 0.0));
        moved || (one.least <= other.most && other.least <= one.most)
    });
    plan.prompt = prompt(circuit, known, (earlier.is_none(), moved), plan.alike);
    Some(plan)
}

fn prompt(
    circuit: &Circuit,
    known: &Measurement,
    (first, moved): (bool, bool),
    alike: bool,
) -> String {
    let jack = known.name.starts_with("at the jack");
    let ring = circuit
        .ring()
        .is_some_and(|ring| known.between.contains(&ring));
    let set = circuit.describe(&known.state);
    let terminal = if ring { "ring" } else { "tip" };
    let task = match (jack, first || moved) {
        (true, true) => format!(
            "A good lead in the jack, the probes on its {terminal} and sleeve. Set: {set}."
        ),
        (true, false) => format!("Set: {set}."),
        (false, _) => format!("Measure {}.", known.name),
    };
    if alike {
        format!("{task} It may read as before: press Enter when it is set.")
    } else {
        task
    }
}

/// Whether two readings at rest are one and the same value.
pub(super) fn agree(one: &Observation, other: &Observation) -> bool {
    match (one.seen, other.seen) {
        (Seen::Ohms(a), Seen::Ohms(b)) => {
            let digits = 3.0 * one.resolution.max(other.resolution);
            (a - b).abs() <= (0.02 * a.abs().max(b.abs())).max(1.0).max(digits)
        }
        (Seen::Over { .. }, Seen::Over { .. }) => true,
        _ => false,
    }
}
