//! The figures that are claimed about speed and memory, measured on the real binary:
//! `cargo bench --bench figures` for all of them, `-- circuit`, `-- latency`, `-- ledger`,
//! `-- load`, `-- memory` or
//! `-- replay` for one. Keep the other core idle.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a bench prints what it measured and stops at what it cannot measure"
)]

mod circuit; // every single fault and pairs of faults of the largest layout
mod latency; // last byte of a frame in, JSON line out
mod ledger; // a ledger of 100,000 runs, filtered and listed
mod load; // processor share of a watch
mod memory; // resident memory after a thousand and a million readings
mod replay; // readings a second through a replay

use std::path::PathBuf;
use std::process::Child;

fn main() {
    let asked: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    for (name, figure) in [
        ("circuit", circuit::measure as fn()),
        ("latency", latency::measure),
        ("ledger", ledger::measure),
        ("load", load::measure),
        ("memory", memory::measure),
        ("replay", replay::measure),
    ] {
        if asked.is_empty() || asked.iter().any(|asked| asked == name) {
            figure();
        }
    }
}

/// The program under measurement.
fn program() -> PathBuf {
    PathBuf::from(env!("CARGO_BIN_EXE_steadyohm"))
}

/// Ends a child and waits for it.
fn end(mut child: Child) {
    // It may have ended by itself.
    let _already_gone = child.kill();
    child.wait().unwrap();
}

/// Resident memory of a process in kilobytes.
fn resident_kilobytes(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmRSS:"))
        .unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}
