//! A meter that cannot be used: each trouble is told in a sentence, nothing passes meanwhile,
//! and the exit status tells a retest from a meter that was never heard.

use std::fs;
use std::sync::LazyLock;

use serde_json::Value;
use steadyohm::bench::LeadFault;
use steadyohm::reading::{Annunciator, Annunciators, Quantity};

use super::contract::keeps;
use super::driver::{Finished, Scene};
use super::stage::Late;
use super::{Ran, event, of_event, ran_in};

/// A good lead, where patience with the meter is short.
fn scene() -> Scene {
    Scene::new(LeadFault::Good).with("--patience 0.8s --record off")
}

/// The runs that take longest, begun together.
struct Long {
    held: Late,
    lost: Late,
    silent: Late,
    wrong_speed: Late,
}

static LONG: LazyLock<Long> = LazyLock::new(|| {
    let patient = || scene().with("--patience 20s");
    let hasty = || scene().with("--patience 0.2s");
    Long {
        held: Late::playing(move || held(&patient())),
        lost: Late::playing(move || lost_and_back(&patient())),
        silent: Late::begin(Scene {
            falls_silent_after: Some(0),
            ..hasty()
        }),
        wrong_speed: Late::begin(Scene {
            wrong_speed: true,
            ..hasty()
        }),
    }
});

/// HOLD is pressed at the third bend, and again when the program tells it.
fn held(scene: &Scene) -> Finished {
    let mut pressed = false;
    scene.go_with(|line, at_bench, _| {
        if event(line) == "tick" && line["flex"] == 3 && !pressed {
            pressed = true;
            at_bench
                .bench
                .mark(Annunciators::NONE.with(Annunciator::Hold));
        }
        if event(line) == "trouble" {
            at_bench.bench.mark(Annunciators::NONE);
        }
    })
}

/// The plug is pulled at the third bend, and put back when the program tells it.
fn lost_and_back(scene: &Scene) -> Finished {
    let mut pulled = false;
    scene.go_with(|line, at_bench, _| {
        if event(line) == "tick" && line["flex"] == 3 && !pulled {
            pulled = true;
            at_bench.wire.pull();
        }
        if event(line) == "trouble" && line["what"] == "lost" {
            at_bench.wire.plug_in();
        }
    })
}

/// The sentence of the only trouble told of this kind.
fn sentence<'a>(run: &'a Finished, what: &str) -> &'a str {
    let told = of_event(&run.lines, "trouble");
    let told: Vec<_> = told.iter().filter(|line| line["what"] == what).collect();
    assert_eq!(told.len(), 1, "{:?}", run.lines);
    let text = told[0]["text"].as_str().unwrap();
    assert!(text.len() > 30, "{text}");
    text
}

/// A run that could not be judged: a retest, and no step passed.
fn ends_in_retest(run: &Finished) {
    keeps(run);
    assert_eq!(run.verdict()["verdict"], "retest");
    assert_eq!(run.status.code(), Some(3));
    assert!(of_event(&run.lines, "step_done").is_empty(), "{run:?}");
    let reasons = run.verdict()["reasons"].to_string();
    assert!(
        reasons.contains("the meter could not be used for"),
        "{reasons}"
    );
}

#[test]
fn a_meter_on_volts_is_told_to_turn_its_dial() {
    let mut scene = scene();
    scene.bench.meter.quantity = Quantity::DirectVoltage;
    let run = scene.go();
    ends_in_retest(&run);
    let text = sentence(&run, "wrong_function");
    assert!(
        text.contains("volt") && text.contains("dial to ohms"),
        "{text}"
    );
}

#[test]
fn a_meter_on_hold_never_passes() {
    let mut scene = scene();
    scene.bench.meter.marks = Annunciators::NONE.with(Annunciator::Hold);
    let run = scene.go();
    ends_in_retest(&run);
    assert!(sentence(&run, "hold").contains("HOLD"));
}

#[test]
fn a_meter_on_relative_never_passes() {
    let mut scene = scene();
    scene.bench.meter.marks = Annunciators::NONE.with(Annunciator::Relative);
    let run = scene.go();
    ends_in_retest(&run);
    assert!(sentence(&run, "relative").contains("--tare"));
}

#[test]
fn a_low_battery_is_told() {
    let mut scene = scene();
    scene.bench.meter.marks = Annunciators::NONE.with(Annunciator::LowBattery);
    let run = scene.go();
    ends_in_retest(&run);
    assert!(sentence(&run, "low_battery").contains("battery is low"));
}

#[test]
fn hold_in_the_middle_is_waited_out() {
    let run = LONG.held.get();
    assert_eq!(keeps(run), ["tip", "sleeve", "isolation"]);
    sentence(run, "hold");
    assert_eq!(run.verdict()["verdict"], "pass", "{}", run.verdict());
}

#[test]
fn a_meter_that_falls_silent_is_told_stalled() {
    let mut scene = scene();
    scene.falls_silent_after = Some(25);
    let run = scene.go();
    ends_in_retest(&run);
    let text = sentence(&run, "stalled");
    assert!(text.contains("nothing received for"), "{text}");
}

#[test]
fn a_meter_never_heard_is_exit_status_4() {
    let run = LONG.silent.get();
    assert_eq!(run.status.code(), Some(4));
    assert_eq!(run.verdict()["verdict"], "retest");
    assert_eq!(run.complaint, "");
    let text = sentence(run, "stalled");
    assert!(text.contains("data output"), "{text}");
}

#[test]
fn a_port_lost_and_back_ends_in_retest_at_best() {
    let run = LONG.lost.get();
    assert_eq!(keeps(run), ["tip", "sleeve", "isolation"]);
    let text = sentence(run, "lost");
    assert!(text.contains("check the cable"), "{text}");
    assert_eq!(of_event(&run.lines, "opened").len(), 2);
    assert_eq!(run.verdict()["verdict"], "retest");
    assert_eq!(run.status.code(), Some(3));
    let reasons = run.verdict()["reasons"].to_string();
    assert!(reasons.contains("the port was lost"), "{reasons}");
    // The steps themselves went on to their end.
    let done = of_event(&run.lines, "step_done");
    assert!(
        done.iter().all(|step| step["verdict"] == "pass"),
        "{done:?}"
    );
}

#[test]
fn a_port_that_stays_away_ends_the_check() {
    let run = scene().go_with(|line, at_bench, _| {
        if event(line) == "tick" {
            at_bench.wire.pull();
        }
    });
    ends_in_retest(&run);
    sentence(&run, "lost");
}

#[test]
fn a_port_that_opens_in_vain_is_given_up() {
    // The null device opens each time, and ends at the first read.
    let run = judged(
        "lead --json --record off --patience 0.6s --protocol scpi-polled --from usbtmc:/dev/null",
        "",
    );
    assert_eq!(run.status, Some(4), "{run:?}");
    let lines = run.lines();
    assert!(of_event(&lines, "opened").len() > 1, "{lines:?}");
    assert_eq!(event(lines.last().unwrap()), "verdict");
}

/// A check on standard input, which ends.
fn judged(command: &str, input: &str) -> Ran {
    let home = tempfile::tempdir().unwrap();
    let arguments: Vec<&str> = command.split_whitespace().collect();
    ran_in(home.path(), &arguments, input)
}

#[test]
fn bytes_at_the_wrong_speed_are_told_garbled() {
    let run = LONG.wrong_speed.get();
    assert_eq!(run.status.code(), Some(4), "{run:?}");
    let told = of_event(&run.lines, "trouble");
    let told = |what| -> Vec<&str> {
        let of = told.iter().filter(|line| line["what"] == what);
        of.map(|line| line["text"].as_str().unwrap()).collect()
    };
    let garbled = told("garbled");
    assert!(garbled[0].contains("made no sense"), "{garbled:?}");
    for text in [garbled[1], told("stalled")[0]] {
        assert!(text.contains("bytes arrive"), "{text}");
        assert!(
            text.contains("--protocol") && text.contains("--baud"),
            "{text}"
        );
    }
    assert_eq!(garbled.len(), 2);
}

#[test]
fn standard_input_that_ends_early_is_a_retest() {
    let run = judged(
        "lead --json --record off --protocol number-lines --from -",
        "OL\nOL\n0.5\n0.5\n",
    );
    assert_eq!(run.status, Some(3), "{run:?}");
    assert_eq!(run.complaint, "");
    let lines = run.lines();
    let verdict = lines.last().unwrap();
    assert_eq!(event(verdict), "verdict");
    assert!(verdict["reasons"].to_string().contains("the input ended"));
}

#[test]
fn standard_input_is_watched_to_its_end() {
    let run = judged(
        "watch --json --readings --record off --protocol number-lines --from -",
        "# a board of one's own\n0.5\nOL\n4.7k\n----\n0.5",
    );
    assert_eq!(run.status, Some(0), "{run:?}");
    let lines = run.lines();
    assert_eq!(event(&lines[0]), "opened");
    assert_eq!(lines[0]["source"], "-");
    let readings: Vec<(Value, Value)> = of_event(&lines, "reading")
        .iter()
        .map(|line| (line["state"].clone(), line["ohms"].clone()))
        .collect();
    let number = |ohms: f64| (Value::from("number"), Value::from(ohms));
    assert_eq!(
        readings[..4],
        [
            number(0.5),
            (Value::from("over"), Value::Null),
            number(4_700.0),
            (Value::from("blank"), Value::Null),
        ]
    );
    // The statistics of a watch come last.
    let last = lines.last().unwrap();
    assert_eq!(event(last), "statistics");
    assert_eq!(last["over"], 1);
    assert_eq!(last["blank"], 1);
}

#[test]
fn a_watch_that_hears_nothing_is_exit_status_4() {
    // Nothing at all, and nothing that makes a reading.
    for input in ["", "# no number\n"] {
        let run = judged(
            "watch --json --record off --protocol number-lines --from -",
            input,
        );
        assert_eq!(run.status, Some(4), "{run:?}");
        let lines = run.lines();
        let last = lines.last().unwrap();
        assert_eq!(event(last), "statistics");
        assert_eq!(last["numbers"], 0);
    }
}

#[test]
fn a_folder_that_cannot_keep_a_recording_is_refused_first() {
    let home = tempfile::tempdir().unwrap();
    fs::write(home.path().join("kept"), "a file is no folder").unwrap();
    let line = "watch --json --record kept --protocol number-lines --from -";
    let arguments: Vec<&str> = line.split(' ').collect();
    let run = ran_in(home.path(), &arguments, "0.5\n");
    let sentence = run.refusal(2);
    assert!(
        sentence.contains("kept") && sentence.contains("--record"),
        "{sentence}"
    );
}
