//! Readings close to a limit: what the meter may be off decides nothing (JCGM 106:2012).

use steadyohm::check::lead::LeadOptions;
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{Finding, Phase, Verdict};
use steadyohm::circuit::Celsius;
use steadyohm::reading::Ohms;
use steadyohm::signal::{Accuracies, Accuracy};

use super::facts;
use super::scene::{Scene, ohms, play, sound, tared};

/// The verdict on a tip that reads so much, with a limit of 2 ohm and no fail below 5.
fn at(value: f64, accuracy: &Accuracies, temperature: Celsius) -> (Verdict, Option<Finding>) {
    let options = LeadOptions {
        temperature,
        ..tared(0.0)
    };
    let facts = MeterFacts {
        accuracy: *accuracy,
        ..facts()
    };
    let ran = play(options, facts, move |scene| match scene {
        Scene {
            step: "tip", phase, ..
        } if *phase != Phase::Lifting => ohms(value),
        other => sound(other),
    });
    let tip = ran.step("tip");
    (tip.verdict, tip.finding)
}

#[test]
fn a_reading_within_its_own_uncertainty_of_the_limit_is_a_retest() {
    let unknown = Accuracies::default();
    let one = |value, accuracy| at(value, &accuracy, Celsius::REFERENCE).0;
    // Digits of 0.1 ohm, twice, doubled: 0.0816.
    assert_eq!(one(1.9, unknown), Verdict::Pass);
    assert_eq!(one(2.0, unknown), Verdict::Retest);
    // 3 counts more: 2 x sqrt(0.0408^2 + (0.3 + 0.01 x 1.8)^2 / 3) = 0.376.
    let stated = Accuracies::everywhere(Accuracy {
        share: 0.01,
        counts: 3.0,
    });
    assert_eq!(one(1.6, stated), Verdict::Pass);
    assert_eq!(one(1.8, stated), Verdict::Retest);
    // Above the wanted value and not surely above the tolerated one: cleaning may help.
    assert_eq!(
        at(5.2, &stated, Celsius::REFERENCE),
        (Verdict::Retest, Some(Finding::HighResistance))
    );
    assert_eq!(
        at(5.6, &stated, Celsius::REFERENCE),
        (Verdict::Fail, Some(Finding::HighResistance))
    );
}

/// IEC 60028: 24 AWG, 6 m reads 0.5053 ohm at 20 °C and 3.93 % more at 30 °C.
#[test]
fn warm_copper_is_allowed_more() {
    let limit = |temperature| {
        let options = LeadOptions {
            conductor: Some(("6m".parse().unwrap(), "24AWG".parse().unwrap())),
            temperature: Celsius(temperature),
            ..tared(0.0)
        };
        let check = steadyohm::check::lead::Lead::new(options);
        let plan = check.plans().first().cloned().unwrap();
        match plan.limit {
            steadyohm::check::step::Limit::Closed { pass, .. } => pass,
            other @ steadyohm::check::step::Limit::Open { .. } => panic!("{other:?}"),
        }
    };
    let (cold, warm): (Ohms, Ohms) = (limit(20.0), limit(30.0));
    assert!((cold.0 - (0.505_3 + 0.5)).abs() < 1e-4, "{cold}");
    assert!((warm.0 - (0.505_3 * 1.0393 + 0.5)).abs() < 1e-4, "{warm}");
}
