//! Faults, places, rates and hands: what is found, placed, missed and falsely failed.
//!
//! A few seeds with every test run; `SEEDS=50 cargo test --test it pot::table -- --nocapture`
//! prints the whole table.
#![expect(clippy::print_stdout, reason = "the table is there to be read")]

use std::collections::BTreeMap;

use steadyohm::bench::{MeterSettings, PotFault, Ranging, Turning};
use steadyohm::check::notice::{Notice, Verdict};
use steadyohm::circuit::control::{Law, Wiring};
use steadyohm::reading::Seconds;
use steadyohm::signal::sweep::{Analysis, EventKind, Grade};

use super::run::Run;

const RATES: [f64; 4] = [2.0, 5.0, 20.0, 100.0];
const LAWS: [Law; 2] = [Law::Linear, Law::Exponential { mid: 0.15 }];
const SEATS: [(&str, Option<Wiring>); 3] = [
    ("bench", None),
    ("jack", Some(Wiring::Standard)),
    ("jack, independent", Some(Wiring::Independent)),
];
/// Seconds from stop to stop, and whether the hand heeds what it is told.
const HANDS: [(f64, bool); 3] = [(5.0, false), (12.0, true), (40.0, true)];

/// One line of the table.
#[derive(Debug, Default, Clone)]
struct Row {
    runs: u32,
    failed: u32,
    placed: u32,
    retest: u32,
    passed: u32,
    examples: Vec<String>,
}

/// Where a fault has a place of its own on the track.
const fn has_a_place(fault: PotFault) -> bool {
    !matches!(
        fault,
        PotFault::Good | PotFault::WornWiper | PotFault::HighEndResistance
    )
}

/// An independent volume at zero reads its total whatever its low end adds.
const fn can_show(fault: PotFault, wiring: Option<Wiring>) -> bool {
    !(matches!(fault, PotFault::HighEndResistance)
        && matches!(wiring, Some(Wiring::Independent)))
}

fn is_placed(run: &Run, analysis: &Analysis) -> bool {
    let (from, to) = run.pot.fault_zone();
    let worst = analysis.findings.iter().filter(|finding| {
        finding.confirmed && (finding.grade == Grade::Bad || finding.kind == EventKind::Flat)
    });
    // The control's own law tells the turn; what a dead spot swallows is its middle.
    let (low, high) = (
        run.pot.electrical(from - 0.05),
        run.pot.electrical(to + 0.05),
    );
    worst.into_iter().next().is_some_and(|finding| {
        let middle = finding.zone.middle();
        low <= middle && middle <= high
    })
}

fn runs(fault: PotFault, wiring: Option<Wiring>, seeds: u64) -> Vec<Run> {
    let whole = std::env::var_os("SEEDS").is_some();
    let mut runs = Vec::new();
    for seed in 0..seeds {
        for (law_index, law) in LAWS.into_iter().enumerate() {
            for (rate_index, rate) in RATES.into_iter().enumerate() {
                for (hand_index, (pass, heeds)) in HANDS.into_iter().enumerate() {
                    // Without the whole table each rate meets one hand, and each law two rates.
                    let turn = usize::try_from(seed).unwrap() + law_index + rate_index;
                    if !whole && (turn % HANDS.len() != hand_index || turn % 2 == 1) {
                        continue;
                    }
                    let mut run = Run::new(law, fault);
                    run.seed = seed;
                    run.pot.turning = Turning {
                        // Thousands of readings a pass show nothing that hundreds do not.
                        pass: Seconds(pass.min((600.0 / rate).max(5.0))),
                        jitter: 0.3,
                        pauses: 0.05,
                        heeds,
                    };
                    run.meter = MeterSettings {
                        ranging: if seed % 3 == 1 {
                            Ranging::Auto
                        } else {
                            Ranging::Fixed(3)
                        },
                        ..MeterSettings::handheld(rate)
                    };
                    if let Some(wiring) = wiring {
                        run = run.at_jack(wiring);
                    }
                    runs.push(run);
                }
            }
        }
    }
    runs
}

fn row(fault: PotFault, wiring: Option<Wiring>, seeds: u64) -> Row {
    let mut row = Row::default();
    for run in runs(fault, wiring, seeds) {
        let (ran, session) = run.until(|_| false);
        let check = session.check().unwrap();
        let track = check.view().track.unwrap();
        let Some(Notice::Verdict(result)) = ran.notices.last() else {
            panic!("no verdict of {run:#?}")
        };
        let verdict = result.verdict;
        row.runs += 1;
        match verdict {
            Verdict::Fail => {
                row.failed += 1;
                row.placed += u32::from(track.analysis.is_some_and(|a| is_placed(&run, a)));
            }
            Verdict::Retest => row.retest += 1,
            Verdict::Pass => row.passed += 1,
        }
        let wrong = match fault {
            PotFault::Good => verdict == Verdict::Fail,
            _ => verdict == Verdict::Pass,
        };
        if wrong {
            let lines = ran.result().reasons.join("\n    ");
            row.examples.push(format!(
                "{:?} {:?} {}/s seed {} {:?}\n    {lines}",
                run.pot.law, run.pot.turning, run.meter.rate, run.seed, run.meter.ranging
            ));
        }
    }
    row
}

#[test]
fn every_fault_in_every_place_at_every_rate() {
    let seeds = std::env::var("SEEDS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(1);
    let mut table: BTreeMap<(usize, usize), Row> = BTreeMap::new();
    for (place, (_, wiring)) in SEATS.into_iter().enumerate() {
        for (number, fault) in PotFault::ALL.into_iter().enumerate() {
            if can_show(fault, wiring) {
                table.insert((place, number), row(fault, wiring, seeds));
            }
        }
    }
    println!("place              fault                  runs  fail  placed  retest  pass");
    for ((place, fault), row) in &table {
        let fault = PotFault::ALL[*fault];
        let placed = if has_a_place(fault) {
            row.placed.to_string()
        } else {
            "-".to_owned()
        };
        println!(
            "{:<18} {:<21} {:>5} {:>5} {placed:>7} {:>7} {:>5}",
            SEATS[*place].0,
            fault.word(),
            row.runs,
            row.failed,
            row.retest,
            row.passed
        );
        for example in row.examples.iter().take(3) {
            println!("  {example}");
        }
    }
    for ((place, fault), row) in &table {
        let (place, fault) = (SEATS[*place].0, PotFault::ALL[*fault]);
        if fault == PotFault::Good {
            assert!(100 * row.failed < row.runs, "{place}: {row:#?}");
        } else {
            assert_eq!(
                row.passed,
                0,
                "{place} {}: {:#?}",
                fault.word(),
                row.examples
            );
        }
    }
}
