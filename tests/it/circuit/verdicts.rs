//! Every fault of every layout, with parts off within their tolerances and a meter off within
//! its own, through the steps to its verdict.
//!
//! A few of them by default; `SEEDS=20` tries every single fault of every layout twenty times
//! and, with `--nocapture`, prints the whole table. That wants an optimised build:
//! `cargo test --config profile.dev.package.steadyohm.opt-level=2`. `LAYOUT=one-pickup` tries
//! that one alone, and `NAMES=1` prints what was not named first.
#![expect(
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "what is not there fails the test; the table is printed"
)]

mod workshop; // the instrument with its fault, the meter, the technician

use steadyohm::circuit::diagnosis::Verdict;
use steadyohm::circuit::{Circuit, LAYOUTS, Layout};
use workshop::{Bench, Found, Instrument, Opened};

/// Tried by default: one in so many.
const THINNED: usize = 157;
/// Pairs of faults tried on each of the first layouts by default, and on all thirty times as
/// many.
const PAIRS: usize = 2;

fn seeds() -> Option<u64> {
    std::env::var("SEEDS").ok()?.parse().ok()
}

/// The first layouts by default, all with seeds.
fn some(count: usize) -> &'static [Layout] {
    match seeds() {
        Some(_) => LAYOUTS,
        None => &LAYOUTS[..count],
    }
}

#[derive(Debug, Default)]
struct Tally {
    tried: u32,
    first: u32,
    three: u32,
    five: u32,
    failed: u32,
    passed: u32,
    hidden: u32,
    misfits: u32,
    readings: usize,
}

impl Tally {
    fn add(&mut self, found: &Found) {
        self.tried += 1;
        self.first += u32::from(found.rank == 0);
        self.three += u32::from(found.rank < 3);
        self.five += u32::from(found.rank < 5);
        self.failed += u32::from(found.verdict == Verdict::Fail);
        self.passed += u32::from(found.verdict == Verdict::Pass);
        self.hidden += u32::from(found.hidden);
        self.misfits += u32::from(found.nothing_fits);
        self.readings += found.readings;
    }

    fn join(&mut self, other: &Self) {
        self.tried += other.tried;
        self.first += other.first;
        self.three += other.three;
        self.five += other.five;
        self.failed += other.failed;
        self.passed += other.passed;
        self.hidden += other.hidden;
        self.misfits += other.misfits;
        self.readings += other.readings;
    }

    fn share(&self, count: u32) -> f64 {
        f64::from(count) / f64::from(self.tried.max(1))
    }

    fn row(&self, name: &str) -> String {
        format!(
            "{name:22} {:5} tried: first {:5.1} %, of three {:5.1} %, of five {:5.1} %; of those \
             that show, first {:5.1} %; failed {:5.1} %, passed {:5.1} %, not to be seen at the \
             jack {:5.1} %, nothing fits {:.1} %, {:.1} readings each",
            self.tried,
            100.0 * self.share(self.first),
            100.0 * self.share(self.three),
            100.0 * self.share(self.five),
            100.0 * f64::from(self.first - self.hidden)
                / f64::from((self.tried - self.hidden).max(1)),
            100.0 * self.share(self.failed),
            100.0 * self.share(self.passed),
            100.0 * self.share(self.hidden),
            100.0 * self.share(self.misfits),
            f64::from(u32::try_from(self.readings).unwrap()) / f64::from(self.tried.max(1)),
        )
    }
}

/// A tally of every layout by itself, printed, and of all.
fn over(layouts: &[Layout], title: &str, mut each: impl FnMut(&Circuit, &mut Tally)) -> Tally {
    let mut all = Tally::default();
    let alone = std::env::var("LAYOUT").ok();
    let wanted = |layout: &&Layout| alone.as_ref().is_none_or(|alone| alone == layout.id);
    for layout in layouts.iter().filter(wanted) {
        let circuit = workshop::circuit(layout);
        let mut tally = Tally::default();
        each(&circuit, &mut tally);
        println!("{}", tally.row(layout.id));
        all.join(&tally);
    }
    println!("{}", all.row(title));
    all
}

#[test]
fn single_faults_are_named() {
    let all = over(LAYOUTS, "all single faults", |circuit, tally| {
        let bench = Bench::outside(circuit);
        let (first, step) = match seeds() {
            Some(_) => (0, 1),
            None => (7, THINNED),
        };
        for seed in 0..seeds().unwrap_or(1) {
            for fault in (0..bench.faults.len()).skip(first).step_by(step) {
                let instrument = Instrument::with(&bench, &[fault], seed);
                let found = bench.through(&instrument, &[fault]);
                if std::env::var("NAMES").is_ok() && found.rank > 0 {
                    println!("{}", found.story);
                }
                tally.add(&found);
            }
        }
    });
    assert!(all.tried >= 20);
    // A few tried scatter about the share of all: by three standard errors at most.
    let scatter = |share: f64| match seeds() {
        Some(_) => 0.0,
        None => 3.0 * (share * (1.0 - share) / f64::from(all.tried)).sqrt(),
    };
    let first = 0.90 - scatter(0.90);
    assert!(all.share(all.first) >= first, "{all:?}");
    assert!(all.share(all.three) >= 0.99 - scatter(0.99), "{all:?}");
}

#[test]
fn sound_instruments_are_not_failed() {
    let all = over(LAYOUTS, "all sound", |circuit, tally| {
        let bench = Bench::outside(circuit);
        for seed in 0..seeds().map_or(1, |seeds| 20 * seeds) {
            let instrument = Instrument::with(&bench, &[], 1000 + seed);
            tally.add(&bench.through(&instrument, &[]));
        }
    });
    assert!(all.tried >= 11);
    assert!(all.share(all.failed) < 0.01, "{all:?}");
    assert!(all.share(all.passed) > 0.9, "{all:?}");
}

#[test]
fn double_faults_are_among_the_first_five() {
    let all = over(some(2), "all pairs", |circuit, tally| {
        let bench = Bench::outside(circuit);
        let count = seeds().map_or(PAIRS, |_| 30 * PAIRS);
        let step = (bench.pairs.len() / count).max(1);
        for (seed, pair) in (0..).zip(bench.pairs.iter().step_by(step).take(count)) {
            let instrument = Instrument::with(&bench, pair, seed);
            let found = bench.through(&instrument, pair);
            if std::env::var("NAMES").is_ok() && found.rank > 4 {
                println!("{}", found.story);
            }
            tally.add(&found);
        }
    });
    assert!(all.share(all.five) >= 0.80, "{all:?}");
}

/// Probes inside, ours against the fixed order from the jack inward, both until as much is
/// known as ours stops at.
#[test]
fn fewer_probes_inside_than_from_the_jack_inward() {
    let (ours, fixed) = opened("opened where the jack did not pass it", false);
    assert!(ours < fixed, "{ours} against {fixed}");
}

/// The same with the instrument open on the bench: what does not show at the jack is looked
/// for too.
#[test]
fn fewer_probes_in_an_open_instrument() {
    let (ours, fixed) = opened("open from the start", true);
    assert!(ours < fixed, "{ours} against {fixed}");
}

fn opened(title: &str, open: bool) -> (usize, usize) {
    // What the jack shows is rarer than what an open instrument does.
    let step = match (seeds(), open) {
        (Some(_), _) => 13,
        (None, true) => 97,
        (None, false) => 61,
    };
    let mut all = Probes::default();
    for layout in some(2) {
        let circuit = workshop::circuit(layout);
        let bench = Bench::whole(&circuit);
        let mut here = Probes::default();
        for fault in (0..bench.faults.len()).skip(3).step_by(step) {
            let instrument = Instrument::with(&bench, &[fault], 77);
            if let Some(found) = bench.inside(&instrument, fault, open) {
                here.add(&found);
            }
        }
        println!("{:26} {}", layout.id, here.row());
        all.join(&here);
    }
    println!("{title}: {}", all.row());
    assert!(all.opened >= 2, "{all:?}");
    (all.ours, all.fixed)
}

/// Instruments opened, and what came of it.
#[derive(Debug, Default)]
struct Probes {
    opened: usize,
    ours: usize,
    fixed: usize,
    /// The fault first at the jack, and after the probes.
    first: [usize; 2],
    hidden: usize,
}

impl Probes {
    fn add(&mut self, found: &Opened) {
        let [jack, inside] = found.ranks.map(|rank| usize::from(rank == 0));
        self.join(&Self {
            opened: 1,
            ours: found.ours,
            fixed: found.fixed,
            first: [jack, inside],
            hidden: usize::from(found.hidden),
        });
    }

    fn join(&mut self, other: &Self) {
        self.opened += other.opened;
        self.ours += other.ours;
        self.fixed += other.fixed;
        let sums = self.first.iter_mut().zip(other.first);
        sums.for_each(|(sum, one)| *sum += one);
        self.hidden += other.hidden;
    }

    fn row(&self) -> String {
        let mean = |sum: usize| {
            let [sum, count] = [sum, self.opened.max(1)].map(|it| u32::try_from(it).unwrap());
            f64::from(sum) / f64::from(count)
        };
        format!(
            "{:4} opened ({} of faults that the jack does not show): {:.2} probes each, {:.2} in \
             the fixed order; the fault first in {:.1} % before and {:.1} % after",
            self.opened,
            self.hidden,
            mean(self.ours),
            mean(self.fixed),
            100.0 * mean(self.first[0]),
            100.0 * mean(self.first[1]),
        )
    }
}
