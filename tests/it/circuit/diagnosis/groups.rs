//! What no reading tells apart, what fits nothing, and what holds of every posterior.
#![expect(
    clippy::indexing_slicing,
    reason = "a row that is not there fails the test"
)]

use proptest::prelude::*;
use steadyohm::circuit::diagnosis::{Case, Evidence, Meter, Observation, Priors, Seen};
use steadyohm::circuit::{Ailment, Cause, Forecasts, Place};

use super::twopickups::{
    BOTH, BRIDGE, NECK, NECK_WIRES, WIRINGS, case_of, observed, ohms, priors, table,
};

/// The table with one more row: what another fault would read, the same as an old row.
fn with_double_of(row: usize) -> Forecasts {
    let mut table = table();
    let mut hypothesis = table.hypotheses[row].clone();
    "the wire to the neck pickup is broken".clone_into(&mut hypothesis.name);
    hypothesis.causes = vec![Cause {
        place: Place::Pickup,
        ailment: Ailment::Open,
        part: "the neck pickup".to_owned(),
        share: 1.0,
    }];
    table.hypotheses.push(hypothesis);
    let same = table.rows[row].clone();
    table.rows.push(same);
    table
}

fn neck_dead() -> Vec<(usize, Seen)> {
    vec![
        (NECK, Seen::Ohms(497_000.0)),
        (BOTH, Seen::Ohms(7880.0)),
        (BRIDGE, Seen::Ohms(7890.0)),
    ]
}

#[test]
fn faults_that_read_the_same_are_one_group_until_a_probe_parts_them() {
    let mut table = with_double_of(1);
    let double = table.hypotheses.len() - 1;
    // At its own wires a pickup behind an open joint still reads, a broken one does not.
    table.rows[double][NECK_WIRES].ohms = f64::INFINITY;
    table.rows[double][NECK_WIRES].gradient = vec![0.0; 3];
    let mut case = case_of(&table, Meter::default(), &neck_dead());
    let found = case.diagnosis();
    let first = found.first().unwrap();
    assert_eq!(first.rows, [1, double], "the joint is the likelier one");
    assert!(first.probability > 0.99);
    assert_eq!(found.rank(double), Some(0));

    case.evidence.take(NECK_WIRES, observed(Seen::Ohms(5720.0)));
    let found = case.diagnosis();
    assert_eq!(found.first().unwrap().rows, [1]);
    assert!(found.rank(double).unwrap() > 0);
}

#[test]
fn with_nothing_read_all_is_one_group_and_the_chances_are_the_priors() {
    let table = table();
    let found = case_of(&table, Meter::default(), &[]).diagnosis();
    assert_eq!(found.groups.len(), 1);
    let odds = |place, ailment| {
        let chance = priors().chance(place, ailment);
        chance / (1.0 - chance)
    };
    let joint = odds(Place::Joint, Ailment::Open);
    let all = 1.0
        + 2.0 * joint
        + odds(Place::Joint, Ailment::HighResistance)
        + odds(Place::Pickup, Ailment::WrongValue)
        + odds(Place::Jack, Ailment::Short);
    assert!((found.sound() - 1.0 / all).abs() < 1e-12);
    assert!((found.probabilities[1] - joint / all).abs() < 1e-12);
}

#[test]
fn the_sizes_of_one_fault_stay_together() {
    let mut table = table();
    // The same poor joint at half a megohm: far off in every reading.
    let mut large = table.hypotheses[3].clone();
    large.causes[0].share = 0.5;
    table.hypotheses[3].causes[0].share = 0.5;
    table.hypotheses.push(large);
    let mut row = table.rows[3].clone();
    row[NECK].ohms = 250_000.0;
    row[BOTH].ohms = 7800.0;
    table.rows.push(row);
    let last = table.hypotheses.len() - 1;
    let readings = [(NECK, Seen::Ohms(7600.0)), (BRIDGE, Seen::Ohms(7900.0))];
    let found = case_of(&table, Meter::default(), &readings).diagnosis();
    assert_eq!(found.rank(3), Some(0));
    assert_eq!(
        found.rank(last),
        Some(0),
        "found as the fault it is, whatever its size"
    );
}

#[test]
fn readings_that_nothing_explains_are_said_to_fit_nothing() {
    let table = table();
    // Both pickups far too low and the middle above either.
    let readings = [
        (NECK, Seen::Ohms(2100.0)),
        (BOTH, Seen::Ohms(60_000.0)),
        (BRIDGE, Seen::Ohms(1500.0)),
    ];
    let found = case_of(&table, Meter::default(), &readings).diagnosis();
    assert!(found.fit.nothing_fits(), "{:?}", found.fit);
    assert_eq!(found.fit.stray.len(), 3, "{:?}", found.fit);

    for (row, wiring) in WIRINGS.iter().enumerate() {
        let readings = [NECK, BOTH, BRIDGE].map(|at| match ohms(wiring, at, [0.0; 3]) {
            open if open.is_infinite() => (at, Seen::Over { beyond: Some(40e6) }),
            number => (at, Seen::Ohms(number)),
        });
        let found = case_of(&table, Meter::default(), &readings).diagnosis();
        assert!(!found.fit.nothing_fits(), "{row}: {:?}", found.fit);
        assert_eq!(found.rank(row), Some(0), "{}", wiring.name);
    }
}

#[test]
fn one_odd_reading_makes_nothing_certain() {
    let table = table();
    // Neck reads as the control alone, yet the middle reads as both in parallel: no single fault does that.
    let mut case = case_of(
        &table,
        Meter::default(),
        &[
            (NECK, Seen::Ohms(497_000.0)),
            (BOTH, Seen::Ohms(3320.0)),
            (BRIDGE, Seen::Ohms(7900.0)),
        ],
    );
    let once = case.diagnosis();
    assert!(once.sound() > 0.5, "{}", once.sound());
    assert_eq!(once.likelihoods[0].stray, [NECK]);
    assert!(!once.fit.nothing_fits());
    // Each the same again and again: neither is a stray.
    let again = |ohms| observed(Seen::Ohms(ohms)).again(3);
    case.evidence.take(NECK, again(497_000.0));
    case.evidence.take(BOTH, again(3320.0));
    let found = case.diagnosis();
    assert!(found.fit.nothing_fits(), "{:?}", found.fit);
}

#[test]
fn a_reading_that_moves_speaks_for_a_fault_that_comes_and_goes() {
    let mut table = table();
    let mut loose = table.hypotheses[1].clone();
    loose.causes[0].ailment = Ailment::Intermittent;
    table.hypotheses.push(loose);
    let open = table.rows[1].clone();
    table.rows.push(open);
    let last = table.hypotheses.len() - 1;
    let good = [(BOTH, Seen::Ohms(3320.0)), (BRIDGE, Seen::Ohms(7900.0))];
    let mut case = case_of(&table, Meter::default(), &good);
    let moving = observed(Seen::Ohms(9000.0)).moving();
    case.evidence.take(NECK, moving);
    let once = case.diagnosis().probabilities[last];
    // In the middle it would have moved half the time as well, and did not: once more.
    case.evidence.take(NECK, moving.again(3));
    let found = case.diagnosis();
    assert_eq!(found.rank(last), Some(0));
    assert!(found.probabilities[last] > once && found.probabilities[last] > 0.5);
    // Steady readings, open now and closed then, say it as well.
    let readings = [
        (NECK, Seen::Ohms(497_000.0)),
        (BOTH, Seen::Ohms(3320.0)),
        (BRIDGE, Seen::Ohms(7900.0)),
    ];
    let mut case = case_of(&table, Meter::default(), &readings);
    let again = observed(Seen::Ohms(497_000.0)).again(2);
    case.evidence.take(NECK, again);
    assert_eq!(case.diagnosis().rank(last), Some(0));
}

fn any_observation() -> impl Strategy<Value = Observation> {
    let number = prop_oneof![
        -10.0..1e5_f64,
        Just(0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
        1e-9..1e12_f64,
    ];
    let seen = prop_oneof![
        3 => number.prop_map(Seen::Ohms),
        1 => prop::option::of(prop_oneof![100.0..1e8_f64, Just(0.0)])
            .prop_map(|beyond| Seen::Over { beyond }),
    ];
    (
        seen,
        any::<bool>(),
        0..4_u32,
        prop_oneof![Just(0.0), Just(0.1), Just(1000.0)],
    )
        .prop_map(|(seen, unsteady, times, resolution)| Observation {
            seen,
            resolution,
            unsteady,
            times,
        })
}

fn any_readings() -> impl Strategy<Value = Vec<(usize, Observation)>> {
    prop::collection::vec((0..4_usize, any_observation()), 0..6)
}

/// Tables that a job file could make: parts without tolerance, a meter without error.
fn odd_tables() -> Vec<(Forecasts, Meter)> {
    let perfect = Meter {
        accuracy: 0.0,
        counts: 0.0,
        contact: 0.0,
        ..Meter::default()
    };
    let mut exact = table();
    for spread in &mut exact.spreads {
        spread.most = 0.0;
    }
    vec![
        (table(), Meter::default()),
        (table(), perfect),
        (exact.clone(), Meter::default()),
        (exact, perfect),
        (with_double_of(1), Meter::default()),
    ]
}

proptest! {
    // Each case looks at five tables whole.
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn chances_add_up_and_are_numbers(readings in any_readings()) {
        for (table, meter) in odd_tables() {
            let mut case = Case::new(&table, priors(), meter);
            for (measurement, observation) in &readings {
                case.evidence.take(*measurement, *observation);
            }
            let found = case.diagnosis();
            let sum: f64 = found.probabilities.iter().sum();
            prop_assert!((sum - 1.0).abs() < 1e-9, "{sum}");
            let sum: f64 = found.groups.iter().map(|group| group.probability).sum();
            prop_assert!((sum - 1.0).abs() < 1e-9, "{sum}");
            let mut rows: Vec<usize> =
                found.groups.iter().flat_map(|group| group.rows.clone()).collect();
            rows.sort_unstable();
            prop_assert_eq!(rows, (0..table.hypotheses.len()).collect::<Vec<_>>());
            prop_assert!(found.fit.level >= 0.0 && found.fit.level <= 1.0);
            for probe in found.probes(&case, false) {
                prop_assert!(probe.gain >= 0.0 && probe.gain.is_finite(), "{probe:?}");
            }
            for reason in found.reasons(&case) {
                prop_assert!(reason.against_sound.is_finite(), "{reason:?}");
            }
        }
    }

    #[test]
    fn the_order_of_readings_does_not_matter(
        readings in any_readings(),
        turn in 0..6_usize,
    ) {
        let mut first: Vec<(usize, Observation)> = Vec::new();
        for (measurement, observation) in readings {
            if first.iter().all(|(known, _)| *known != measurement) {
                first.push((measurement, observation));
            }
        }
        let mut second = first.clone();
        second.rotate_left(turn % first.len().max(1));
        second.reverse();
        let table = table();
        let found = [first, second].map(|readings| {
            let mut case = Case::new(&table, priors(), Meter::default());
            for (measurement, observation) in readings {
                case.evidence.take(measurement, observation);
            }
            case.diagnosis()
        });
        let [first, second] = found;
        prop_assert_eq!(first, second);
    }

    #[test]
    fn a_row_that_reads_the_same_joins_a_group(
        row in 0..6_usize,
        readings in any_readings(),
    ) {
        let (plain, double) = (table(), with_double_of(row));
        let take = |table| {
            let mut case = Case::new(table, priors(), Meter::default());
            for (measurement, observation) in &readings {
                case.evidence.take(*measurement, *observation);
            }
            case.diagnosis()
        };
        let (before, after) = (take(&plain), take(&double));
        let added = double.hypotheses.len() - 1;
        // Rows next to impossible are not compared.
        let least = after.probabilities[added].min(after.probabilities[row]);
        prop_assume!(least > 1e-6);
        prop_assert_eq!(after.rank(added), after.rank(row));
        prop_assert!(after.groups.len() <= before.groups.len());
    }
}

#[test]
fn what_is_no_number_is_not_evidence() {
    let mut evidence = Evidence::new();
    evidence.take(0, Observation::once(Seen::Ohms(f64::NAN)));
    evidence.take(
        1,
        Observation::once(Seen::Over {
            beyond: Some(f64::INFINITY),
        }),
    );
    assert!(evidence.is_empty());
}

#[test]
fn the_built_in_table_says_what_practice_says() {
    // Leads are checked before; of what is left: joints often, switches and jacks less, pickups
    // seldom, capacitors almost never (common practice, no source).
    let open = |place| priors().chance(place, Ailment::Open);
    let order = [
        open(Place::GroundJoint),
        open(Place::Joint),
        open(Place::Switch),
        open(Place::Pickup),
        open(Place::Capacitor),
    ];
    assert!(order.is_sorted_by(|left, right| left > right), "{order:?}");
    assert!(open(Place::Jack) <= open(Place::Joint));
    let costs = priors().efforts;
    assert!(costs.outside < costs.inside && costs.inside < costs.unsoldered);
    for place in [Place::Joint, Place::Jack, Place::Capacitor] {
        assert!(
            priors()
                .reason(place)
                .is_some_and(|reason| !reason.is_empty())
        );
    }
}

#[test]
fn a_table_of_the_users_own_is_strict() {
    let text = steadyohm::circuit::diagnosis::priors::BUILT_IN;
    let refused = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        let text = text.replacen(from, to, 1);
        Priors::from_text(&text, "mine.toml")
            .unwrap_err()
            .to_string()
    };
    // The line as an editor counts it.
    let at = |from: &str| {
        let before = text.split(from).next().unwrap();
        format!(
            "mine.toml, line {}: ",
            before.lines().count() + usize::from(before.ends_with('\n'))
        )
    };
    let schema = refused("schema = 1", "schema = 2");
    assert!(
        schema.contains("schema 1, not 2") && schema.starts_with(&at("schema = 1")),
        "{schema}"
    );
    let unknown = refused("[chance.jack]", "[chance.plug]");
    assert!(
        unknown.contains("plug") && unknown.starts_with(&at("[chance.jack]")),
        "{unknown}"
    );
    let unknown = refused("opening = 20.0", "opening = 20.0\ntea = 1.0");
    assert!(unknown.contains("tea"), "{unknown}");
    let chance = refused("open = 0.010", "open = 0.9");
    assert!(
        chance
            == format!(
                "{}chance.joint.open = 0.9 must be above 0, at most 0.5",
                at("open = 0.010")
            ),
        "{chance}"
    );
    let effort = refused("inside = 4.0", "inside = -4.0");
    assert!(
        effort == format!("{}effort.inside = -4 must be above 0", at("inside = 4.0")),
        "{effort}"
    );
    let line = refused("misfit = 0.001", "misfit = 1.5");
    assert!(line.contains("judging.misfit"), "{line}");
    assert!(Priors::from_text(text, "built in").is_ok());
}
