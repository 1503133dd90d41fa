//! The maths of the stream, each against a reference of its own.

mod baseline; // medians, summaries: NIST reference datasets, statrs
mod blind_spot; // the chance of seeing a break: a brute-force meter
mod coverage; // how much bending is enough: the exact binomial of statrs
mod decimation; // no spike is ever lost, no memory ever grows
mod interval; // the time between readings: a sorted list
mod sample; // how many to test, and what it proves: statrs, worked plans, enumeration
mod sweep; // sweeps of a control: a reference library, simulated hands
mod trial; // aperture and fraction from counts: statrs, a brute-force meter
mod uncertainty; // how far a reading may be off: the arithmetic of the guide

/// Refuses a value away from its reference by more than a tolerance of the same unit.
#[track_caller]
fn close(value: f64, reference: f64, tolerance: f64) {
    assert!(
        (value - reference).abs() <= tolerance,
        "{value} is not {reference} within {tolerance}"
    );
}
