//! Faults: every one against a network built anew, on every layout, and against figures worked
//! by hand.
#![expect(
    clippy::indexing_slicing,
    reason = "a row that is missing fails the test"
)]

use proptest::prelude::*;
use steadyohm::circuit::{
    Ailment, Circuit, Fault, Forecast, Forecasts, Job, LAYOUTS, Measurement,
};

fn circuit(text: &str) -> Circuit {
    Job::from_text(text, "job")
        .unwrap_or_else(|error| panic!("{error}"))
        .circuit()
        .clone()
}

fn layout(id: &str) -> Circuit {
    circuit(LAYOUTS.iter().find(|layout| layout.id == id).unwrap().text)
}

/// What a network built anew reads, with its parts off by `off`.
fn anew(circuit: &Circuit, faults: &[&Fault], measurement: &Measurement, off: &[f64]) -> f64 {
    let changes: Vec<_> = faults.iter().map(|fault| &fault.change).collect();
    let [from, to] = measurement.between;
    circuit
        .faulty_with(&measurement.state, &changes, off)
        .resistance(from, to)
}

#[track_caller]
fn same(found: f64, wanted: f64, name: &str) {
    assert_eq!(
        found.is_infinite(),
        wanted.is_infinite(),
        "{name}: {found} for {wanted}"
    );
    if wanted.is_finite() {
        let off = (found - wanted).abs();
        assert!(off <= 1e-6 * wanted + 1e-7, "{name}: {found} for {wanted}");
    }
}

fn sound(forecasts: &Forecasts) {
    for (hypothesis, row) in forecasts.hypotheses.iter().zip(&forecasts.rows) {
        assert_eq!(row.len(), forecasts.measurements.len());
        let length = forecasts.spreads.len() + hypothesis.own.len();
        for Forecast { ohms, gradient } in row {
            assert!(*ohms >= 0.0, "{}: {ohms}", hypothesis.name);
            assert_eq!(gradient.len(), length, "{}", hypothesis.name);
            assert!(
                gradient.iter().all(|by| by.is_finite() && *by >= 0.0),
                "{}",
                hypothesis.name
            );
        }
    }
}

#[test]
fn every_single_fault_of_every_layout() {
    for layout in LAYOUTS {
        let circuit = circuit(layout.text);
        let faults = circuit.faults();
        let mut measurements = circuit.outside();
        measurements.extend(circuit.inside().into_iter().step_by(7));
        measurements.extend(circuit.unsoldered());
        let forecasts = circuit.predict(&faults, &measurements);
        sound(&forecasts);
        assert_eq!(forecasts.rows.len(), faults.len() + 1);
        // A fresh solution of each is dear: every sixty-first cell, other ones for each layout.
        let mut cell = layout.id.len();
        for (fault, row) in faults.iter().zip(&forecasts.rows[1..]) {
            for (measurement, forecast) in measurements.iter().zip(row) {
                cell += 1;
                if cell % 61 == 0 {
                    let name = format!(
                        "{}: {}: {}",
                        layout.id, fault.hypothesis.name, measurement.name
                    );
                    same(
                        forecast.ohms,
                        anew(&circuit, &[fault], measurement, &[]),
                        &name,
                    );
                }
            }
        }
    }
}

#[test]
fn pairs_of_the_likelier_faults() {
    for id in [
        "two-volumes-two-tones",
        "three-pickups-five-way",
        "coil-split",
    ] {
        let circuit = layout(id);
        let faults = circuit.faults();
        let measurements = circuit.outside();
        let pairs = Circuit::likelier_pairs(&faults);
        let some: Vec<[usize; 2]> = pairs.iter().copied().step_by(97).collect();
        let forecasts = circuit.predict_pairs(&faults, &some, &measurements);
        sound(&forecasts);
        for (cell, ([one, other], row)) in some.iter().zip(&forecasts.rows[1..]).enumerate() {
            for (measurement, forecast) in
                measurements.iter().zip(row).skip(cell % 3).step_by(3)
            {
                let both = [&faults[*one], &faults[*other]];
                let name = both
                    .map(|fault| fault.hypothesis.name.as_str())
                    .join(", and ");
                same(
                    forecast.ohms,
                    anew(&circuit, &both, measurement, &[]),
                    &name,
                );
            }
        }
    }
}

#[test]
fn the_gradient_is_the_slope() {
    let circuit = layout("two-pickups-three-way");
    let faults = circuit.faults();
    let measurements = circuit.outside();
    let forecasts = circuit.predict(&faults, &measurements);
    for (at, row) in forecasts.rows.iter().enumerate() {
        let fault: Vec<&Fault> = at
            .checked_sub(1)
            .map(|at| &faults[at])
            .into_iter()
            .collect();
        for (measurement, forecast) in measurements.iter().zip(row).step_by(5) {
            if forecast.ohms.is_infinite() {
                continue;
            }
            for spread in 0..forecasts.spreads.len() {
                let read = |step: f64| {
                    let mut off = vec![0.0; forecasts.spreads.len()];
                    off[spread] = step;
                    anew(&circuit, &fault, measurement, &off)
                };
                let slope = (read(1e-4) - read(-1e-4)) / 2e-4;
                let off = (slope - forecast.gradient[spread]).abs();
                // The touch of a short is no joint of the instrument: it does not vary.
                assert!(
                    off <= 1e-4 * slope.abs() + 1e-6 * forecast.ohms + 1e-6,
                    "{}, {}: {slope} for {}",
                    forecasts.hypotheses[at].name,
                    forecasts.spreads[spread].name,
                    forecast.gradient[spread]
                );
            }
        }
    }
}

/// The named fault's forecast for a measurement of this name.
fn read(circuit: &Circuit, fault: &str, at: &str) -> f64 {
    let faults = circuit.faults();
    let found: Vec<Fault> = faults
        .into_iter()
        .filter(|found| found.hypothesis.name == fault)
        .collect();
    assert_eq!(found.len(), 1, "{fault}");
    let mut measurements = circuit.measurements();
    measurements.retain(|measurement| measurement.name == at);
    assert_eq!(measurements.len(), 1, "{at}");
    circuit.predict(&found, &measurements).rows[1][0].ohms
}

#[test]
fn faults_worked_by_hand() {
    // A pickup of 6 k on a volume of 250 k: what the jack reads at zero and full up (by hand).
    let text = LAYOUTS
        .iter()
        .find(|layout| layout.id == "one-pickup")
        .unwrap()
        .text;
    let text = text.replace("8000", "6000").replace("500000", "250000");
    let circuit =
        circuit(&text.replace("id = \"volume\"", "id = \"volume\"\nend_ohms = 0.001"));
    let zero = "at the jack, tip to sleeve: volume control at zero";
    let full = "at the jack, tip to sleeve: everything full up";
    for (fault, at_zero, at_full) in [
        ("the bridge pickup is open", 0.0, 250e3),
        ("the bridge pickup is shorted", 0.0, 0.0),
        (
            "the joint between the volume control's bottom lug and ground is open",
            256e3,
            6e3,
        ),
        (
            "the wiper contact of the volume control is open",
            f64::INFINITY,
            f64::INFINITY,
        ),
        (
            "the joint between the volume control's wiper and the jack's tip is open",
            f64::INFINITY,
            f64::INFINITY,
        ),
        ("the jack's tip touches the jack's sleeve", 0.0, 0.0),
        ("the tone capacitor is open", 0.0, 5859.4),
        // The tone control full up, its whole track beside the rest.
        ("the tone capacitor is shorted", 0.0, 5725.2),
        (
            "the joint between the volume control's top lug and the tone control's wiper is open",
            0.0,
            5859.4,
        ),
    ] {
        for (at, wanted) in [(zero, at_zero), (full, at_full)] {
            let found = read(&circuit, fault, at);
            let both_open = found.is_infinite() && wanted.is_infinite();
            let close = both_open || (found - wanted).abs() < 0.5;
            assert!(close, "{fault}, {at}: {found} for {wanted}");
        }
    }
}

#[test]
fn where_a_pickup_is_good_and_its_position_dead() {
    // Common practice, no source: one position dead, the switch or its joint; good at the
    // pickup's own wires then.
    let circuit = layout("two-pickups-three-way");
    let fault =
        "the joint between the neck pickup's hot wire and the selector's neck lug is open";
    let at = |position: &str| {
        read(
            &circuit,
            fault,
            &format!("at the jack, tip to sleeve: selector at {position}, everything full up"),
        )
    };
    // Nothing but the volume's track is left.
    assert!((at("neck") - 250e3).abs() < 2.0);
    assert!((at("bridge") - 8e3 * 250e3 / 258e3).abs() < 2.0);
    let own = read(
        &circuit,
        fault,
        "the neck pickup at its own wires: selector at neck, everything full up",
    );
    assert!((own - 5700.0).abs() < 0.1, "{own}");
    // Every position dead: the lead from the volume to the jack.
    let lead = "the joint between the volume control's wiper and the jack's tip is open";
    for position in ["neck", "middle", "bridge"] {
        let name =
            format!("at the jack, tip to sleeve: selector at {position}, everything full up");
        assert!(read(&circuit, lead, &name).is_infinite());
    }
    // A tone control shows nothing at direct current, whatever its ground does.
    let ground = "the joint between the tone capacitor's second end and ground is open";
    let name = "at the jack, tip to sleeve: selector at neck, everything full up";
    assert!((read(&circuit, ground, name) - 5700.0 * 250e3 / 255.7e3).abs() < 2.0);
}

#[test]
fn every_part_and_joint_has_its_faults() {
    for layout in LAYOUTS {
        let circuit = circuit(layout.text);
        let faults = circuit.faults();
        let names: std::collections::BTreeSet<&str> = faults
            .iter()
            .map(|fault| fault.hypothesis.name.as_str())
            .collect();
        assert_eq!(
            names.len(),
            faults.len(),
            "{}: two faults of one name",
            layout.id
        );
        for element in circuit.elements() {
            let opened = faults.iter().any(|fault| {
                let cause = &fault.hypothesis.causes[0];
                cause.part == element.name && cause.ailment == Ailment::Open
            });
            assert!(opened, "{}: {} never opens", layout.id, element.name);
        }
        // The sizes of one fault share its whole weight.
        let mut shares = std::collections::BTreeMap::new();
        for fault in &faults {
            let cause = &fault.hypothesis.causes[0];
            *shares
                .entry((&cause.part, cause.ailment, &fault.hypothesis.name))
                .or_insert(0.0) += cause.share;
        }
        for ailment in [Ailment::HighResistance, Ailment::WrongValue] {
            let mut whole = std::collections::BTreeMap::new();
            for ((part, found, _), share) in &shares {
                if *found == ailment {
                    *whole.entry(part).or_insert(0.0) += share;
                }
            }
            assert!(
                whole.values().all(|share: &f64| (share - 1.0).abs() < 1e-9),
                "{}",
                layout.id
            );
        }
    }
}

#[test]
fn an_active_circuit_is_not_measured_at_its_jack() {
    let active = circuit("schema = 1\nlayout = \"one-pickup\"\nactive = true\n");
    let [tip, _] = active.jack();
    assert!(
        active
            .outside()
            .iter()
            .all(|measurement| measurement.between[0] != tip)
    );
    assert!(!active.inside().is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Any three faults of any layout, measured between any two terminals in any state.
    #[test]
    fn no_faults_make_nonsense(
        at in 0..LAYOUTS.len(), picks in proptest::collection::vec(any::<prop::sample::Index>(), 0..4),
        state in any::<prop::sample::Index>(), ends in any::<[prop::sample::Index; 2]>(),
    ) {
        let circuit = circuit(LAYOUTS[at].text);
        let faults = circuit.faults();
        let set: Vec<usize> = picks.iter().map(|pick| pick.index(faults.len())).collect();
        let mut measurement = circuit.outside()[0].clone();
        let states = circuit.states();
        measurement.state = states[state.index(states.len())].clone();
        measurement.between = ends.map(|end| end.index(circuit.terminals().len()));
        let forecasts = circuit.predict_sets(&faults, std::slice::from_ref(&set), &[measurement.clone()]);
        sound(&forecasts);
        let both: Vec<&Fault> = set.iter().map(|at| &faults[*at]).collect();
        let names: Vec<&str> = both.iter().map(|fault| fault.hypothesis.name.as_str()).collect();
        same(forecasts.rows[0][0].ohms, anew(&circuit, &both, &measurement, &[]), &names.join(", and "));
    }
}
