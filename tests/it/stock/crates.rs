//! Whole crates with known faults, run through in simulated time at three rates.
//!
//! `LEADS=200 cargo test --test it stock::crates -- --nocapture` prints the tables of 200.
#![expect(clippy::print_stdout, reason = "the tables are there to be read")]

use std::sync::Arc;

use steadyohm::bench::{Crate, CrateOrder, Display, MeterSettings, Method};
use steadyohm::check::notice::Verdict;
use steadyohm::check::stock::{Kept, Next, Stock, StockPlan, Tags, TareKept};

use super::confusion::Confusion;
use super::{leads, plan};
use crate::simulated::{Run, kind};

/// A crate, the bench for it, and the plan of its stock.
fn stock_of(id: &str, method: Method, count: u32, rate: f64) -> (Crate, Run, StockPlan) {
    let kind = kind(id);
    let order = CrateOrder {
        faulty: 0.5,
        ..CrateOrder::of(Arc::clone(&kind), count, 11)
    };
    let leads = Crate::fill(&order);
    let mut run = Run::of(&kind, steadyohm::bench::LeadFault::Good, rate, 0);
    if method == Method::Loop {
        run = run.by_loop();
    }
    run.bytes = false;
    run.bench.meter = MeterSettings {
        display: Display::Counts(6_000),
        ..MeterSettings::handheld(rate)
    };
    let mut plan = plan("1..1");
    plan.lead = run.options.clone();
    plan.lead.tare = steadyohm::check::lead::Tare::Touch;
    plan.tags = Tags::Counter {
        prefix: String::new(),
        first: 1,
        last: Some(count),
        width: 1,
    };
    (leads, run, plan)
}

/// Runs one crate through: a stock, each of whose leads is a check of its own.
fn run_through(id: &str, method: Method, count: u32, rate: f64) -> Confusion {
    let (leads, mut run, plan) = stock_of(id, method, count, rate);
    let kind = Arc::clone(&plan.lead.kind);
    let mut stock = Stock::new(plan);
    let mut tare = TareKept::default();
    let mut confusion = Confusion::default();
    let mut gaps = None;
    while let Next::Lead(turn) = stock.next() {
        let place = usize::try_from(turn.number - 1).unwrap();
        let lead = leads.get(place).unwrap();
        run.options = tare.options(&stock.plan().lead);
        run.bench.piece = lead.clone().into();
        run.bench.seed = u64::from(confusion.attempts) + 1_000;
        let ran = run.go();
        let result = ran.result();
        tare.learn(&run.options, result);
        stock.finish(&turn.tag, result, Kept::default());
        confusion.attempts += 1;
        gaps.clone_from(&result.not_covered);
        let fault = lead.fault.word(&kind);
        let good = fault == "good";
        if result.verdict == Verdict::Retest {
            confusion.retests += 1;
        }
        let expected = if good { Verdict::Pass } else { Verdict::Fail };
        if result.verdict != expected {
            confusion.odd.push(format!(
                "{id} {} try {} ({fault}) {}: {}",
                turn.tag,
                turn.attempt,
                result.verdict,
                result.reasons.first().unwrap()
            ));
        }
    }
    for (lead, standing) in leads.iter().zip(stock.leads()) {
        confusion.count(
            &lead.fault.word(&kind),
            standing.verdict.unwrap(),
            gaps.as_deref(),
        );
    }
    confusion
}

/// Two stocks end to end, two by the far-end short.
fn at_rate(rate: f64) -> Confusion {
    let quarter = leads(36).div_ceil(4);
    let mut all = Confusion::default();
    for (id, method) in [
        ("instrument", Method::EndToEnd),
        ("balanced", Method::EndToEnd),
        ("patch", Method::Loop),
        ("speaker", Method::EndToEnd),
    ] {
        all.join(run_through(id, method, quarter, rate));
    }
    println!("{rate} readings a second, simulated time:\n{all}");
    all
}

fn judge(confusion: &Confusion) {
    assert_eq!(confusion.faulty_passed(), 0, "{confusion}");
    assert_eq!(confusion.good_failed(), 0, "{confusion}");
    // Below three in a hundred.
    let retests = confusion.left_in_retest() * 100;
    assert!(retests < 3 * confusion.leads(), "{confusion}");
}

#[test]
fn a_crate_at_two_readings_a_second() {
    judge(&at_rate(2.0));
}

#[test]
fn a_crate_at_ten_readings_a_second() {
    judge(&at_rate(10.0));
}

#[test]
fn a_crate_at_sixty_readings_a_second() {
    judge(&at_rate(60.0));
}
