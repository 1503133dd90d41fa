//! What layouts ought to read: against worked figures and rules of thumb, and the two ways to
//! a band against each other.
#![expect(
    clippy::indexing_slicing,
    reason = "a row that is missing fails the test"
)]

use steadyohm::circuit::{Circuit, Expectation, Job, LAYOUTS, State};

fn circuit(text: &str) -> Circuit {
    Job::from_text(text, "job")
        .unwrap_or_else(|error| panic!("{error}"))
        .circuit()
        .clone()
}

fn at_jack(circuit: &Circuit, state: &State) -> f64 {
    circuit.expect(state, circuit.jack()).ohms
}

/// The state with a switch in the position of this name and a knob at a setting.
fn set(circuit: &Circuit, position: &str, knobs: &[(&str, f64)]) -> State {
    let mut state = circuit.full_up();
    for (number, switch) in circuit.switches().iter().enumerate() {
        if let Some(at) = switch
            .positions
            .iter()
            .position(|called| called == position)
        {
            state.positions[number] = at;
        }
    }
    for (knob, setting) in knobs {
        let named = circuit.knobs().iter().position(|name| name.contains(knob));
        state.settings[named.unwrap()] = *setting;
    }
    state
}

#[track_caller]
fn close(found: f64, wanted: f64, ohms: f64) {
    assert!(
        (found - wanted).abs() <= ohms,
        "{found} is not {wanted} within {ohms}"
    );
}

/// One pickup on one control, both given, by the usual or the independent wiring.
fn one_control(ohms: f64, pickup: f64, independent: bool) -> Circuit {
    let (pickup_to, jack_to) = if independent {
        ("wiper", "top")
    } else {
        ("top", "wiper")
    };
    circuit(&format!(
        r#"
schema = 1
[[pickup]]
id = "only"
ohms = {pickup}
[[control]]
id = "volume"
ohms = {ohms}
end_ohms = 0.001
[jack]
kind = "mono"
[wiring]
connections = [
    ["only.hot", "volume.{pickup_to}"], ["volume.{jack_to}", "jack.tip"],
    ["volume.bottom", "ground"], ["only.ground", "ground"], ["jack.sleeve", "ground"],
]
"#
    ))
}

#[test]
fn the_worked_sweep_of_a_volume_control() {
    // aR (S - aR) / S with S = R + Rp for the usual wiring, (1-a) R + aR || Rp for independent
    // volumes, by hand to the last figure shown. Joints add up to 0.2 ohm here.
    for (ohms, pickup, usual, independent) in [
        (
            250e3,
            6e3,
            [0.0, 47_241.0, 63_965.0, 50_171.0, 5_859.4],
            [250e3, 192_974.0, 130_725.0, 68_314.0, 5_859.4],
        ),
        (
            500e3,
            8e3,
            [0.0, 94_242.0, 126_968.5, 98_179.0, 7_874.0],
            [500e3, 382_519.0, 257_752.0, 132_833.0, 7_874.0],
        ),
        (
            250e3,
            7.5e3,
            [0.0, 47_330.0, 64_320.0, 50_971.0, 7_281.6],
            [250e3, 194_196.0, 132_075.0, 69_712.0, 7_281.6],
        ),
    ] {
        let wirings = [
            (one_control(ohms, pickup, false), usual),
            (one_control(ohms, pickup, true), independent),
        ];
        for (circuit, wanted) in wirings {
            for (setting, wanted) in [0.0, 0.25, 0.5, 0.75, 1.0].into_iter().zip(wanted) {
                let state = State {
                    settings: vec![setting],
                    ..State::default()
                };
                close(at_jack(&circuit, &state), wanted, 0.7);
            }
        }
    }
}

#[test]
fn two_pickups_in_the_middle_position() {
    // Common practice, no source: 5.7 k and 8 k together read about 3.3 to 3.4 k; by hand,
    // 5700 || 8000 || 250000 is 3284.7.
    let own = circuit(
        LAYOUTS
            .iter()
            .find(|it| it.id == "two-pickups-three-way")
            .unwrap()
            .text,
    );
    close(at_jack(&own, &set(&own, "middle", &[])), 3284.7, 1.2);
    // Two volumes, 250 k each, both full: 3242.1 by hand.
    let values = |ohms: &str, neck: &str, bridge: &str| {
        let controls = ["neck-volume", "bridge-volume"];
        let controls = controls
            .map(|id| format!("[[control]]\nid = \"{id}\"\nohms = {ohms}\nend_ohms = 0.001\n"));
        circuit(&format!(
            "schema = 1\nlayout = \"two-volumes-two-tones\"\n[[pickup]]\nid = \"neck\"\n\
             ohms = {neck}\n[[pickup]]\nid = \"bridge\"\nohms = {bridge}\n{}",
            controls.concat()
        ))
    };
    let two = values("250000", "5700", "8000");
    close(at_jack(&two, &set(&two, "middle", &[])), 3242.1, 0.3);
    // 500 k, 7.5 k and 8.2 k, by hand: both full, one at half, both at half.
    let two = values("500000", "7500", "8200");
    let middle = |neck, bridge| {
        set(
            &two,
            "middle",
            &[("neck volume", neck), ("bridge volume", bridge)],
        )
    };
    close(at_jack(&two, &middle(1.0, 1.0)), 3856.8, 0.3);
    close(at_jack(&two, &middle(1.0, 0.5)), 6982.9, 0.4);
    close(at_jack(&two, &middle(0.5, 0.5)), 63_466.0, 0.6);
    // Either at zero shorts the jack.
    close(at_jack(&two, &middle(0.0, 1.0)), 0.0, 0.3);
}

#[test]
fn full_up_reads_about_the_pickup() {
    // Common practice, no source: full up, about the pickup's own resistance, a little less.
    for (id, position, pickup) in [
        ("one-pickup", "", 8000.0),
        ("master-volume", "bridge", 8000.0),
        ("two-pickups-three-way", "neck", 5700.0),
        ("two-volumes-two-tones", "bridge", 8200.0),
        ("independent-volumes", "neck", 7500.0),
        ("three-pickups-five-way", "middle", 5900.0),
        ("coil-split", "neck", 7600.0),
        ("series-parallel", "series", 8200.0),
        ("treble-bleed", "bridge", 8000.0),
        ("stereo-jack", "", 7500.0),
    ] {
        let circuit = circuit(LAYOUTS.iter().find(|it| it.id == id).unwrap().text);
        let read = at_jack(&circuit, &set(&circuit, position, &[]));
        assert!(
            read < pickup && read > 0.96 * pickup,
            "{id}: {read} for {pickup}"
        );
    }
}

#[test]
fn coils_split_and_in_parallel() {
    let split = circuit(
        LAYOUTS
            .iter()
            .find(|it| it.id == "coil-split")
            .unwrap()
            .text,
    );
    let mut pulled = set(&split, "bridge", &[]);
    pulled.positions[1] = 1;
    // One coil of 4100 beside 500 k.
    close(at_jack(&split, &pulled), 4100.0 * 500e3 / 504.1e3, 1.2);
    let switched = circuit(
        LAYOUTS
            .iter()
            .find(|it| it.id == "series-parallel")
            .unwrap()
            .text,
    );
    close(
        at_jack(&switched, &set(&switched, "parallel", &[])),
        2050.0 * 500e3 / 502.05e3,
        1.2,
    );
}

#[test]
fn a_treble_bleed_shows_by_its_resistor_only() {
    // 250 k and 6 k with 150 k from top to wiper, by hand, at a quarter, a half, three quarters.
    let text = LAYOUTS
        .iter()
        .find(|it| it.id == "treble-bleed")
        .unwrap()
        .text;
    let with = circuit(&text.replace("ohms = 8000", "ohms = 6000"));
    for (setting, wanted) in [(0.25, 36_773.0), (0.5, 46_554.0), (0.75, 39_547.0)] {
        let state = set(&with, "bridge", &[("volume", setting)]);
        close(at_jack(&with, &state), wanted, 0.7);
    }
    // Without the resistor the capacitor alone changes nothing.
    let start = text.find("# Across").unwrap();
    let end = text.find("[[switch]]").unwrap();
    let mut bare = text.to_owned();
    bare.replace_range(start..end, "");
    let kept: Vec<&str> = bare
        .lines()
        .filter(|line| !line.contains("bleed."))
        .collect();
    let bare = kept.join("\n");
    let bare = circuit(&bare.replace("ohms = 8000", "ohms = 6000"));
    close(
        at_jack(&bare, &set(&bare, "bridge", &[("volume", 0.5)])),
        63_965.0,
        0.7,
    );
}

#[test]
fn a_blend_passes_either_or_both() {
    let blend = circuit(
        LAYOUTS
            .iter()
            .find(|it| it.id == "two-pickup-blend")
            .unwrap()
            .text,
    );
    let at = |setting| at_jack(&blend, &set(&blend, "", &[("neck gang", setting)]));
    // In the middle both, each beside the whole track of its gang and of the volume.
    let track = |pickup: f64| pickup * 250e3 / (pickup + 250e3);
    let both = 1.0 / (1.0 / track(7500.0) + 1.0 / track(8200.0) + 1.0 / 250e3);
    close(at(0.5), both, 2.0);
    // At an end one pickup, with the other gang's whole track and the volume across it.
    let one = |pickup: f64| 1.0 / (1.0 / track(pickup) + 2.0 / 250e3);
    close(at(0.0), one(7500.0), 2.0);
    close(at(1.0), one(8200.0), 2.0);
}

#[test]
fn a_stereo_jack_has_a_pickup_on_each_contact() {
    let stereo = circuit(
        LAYOUTS
            .iter()
            .find(|it| it.id == "stereo-jack")
            .unwrap()
            .text,
    );
    let ring = stereo.ring().unwrap();
    let [tip, sleeve] = stereo.jack();
    let state = stereo.full_up();
    close(
        stereo.expect(&state, [tip, sleeve]).ohms,
        7500.0 * 500e3 / 507.5e3,
        1.2,
    );
    close(
        stereo.expect(&state, [ring, sleeve]).ohms,
        8200.0 * 500e3 / 508.2e3,
        1.2,
    );
}

#[test]
fn copper_is_taken_to_the_workshop() {
    // IEC 60028: 0.00393 for each kelvin above 20 degrees. 8000 ohm at 20 is 8314.4 at 30, and
    // 8000 at 30 is 7697.5 at 20.
    for (there, here, wanted) in [
        (20.0, 30.0, 8314.4),
        (30.0, 20.0, 7697.5),
        (20.0, 20.0, 8000.0),
    ] {
        let circuit = circuit(&format!(
            "schema = 1\nlayout = \"one-pickup\"\n[workshop]\ncelsius = {here}\n[[pickup]]\n\
             id = \"bridge\"\nohms = 8000\ncelsius = {there}\n"
        ));
        let ends = ["bridge.hot", "bridge.ground"].map(|name| circuit.terminal(name).unwrap());
        let lifted = vec![circuit.joint("bridge.hot", "volume.top").unwrap()];
        let state = State {
            lifted,
            ..circuit.full_up()
        };
        let found = circuit.expect(&state, ends);
        close(found.ohms, wanted, 0.05);
        // Known on both sides, it widens nothing: five per cent of the winding is left.
        close(found.most - found.least, 0.1 * wanted, 0.01);
    }
    let unknown = circuit("schema = 1\nlayout = \"one-pickup\"\n");
    let copper = &unknown.spreads()[1];
    close(copper.most, 5.0 * 0.003_93, 1e-12);
}

/// Two resistors in parallel between the tip and the sleeve.
fn parallel(one: (f64, f64), other: (f64, f64)) -> Circuit {
    circuit(&format!(
        r#"
schema = 1
workshop.celsius = 20
[[pickup]]
id = "one"
ohms = {}
tolerance = {}
celsius = 20
[[pickup]]
id = "two"
ohms = {}
tolerance = {}
celsius = 20
[jack]
kind = "mono"
[wiring]
connections = [
    ["one.hot", "jack.tip"], ["two.hot", "jack.tip"],
    ["one.ground", "jack.sleeve"], ["two.ground", "jack.sleeve"],
]
"#,
        one.0, one.1, other.0, other.1
    ))
}

#[test]
fn the_band_of_two_in_parallel() {
    let ((a, off_a), (b, off_b)) = ((5700.0, 0.1), (8000.0, 0.05));
    let circuit = parallel((a, off_a), (b, off_b));
    let state = circuit.full_up();
    let found = circuit.expect(&state, circuit.jack());
    let both = |a: f64, b: f64| a * b / (a + b);
    // Worst case: both low, both high. The joints add 0.04 ohm, at most twice that.
    close(found.ohms, both(a, b), 0.05);
    close(found.least, both(a * (1.0 - off_a), b * (1.0 - off_b)), 0.1);
    close(found.most, both(a * (1.0 + off_a), b * (1.0 + off_b)), 0.1);
    // Closed form to first order: dR/da = (b / (a + b))^2; uniform within w has w^2 / 3.
    let share = |own: f64, other: f64, off: f64| {
        (other / (own + other)).powi(2) * own * off / 3.0_f64.sqrt()
    };
    let deviation = share(a, b, off_a).hypot(share(b, a, off_b));
    close(found.deviation, deviation, 0.05);
    let drawn = circuit.sample(&state, circuit.jack(), (1, 4000)).unwrap();
    close(drawn.deviation, deviation, 0.03 * deviation);
    close(
        drawn.mean,
        both(a, b),
        4.0 * deviation / 4000.0_f64.sqrt() + 2.0,
    );
    // The same seed draws the same instruments.
    assert_eq!(
        circuit.sample(&state, circuit.jack(), (1, 4000)).unwrap(),
        drawn
    );
    assert_ne!(
        circuit.sample(&state, circuit.jack(), (2, 4000)).unwrap(),
        drawn
    );
}

#[test]
fn drawn_and_reckoned_bands_agree_on_every_layout() {
    for layout in LAYOUTS {
        let circuit = circuit(layout.text);
        for state in circuit.positions() {
            let reckoned = circuit.expect(&state, circuit.jack());
            let drawn = circuit.sample(&state, circuit.jack(), (7, 600)).unwrap();
            let Expectation {
                least,
                most,
                deviation,
                ..
            } = reckoned;
            let name = format!("{}: {}", layout.id, circuit.describe(&state));
            let [low, high] = reckoned.likely();
            assert!(
                least <= drawn.likely[0] && drawn.likely[1] <= most,
                "{name}"
            );
            assert!(
                (drawn.deviation / deviation - 1.0).abs() < 0.1,
                "{name}: {drawn:?}"
            );
            // One uniform part has a narrower 95 per cent than the normal of its deviation: the
            // reckoned band is the wider, by no more than a quarter.
            assert!(
                low <= drawn.likely[0] + 0.2 * deviation,
                "{name}: {drawn:?} {low}"
            );
            assert!(
                high >= drawn.likely[1] - 0.2 * deviation,
                "{name}: {drawn:?} {high}"
            );
            let ratio = (high - low) / (drawn.likely[1] - drawn.likely[0]);
            assert!(ratio < 1.25, "{name}: {ratio}");
        }
    }
}

#[test]
fn the_limits_say_where_they_come_from() {
    let guessed = circuit("schema = 1\nlayout = \"one-pickup\"\n");
    let found = guessed.expect(&guessed.full_up(), guessed.jack());
    insta::assert_snapshot!(
        found.sentence(guessed.spreads()),
        @"7.875 kΩ typical of the layout, since the job does not give every value; 5.416 kΩ to 10.42 kΩ by the parts alone, each at its worst: the bridge pickup, a typical one, ±30 % (±2.325 kΩ), copper at a temperature not known ±2 % (±152.3 Ω)."
    );
    let circuit = circuit(
        "schema = 1\nlayout = \"one-pickup\"\n[[pickup]]\nid = \"bridge\"\nohms = 8000\n\
         tolerance = 0.05\n[[control]]\nid = \"volume\"\nohms = 500000\n",
    );
    let found = circuit.expect(&circuit.full_up(), circuit.jack());
    insta::assert_snapshot!(
        found.sentence(circuit.spreads()),
        @"7.875 kΩ by the job's values; 7.314 kΩ to 8.447 kΩ by the parts alone, each at its worst: the bridge pickup ±5 % (±387.5 Ω), copper at a temperature not known ±2 % (±152.3 Ω), the volume control ±20 % (±24.81 Ω)."
    );
    let lifted = vec![circuit.joint("volume.wiper", "jack.tip").unwrap()];
    let open = circuit.expect(
        &State {
            lifted,
            ..circuit.full_up()
        },
        circuit.jack(),
    );
    let wanted = "No path joins the two: it must read open.";
    assert_eq!(open.sentence(circuit.spreads()), wanted);
}

#[test]
fn every_state_has_a_name_of_its_own() {
    for layout in LAYOUTS {
        let circuit = circuit(layout.text);
        let states = circuit.states();
        let names: std::collections::BTreeSet<String> =
            states.iter().map(|state| circuit.describe(state)).collect();
        assert_eq!(names.len(), states.len(), "{}", layout.id);
    }
}
