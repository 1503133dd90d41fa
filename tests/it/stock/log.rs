//! What comes next, what stands, what is undone; on results made up.

use steadyohm::check::lead::{LeadOptions, Tare};
use steadyohm::check::notice::{Finding, Verdict};
use steadyohm::check::stock::{Kept, Lifted, Next, Sampling, Stock, TareKept};
use steadyohm::reading::{
    Annunciators, Decimal, Magnitude, Measured, Ohms, Quantity, Reading, Stamp,
};

use super::{plan, result};
use crate::simulated::lead_options;

const fn passed() -> (Verdict, Option<Finding>) {
    (Verdict::Pass, None)
}

fn finish(stock: &mut Stock, tag: &str, (verdict, finding): (Verdict, Option<Finding>)) {
    stock.finish(tag, &result(verdict, finding), Kept::default());
}

fn next(stock: &Stock) -> String {
    match stock.next() {
        Next::Lead(turn) => format!(
            "{} {}/{:?} try {}",
            turn.tag, turn.number, turn.of, turn.attempt
        ),
        Next::Ask(again) => format!("ask {:?}", again.map(|turn| turn.tag)),
        Next::Over => "over".to_owned(),
    }
}

#[test]
fn retests_are_queued_to_the_end_twice_at_most() {
    let mut stock = Stock::new(plan("1..3"));
    let doubtful = (Verdict::Retest, Some(Finding::HighResistance));
    assert_eq!(next(&stock), "1 1/Some(3) try 1");
    finish(&mut stock, "1", doubtful);
    assert_eq!(next(&stock), "2 2/Some(3) try 1");
    finish(&mut stock, "2", doubtful);
    finish(&mut stock, "3", passed());
    assert_eq!(next(&stock), "1 1/Some(3) try 2");
    finish(&mut stock, "1", doubtful);
    assert_eq!(next(&stock), "2 2/Some(3) try 2");
    finish(&mut stock, "2", passed());
    assert_eq!(next(&stock), "1 1/Some(3) try 3");
    let mut stayed = stock.clone();
    finish(&mut stayed, "1", doubtful);
    assert_eq!(next(&stayed), "over");
    assert_eq!(stayed.verdict().0, Verdict::Fail, "found in all three");
    finish(&mut stock, "1", (Verdict::Retest, None));
    assert_eq!(next(&stock), "over");
    assert_eq!(stock.verdict().0, Verdict::Retest);
    let tally = stock.tally();
    assert_eq!(
        (tally.pass, tally.fail, tally.retest, tally.again),
        (2, 0, 1, 0)
    );
}

#[test]
fn what_moved_when_bent_needs_two_clean_attempts_or_comes_again() {
    let once = (Verdict::Retest, Some(Finding::OpensWhenBent));
    let mut stock = Stock::new(plan("1..1"));
    finish(&mut stock, "1", once);
    finish(&mut stock, "1", passed());
    assert_eq!(
        next(&stock),
        "1 1/Some(1) try 3",
        "one clean attempt is not enough"
    );
    assert_eq!(stock.tally().retest, 1);
    let mut worse = stock.clone();
    finish(&mut stock, "1", passed());
    assert_eq!(stock.verdict().0, Verdict::Pass);
    finish(&mut worse, "1", once);
    assert_eq!(worse.verdict().0, Verdict::Fail, "it came again");
    let other = (Verdict::Retest, Some(Finding::LevelMoves));
    let mut stock = Stock::new(plan("1..1"));
    finish(&mut stock, "1", once);
    finish(&mut stock, "1", other);
    assert_eq!(
        stock.verdict().0,
        Verdict::Retest,
        "another finding is not the same again"
    );
}

#[test]
fn the_last_one_undone_is_as_if_it_had_never_been() {
    let mut stock = Stock::new(plan("1..3"));
    let before = stock.clone();
    assert!(stock.undo().is_none());
    finish(&mut stock, "1", passed());
    let one = stock.clone();
    finish(&mut stock, "2", (Verdict::Fail, Some(Finding::Open)));
    assert!(stock.undo().is_some());
    assert_eq!(stock, one);
    stock.skip("2");
    assert_eq!(next(&stock), "3 3/Some(3) try 1");
    assert_eq!(stock.tally().skipped, 1);
    stock.undo();
    assert_eq!(next(&stock), "2 2/Some(3) try 1");
    stock.undo();
    assert_eq!(stock, before);
}

#[test]
fn what_is_left_out_or_not_come_to_is_not_passed() {
    let mut stock = Stock::new(plan("1..2"));
    assert_eq!(stock.verdict().0, Verdict::Retest);
    finish(&mut stock, "1", passed());
    assert_eq!(stock.verdict().0, Verdict::Retest);
    let mut skipped = stock.clone();
    skipped.skip("2");
    assert_eq!(skipped.next(), Next::Over);
    assert_eq!(skipped.verdict().0, Verdict::Retest);
    finish(&mut stock, "2", passed());
    assert_eq!(stock.verdict().0, Verdict::Pass);
}

#[test]
fn typed_tags_are_asked_for_one_by_one() {
    let mut stock = Stock::new(plan("typed"));
    assert_eq!(next(&stock), "ask None");
    finish(&mut stock, "red", (Verdict::Retest, None));
    assert_eq!(next(&stock), "ask Some(\"red\")");
    assert_eq!(stock.turn("blue").number, 2);
    assert_eq!(stock.turn("red").attempt, 2);
    finish(&mut stock, "red", passed());
    assert_eq!(next(&stock), "ask None");
    assert_eq!(stock.verdict().0, Verdict::Pass, "no number was promised");
}

/// The rule of three in its exact form: 59 with none failing bound a share of 5 % at 95 %
/// (0.95^59 = 0.0485 < 0.05 < 0.95^58); of a lot of 80 with 4 bad, 44 leave 36*35*34*33 in
/// 80*79*78*77, which is 0.0372, and 41 leave 39*38*37*36 = 0.0520: worked by hand.
#[test]
fn a_sample_ends_when_it_proves_what_it_should() {
    let sample = |lot| Sampling {
        lot,
        tolerated: 0.05,
        confidence: 0.95,
    };
    assert_eq!(sample(None).needed(), Some(59));
    let needed = sample(Some(80)).needed().unwrap();
    assert!((42..=44).contains(&needed), "{needed}");
    let words = sample(Some(80)).beforehand();
    assert!(
        words[0].contains(&format!("Test {needed} of the 80 leads")),
        "{words:?}"
    );
    let mut stock = Stock::new(steadyohm::check::stock::StockPlan {
        sampling: Some(sample(None)),
        ..plan("1..")
    });
    for tag in 1..=59 {
        assert_ne!(stock.next(), Next::Over);
        finish(&mut stock, &tag.to_string(), passed());
    }
    assert_eq!(stock.next(), Next::Over);
    let (verdict, reasons) = stock.verdict();
    assert_eq!(verdict, Verdict::Pass);
    let proof = reasons.join(" ");
    assert!(proof.contains("fewer than 5 %"), "{proof}");
    assert!(proof.contains("Clopper and Pearson"), "{proof}");
}

fn tared(ohms: f64) -> steadyohm::check::notice::CheckResult {
    let mut taken = result(Verdict::Pass, None);
    taken.steps[0].step = "tare".into();
    taken.steps[0].ohms = Some(Ohms(ohms));
    taken
}

#[test]
fn the_tare_is_taken_once_and_again_when_it_matters() {
    let first = LeadOptions {
        tare: Tare::Touch,
        ..lead_options()
    };
    let mut tare = TareKept::default();
    assert_eq!(tare.options(&first).tare, Tare::Touch);
    tare.learn(&first, &tared(0.2));
    let given = tare.options(&first);
    assert_eq!(given.tare, Tare::Given(Ohms(0.2)));
    // Close above the limit, with a fresh tare: it stands.
    let limit = lead_options().limit.0;
    let mut near = result(Verdict::Retest, Some(Finding::HighResistance));
    near.steps[0].ohms = Some(Ohms(limit + 0.1));
    tare.learn(&given, &near);
    assert_eq!(tare.options(&first).tare, Tare::Given(Ohms(0.2)));
    for _lead in 0..10 {
        tare.learn(&given, &result(Verdict::Pass, None));
    }
    assert_eq!(
        tare.options(&first).tare,
        Tare::Given(Ohms(0.2)),
        "old, but not in doubt"
    );
    let mut old = tare;
    old.learn(&given, &near);
    assert_eq!(old.options(&first).tare, Tare::Touch);
    let mut below = result(Verdict::Retest, None);
    below.steps[0].ohms = Some(Ohms(-0.3));
    tare.learn(&given, &below);
    assert_eq!(
        tare.options(&first).tare,
        Tare::Touch,
        "below zero at any age"
    );
}

/// What reads low may still be the last lead, shorted as it was found: the next begins only
/// after a while of nothing connected.
#[test]
fn the_next_lead_waits_for_the_probes_to_be_lifted_off_the_last() {
    let over = Magnitude::Over { beyond: None };
    let low = Magnitude::Number(Decimal {
        digits: 3,
        exponent: -1,
    });
    let lifted = |readings: &[(f64, Magnitude)]| {
        let mut lifted = Lifted::default();
        let seen = readings.iter().map(|(at, magnitude)| {
            lifted.reading(&Reading {
                at: Stamp::from_seconds(*at),
                measured: Measured {
                    quantity: Quantity::Resistance,
                    magnitude: *magnitude,
                    resolution: Some(-1),
                    annunciators: Annunciators::NONE,
                },
            })
        });
        seen.collect::<Vec<_>>()
    };
    assert_eq!(lifted(&[(0.0, low), (0.5, low), (9.0, low)]), [false; 3]);
    assert_eq!(
        lifted(&[(0.0, over), (0.5, over)]),
        [false, true],
        "2 a second"
    );
    let scratch = [
        (0.0, over),
        (0.2, low),
        (0.35, over),
        (0.5, over),
        (0.66, over),
    ];
    assert_eq!(lifted(&scratch), [false, false, false, false, true]);
    let blank = Magnitude::Blank;
    assert_eq!(
        lifted(&[(0.0, blank), (1.0, blank)]),
        [false; 2],
        "blank tells nothing"
    );
}
