//! Two faults at once: supposed where no single one explains all that was read.
//!
//! Every pair of the likelier faults is held against the readings taken; those that explain
//! them best join the table, with all their measurements, so that what is asked next can tell
//! them apart too.

use crate::circuit::diagnosis::{Case, Diagnosis, Evidence};
use crate::circuit::{Circuit, Fault, Forecasts};

/// Pairs that join the table.
const CLOSELY: usize = 48;
/// Readings as far off as these come less often than this, were the likeliest single fault
/// true: pairs are held against them.
const DOUBTFUL: f64 = 0.05;

/// The table with the likeliest pairs beside every single fault; none where a single fault, or
/// a sound instrument, explains every reading well.
pub fn with_pairs(case: &Case<'_>, found: &Diagnosis, circuit: &Circuit) -> Option<Forecasts> {
    let explained = found.fit.stray.is_empty() && found.fit.level >= DOUBTFUL;
    if explained || case.evidence.is_empty() {
        return None;
    }
    let faults = circuit.faults();
    let pairs = likeliest(case, circuit, &faults);
    let more = circuit.predict_sets(&faults, &pairs, &case.forecasts.measurements);
    let mut table = case.forecasts.clone();
    table.hypotheses.extend(more.hypotheses);
    table.rows.extend(more.rows);
    Some(table)
}

/// The pairs that explain best what was read, the best first.
fn likeliest(case: &Case<'_>, circuit: &Circuit, faults: &[Fault]) -> Vec<Vec<usize>> {
    let taken = case.evidence.iter();
    let measurements: Vec<_> = taken
        .filter_map(|(index, _)| case.measurement(index).cloned())
        .collect();
    let sets: Vec<Vec<usize>> = std::iter::once(Vec::new())
        .chain(
            Circuit::likelier_pairs(faults)
                .iter()
                .map(|pair| pair.to_vec()),
        )
        .collect();
    let table = circuit.predict_sets(faults, &sets, &measurements);
    let mut narrow = Case::new(&table, case.priors, case.meter);
    narrow.evidence = Evidence::new();
    for (place, (_, observation)) in case.evidence.iter().enumerate() {
        narrow.evidence.take(place, *observation);
    }
    let mut order: Vec<(f64, Vec<usize>)> = sets
        .into_iter()
        .enumerate()
        .skip(1)
        .filter_map(|(row, set)| {
            let causes = &table.hypotheses.get(row)?.causes;
            let log = case.priors.log_odds(causes) + narrow.likelihood(row).log;
            Some((log, set))
        })
        .collect();
    order.sort_by(|(left, _), (right, _)| right.total_cmp(left));
    order.truncate(CLOSELY);
    order.into_iter().map(|(_, set)| set).collect()
}
