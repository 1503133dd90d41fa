//! Faults, places, rates and hands: what is found, placed, missed and falsely failed.
//!
//! One run of every fault in every place with every test, the rates spread over them; the whole grid, with fifty seeds to every law and rate, is
//! printed by `SEEDS=50 cargo test --config profile.dev.package.steadyohm.opt-level=2 --test it
//! pot::table -- --nocapture`.
//!
//! Each seed puts the fault elsewhere along the judged part of the track, gives it another
//! width and the next hand, and a third of them leave the meter to find its range by itself.
#![expect(clippy::print_stdout, reason = "the table is there to be read")]

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use steadyohm::bench::{MeterSettings, PotFault, Ranging, Seat, Turning};
use steadyohm::check::notice::{Notice, Verdict};
use steadyohm::check::pot::Place;
use steadyohm::circuit::control::{Law, Wiring};
use steadyohm::reading::Seconds;
use steadyohm::signal::sweep::{Analysis, EventKind, Grade};

use super::run::{Ran, Run};

const RATES: [f64; 4] = [2.0, 5.0, 20.0, 100.0];
const LAWS: [Law; 2] = [Law::Linear, Law::Exponential { mid: 0.15 }];
/// Where the control sits, and whether its total is given where it could be worked out.
const SEATS: [(&str, Option<Wiring>, bool); 4] = [
    ("bench", None, false),
    ("jack", Some(Wiring::Standard), false),
    ("jack, independent", Some(Wiring::Independent), false),
    ("the same, --total", Some(Wiring::Independent), true),
];
/// Seconds from stop to stop, and whether the hand heeds what it is told.
const HANDS: [(f64, bool); 3] = [(5.0, false), (12.0, true), (40.0, true)];

/// More readings a pass show nothing that these do not.
const MOST_READINGS: f64 = 600.0;

/// How near a fault must be told to be placed, in parts of the travel.
const NEAR: f64 = 0.05;

/// One line of the table: place, fault and rate by their numbers.
type Key = (usize, usize, usize);

#[derive(Debug, Default, Clone)]
struct Row {
    runs: u32,
    failed: u32,
    placed: u32,
    /// Fails that say that the place is not known, with a range that holds it.
    ranged: u32,
    /// Retests that say that coverage was short.
    short: u32,
    /// Retests that say what was seen.
    seen: u32,
    /// Retests that say neither.
    mute: u32,
    /// Passes of a fault that is wider than the distance between two readings; of a good control.
    passed: u32,
    /// Passes of a fault that is narrower.
    narrow: u32,
    examples: Vec<String>,
}

/// Where a fault has a place of its own on the track.
const fn has_a_place(fault: PotFault) -> bool {
    !matches!(
        fault,
        PotFault::Good | PotFault::WornWiper | PotFault::HighEndResistance
    )
}

/// An independent volume at zero reads its total whatever its low end adds; with the total given
/// only a crack is another matter.
const fn can_show(fault: PotFault, wiring: Option<Wiring>, total: bool) -> bool {
    match fault {
        PotFault::HighEndResistance => !matches!(wiring, Some(Wiring::Independent)),
        PotFault::Cracked => true,
        _ => !total,
    }
}

/// The peak of a loaded control hides what only holds the reading still: there it moves by less
/// than the display shows. The check says so of every sweep at such a jack.
fn is_hidden_by_the_peak(run: &Run) -> bool {
    let Seat::Jack(Wiring::Standard, pickup) = run.pot.seat else {
        return false;
    };
    let peak = 0.5 * (run.pot.total.0 + pickup.0) / run.pot.total.0;
    let place = run.pot.electrical(run.pot.zone.0);
    run.pot.fault == PotFault::DeadSpot && (place - peak).abs() < 0.07
}

/// Whether the fault is wider than the distance between two readings, the mean of all passes, in
/// parts of the turn. A dead spot shows only by two readings within it.
fn is_wide(run: &Run, analysis: Option<&Analysis>) -> bool {
    let passes = analysis.map_or(&[][..], |analysis| analysis.passes.as_slice());
    let lasted: f64 = passes.iter().map(|pass| pass.duration().0).sum();
    let count = f64::from(u32::try_from(passes.len()).unwrap());
    let distance = count / (lasted * run.meter.rate).max(1e-9);
    let (from, to) = run.pot.fault_zone();
    let needed = match run.pot.fault {
        PotFault::DeadSpot => 2.0 * distance,
        PotFault::WornWiper | PotFault::HighEndResistance => 0.0,
        _ => distance,
    };
    to - from > needed
}

/// Whether the worst finding lies within 5 % of the travel of the fault.
fn is_placed(run: &Run, analysis: &Analysis) -> bool {
    let (from, to) = run.pot.fault_zone();
    let mut worst = analysis
        .findings
        .iter()
        .filter(|finding| finding.grade == Grade::Bad || finding.kind == EventKind::Flat);
    // A crack is a line: the edge of what is lost, which side that is depending on the place.
    let cracked = run.pot.fault == PotFault::Cracked;
    let to = if cracked { from } else { to };
    // The control's own law tells the turn; what a dead spot swallows is its middle.
    let (low, high) = (
        run.pot.electrical(from - NEAR),
        if to + NEAR < 1.0 {
            run.pot.electrical(to + NEAR)
        } else {
            1.0
        },
    );
    worst.next().is_some_and(|finding| {
        let told = match run.pot.seat {
            Seat::Lugs if cracked => finding.zone.from,
            Seat::Jack(Wiring::Independent, _) if cracked => finding.zone.to,
            _ => finding.zone.middle(),
        };
        low <= told && told <= high
    })
}

/// Whether the verdict says that the place is not known, and gives a range that holds it.
fn is_ranged(run: &Run, ran: &Ran, analysis: &Analysis) -> bool {
    let place = run.pot.electrical(run.pot.fault_zone().0);
    let says = |reason: &String| reason.contains("these readings cannot tell");
    ran.result().reasons.iter().any(says)
        && analysis
            .findings
            .first()
            .is_some_and(|finding| finding.zone.from <= place && place <= finding.zone.to)
}

/// Where a seed puts the fault, in parts of the turn: off the ends, and on an audio track above
/// the part of the turn in which hardly any resistance lies.
fn zone(law: Law, seed: u64) -> (f64, f64) {
    let step = |of: u32| f64::from(u32::try_from(seed).unwrap() % of) / f64::from(of - 1);
    let (lowest, highest) = match law {
        Law::Linear => (0.12, 0.78),
        _ => (0.35, 0.78),
    };
    let from = lowest + (highest - lowest) * step(11);
    (from, from + 0.04 + 0.06 * step(7))
}

fn runs(
    fault: PotFault,
    (_, wiring, total): (&str, Option<Wiring>, bool),
    (seeds, only): (Option<u64>, usize),
) -> Vec<(usize, Run)> {
    let mut runs = Vec::new();
    for seed in 0..seeds.unwrap_or(1) {
        for (law_index, law) in LAWS.into_iter().enumerate() {
            for (rate_index, rate) in RATES.into_iter().enumerate() {
                // Each seed has its hand; without the whole table there is one rate and law.
                let turn = usize::try_from(seed).unwrap() + law_index + rate_index;
                if seeds.is_none() && (rate_index != only || law_index != rate_index % 2) {
                    continue;
                }
                let number = seeds.map_or(turn, |_| usize::try_from(seed).unwrap());
                let Some((pass, heeds)) = HANDS.into_iter().cycle().nth(number) else {
                    continue;
                };
                let mut run = Run::new(law, fault);
                run.seed = seed;
                run.pot.zone = zone(law, seed);
                run.pot.turning = Turning {
                    pass: Seconds(pass.min(MOST_READINGS / rate)),
                    jitter: 0.3,
                    pauses: 0.05,
                    heeds,
                };
                run.meter = MeterSettings {
                    ranging: if (seed / 3) % 3 == 1 {
                        Ranging::Auto
                    } else {
                        Ranging::Fixed(3)
                    },
                    ..MeterSettings::handheld(rate)
                };
                if let Some(wiring) = wiring {
                    run = run.at_jack(wiring);
                    if total {
                        run.options.place = Place::Jack {
                            wiring,
                            total: Some(run.pot.total),
                            pickup: None,
                        };
                    }
                }
                if !is_hidden_by_the_peak(&run) {
                    runs.push((rate_index, run));
                }
            }
        }
    }
    runs
}

/// Whether a retest says that coverage was short.
fn says_short(ran: &Ran) -> bool {
    ran.result().reasons.iter().any(|reason| {
        reason.contains("not found is not good")
            || reason.contains("were seen, 2 each are needed")
    })
}

/// Runs one and enters it in its row.
fn enter(row: &mut Row, run: &Run) {
    let (ran, session) = run.until(|_| false);
    let check = session.check().unwrap();
    let track = check.view().track.unwrap();
    row.runs += 1;
    let Some(Notice::Verdict(result)) = ran.notices.last() else {
        row.mute += 1;
        row.examples.push(format!("no verdict of {run:#?}"));
        return;
    };
    let placed = track.analysis.is_some_and(|a| is_placed(run, a));
    let fault = run.pot.fault;
    let mut wrong = match fault {
        PotFault::Good => result.verdict == Verdict::Fail,
        _ => result.verdict == Verdict::Pass,
    };
    match result.verdict {
        Verdict::Fail => {
            row.failed += 1;
            row.placed += u32::from(placed);
            let ranged = !placed && track.analysis.is_some_and(|a| is_ranged(run, &ran, a));
            row.ranged += u32::from(ranged);
            wrong |= has_a_place(fault) && !placed && !ranged;
        }
        Verdict::Retest if says_short(&ran) => row.short += 1,
        Verdict::Retest if !result.reasons.is_empty() => {
            row.seen += 1;
            wrong = true;
        }
        Verdict::Retest => row.mute += 1,
        Verdict::Pass if fault == PotFault::Good || is_wide(run, track.analysis) => {
            row.passed += 1;
        }
        Verdict::Pass => row.narrow += 1,
    }
    if wrong {
        let lines = result.reasons.join("\n    ");
        row.examples.push(format!(
            "{:?} {:?} {:?} {:?} {}/s seed {} {:?}\n    {lines}",
            result.verdict,
            run.pot.law,
            run.pot.fault_zone(),
            run.pot.turning,
            run.meter.rate,
            run.seed,
            run.meter.ranging
        ));
    }
}

/// `FAULT=good` tries one fault alone.
fn meant(fault: PotFault) -> bool {
    std::env::var("FAULT").map_or(true, |word| word == fault.word())
}

/// The whole table, on two threads.
fn table(seeds: Option<u64>) -> BTreeMap<Key, Row> {
    let mut all: Vec<(Key, Run)> = Vec::new();
    for (place, seat) in SEATS.into_iter().enumerate() {
        for (number, fault) in PotFault::ALL.into_iter().enumerate() {
            if meant(fault) && can_show(fault, seat.1, seat.2) {
                // So that every rate occurs with some fault in every place.
                let only = (place + number) % RATES.len();
                let runs = runs(fault, seat, (seeds, only)).into_iter();
                all.extend(runs.map(|(rate, run)| ((place, number, rate), run)));
            }
        }
    }
    let (next, table) = (AtomicUsize::new(0), Mutex::new(BTreeMap::new()));
    std::thread::scope(|scope| {
        for _thread in 0..2 {
            let _worker = scope.spawn(|| {
                while let Some((key, run)) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let mut one = Row::default();
                    enter(&mut one, run);
                    table
                        .lock()
                        .unwrap()
                        .entry(*key)
                        .or_insert_with(Row::default)
                        .add(one);
                }
            });
        }
    });
    table.into_inner().unwrap()
}

impl Row {
    fn add(&mut self, other: Self) {
        self.runs += other.runs;
        self.failed += other.failed;
        self.placed += other.placed;
        self.ranged += other.ranged;
        self.short += other.short;
        self.seen += other.seen;
        self.mute += other.mute;
        self.passed += other.passed;
        self.narrow += other.narrow;
        self.examples.extend(other.examples);
    }
}

#[test]
fn every_fault_in_every_place_at_every_rate() {
    let seeds = std::env::var("SEEDS")
        .ok()
        .map(|text| text.parse().unwrap());
    let table = table(seeds);
    println!(
        "place              fault               rate  runs failed placed ranged  short   seen passed narrow"
    );
    for ((place, fault, rate), row) in &table {
        let fault = PotFault::ALL[*fault];
        let placed = if has_a_place(fault) {
            row.placed.to_string()
        } else {
            "-".to_owned()
        };
        println!(
            "{:<18} {:<19} {:>4} {:>5} {:>6} {placed:>6} {:>6} {:>6} {:>6} {:>6} {:>6}",
            SEATS[*place].0,
            fault.word(),
            RATES[*rate],
            row.runs,
            row.failed,
            row.ranged,
            row.short,
            row.seen,
            row.passed,
            row.narrow
        );
        if std::env::var_os("EXAMPLES").is_some() {
            for example in row.examples.iter().take(6) {
                println!("  {example}");
            }
        }
    }
    for ((place, fault, rate), row) in &table {
        let (place, fault) = (SEATS[*place].0, PotFault::ALL[*fault]);
        let what = format!(
            "{place}, {} at {}/s: {:#?}",
            fault.word(),
            RATES[*rate],
            row.examples
        );
        assert_eq!(row.mute, 0, "a retest without a reason: {what}");
        if fault == PotFault::Good {
            assert!(100 * row.failed < row.runs, "a good control failed: {what}");
        } else {
            assert_eq!(row.passed, 0, "missed: {what}");
        }
    }
}
