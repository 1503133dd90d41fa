//! The trade's rules of thumb, which must come out of the arithmetic and are written nowhere in
//! it (all of them common practice, no source).

use steadyohm::circuit::diagnosis::{Case, Diagnosis, Meter, Observation, Priors, Seen};
use steadyohm::circuit::{Circuit, Effort, Forecasts, Job, LAYOUTS};

fn circuit() -> Circuit {
    let layout = LAYOUTS
        .iter()
        .find(|layout| layout.id == "two-pickups-three-way")
        .unwrap();
    Job::from_text(layout.text, layout.id)
        .unwrap()
        .circuit()
        .clone()
}

fn row_of(table: &Forecasts, words: &str) -> usize {
    let mut rows = table.hypotheses.iter();
    rows.position(|row| row.name.contains(words))
        .unwrap_or_else(|| panic!("no fault {words:?}"))
}

/// What the jack reads with a fault, as the meter would show it, twice each.
fn at_the_jack(case: &mut Case<'_>, row: usize) {
    let columns = case.forecasts.measurements.iter().enumerate();
    for (index, _) in columns.filter(|(_, known)| known.effort == Effort::Outside) {
        take(case, row, index);
    }
}

fn take(case: &mut Case<'_>, row: usize, index: usize) {
    let ohms = case.forecast(row, index).unwrap().ohms;
    let seen = if ohms.is_finite() {
        Seen::Ohms(ohms)
    } else {
        Seen::Over { beyond: Some(40e6) }
    };
    case.evidence.take(index, Observation::once(seen).again(2));
}

fn names<'a>(case: &Case<'a>, found: &Diagnosis) -> Vec<&'a str> {
    let rows = found.groups.first().unwrap().rows.iter();
    rows.map(|row| case.hypothesis(*row).unwrap().name.as_str())
        .collect()
}

/// Diagnoses what the jack reads with a fault.
fn of(
    fault: &str,
    look: impl Fn(&mut Case<'_>, usize),
    told: impl Fn(&[&str], &Case<'_>, &Diagnosis),
) {
    let circuit = circuit();
    let table = circuit.predict(&circuit.faults(), &circuit.measurements());
    let mut case = Case::new(&table, Priors::built_in().unwrap(), Meter::default());
    let row = row_of(&table, fault);
    at_the_jack(&mut case, row);
    look(&mut case, row);
    let found = case.diagnosis();
    told(&names(&case, &found), &case, &found);
}

#[test]
fn every_position_dead_is_jack_or_volume() {
    of(
        "the volume control's wiper and the jack's tip is open",
        |_, _| {},
        |first, _, _| {
            assert!(first.len() > 1);
            for name in first {
                assert!(name.contains("jack") || name.contains("volume"), "{name}");
            }
            assert!(first.iter().any(|name| name.contains("jack")));
            assert!(first.iter().any(|name| name.contains("wiper")));
        },
    );
}

#[test]
fn one_position_dead_is_the_switch_or_its_joints() {
    of(
        "neck pickup's hot wire and the selector's neck lug is open",
        |_, _| {},
        |first, case, found| {
            let (mut near, mut all) = (0.0, 0.0);
            for row in &found.groups[0].rows {
                let name = &case.hypothesis(*row).unwrap().name;
                assert!(name.contains("neck"), "{name}");
                let chance = found.probabilities[*row];
                all += chance;
                // The winding itself is among them, but seldom.
                if !name.starts_with("the neck pickup") {
                    near += chance;
                }
            }
            assert!(near > 0.85 * all, "{first:?}");
            assert!(
                first
                    .iter()
                    .any(|name| name.contains("contact of the selector"))
            );
            assert!(
                first[0].contains("joint"),
                "joints before switches: {first:?}"
            );
        },
    );
}

#[test]
fn good_at_its_wires_and_dead_at_the_jack_is_the_switch_or_its_joints() {
    of(
        "neck pickup's hot wire and the selector's neck lug is open",
        |case, row| {
            let columns = case.forecasts.measurements.iter();
            let wires = columns.clone().position(|known| {
                known
                    .name
                    .starts_with("the neck pickup at its own wires: selector at neck")
            });
            take(case, row, wires.unwrap());
        },
        |first, _, _| {
            // The winding is out; beside the switch and its joint only the joint of the pickup's
            // other wire is left.
            for name in first {
                let left = [
                    "selector's neck lug",
                    "contact of the selector",
                    "neck pickup's ground wire",
                ];
                assert!(
                    left.iter().any(|part| name.contains(part)),
                    "{name} in {first:?}"
                );
            }
            assert!(first[0].contains("selector's neck lug"), "{first:?}");
        },
    );
}

#[test]
fn a_tone_control_without_effect_is_its_ground_first() {
    // Direct current shows nothing of it: all that could leave the tone control without effect
    // is as likely as before, and its ground the likeliest.
    of(
        "the joint between the tone capacitor's second end and ground is open",
        |_, _| {},
        |_, case, found| {
            let cut = [
                "the joint between the tone capacitor's second end and ground is open",
                "the joint between the tone control's bottom lug and the tone capacitor's first end is open",
                "the joint between the volume control's top lug and the tone control's wiper is open",
                "the wiper contact of the tone control is open",
                "the tone capacitor is open",
            ];
            let chances = cut.map(|words| {
                let row = row_of(case.forecasts, words);
                (found.probabilities[row], words)
            });
            let most = chances
                .iter()
                .max_by(|one, two| one.0.total_cmp(&two.0))
                .unwrap();
            assert_eq!(most.1, cut[0], "{chances:?}");
            // It is no tie.
            let others = chances.iter().skip(1).map(|one| one.0).fold(0.0, f64::max);
            assert!(most.0 > 1.2 * others, "{chances:?}");
        },
    );
}
