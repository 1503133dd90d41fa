//! Every single fault, and pairs of the likelier ones, against every measurement of the largest
//! layout: `cargo bench --bench figures -- circuit`.

use std::time::Instant;

use steadyohm::circuit::{Circuit, Forecasts, Job, LAYOUTS};

/// Of so many runs the quickest is told: the machine's own work is no part of the figure.
const RUNS: usize = 30;

pub(crate) fn measure() {
    for layout in LAYOUTS {
        let job = Job::from_text(layout.text, layout.id).unwrap();
        let circuit = job.circuit();
        let faults = circuit.faults();
        let (outside, all) = (circuit.outside(), circuit.measurements());
        for (what, measurements) in [("at the jack", &outside), ("in all", &all)] {
            let (took, forecasts) = quickest(|| circuit.predict(&faults, measurements));
            told(layout.id, "single faults", what, &forecasts, took);
        }
        let pairs = Circuit::likelier_pairs(&faults);
        let (took, forecasts) = quickest(|| circuit.predict_pairs(&faults, &pairs, &outside));
        told(layout.id, "pairs", "at the jack", &forecasts, took);
    }
}

fn quickest(run: impl Fn() -> Forecasts) -> (f64, Forecasts) {
    let mut best: Option<(f64, Forecasts)> = None;
    for _ in 0..RUNS {
        let began = Instant::now();
        let forecasts = run();
        let took = began.elapsed().as_secs_f64() * 1e3;
        if best.as_ref().is_none_or(|(least, _)| took < *least) {
            best = Some((took, forecasts));
        }
    }
    best.unwrap()
}

fn told(layout: &str, what: &str, where_: &str, forecasts: &Forecasts, took: f64) {
    let (rows, columns) = (forecasts.rows.len(), forecasts.measurements.len());
    println!("{layout}: {what} {where_}, {rows} x {columns}: {took:.2} ms");
}
