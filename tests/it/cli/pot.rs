//! A control through the real program: turned at the other end of a real port, kept, replayed
//! and compared; and what is refused.

use steadyohm::bench::{Pot, PotFault, Turning};
use steadyohm::circuit::control::Law;
use steadyohm::reading::Seconds;

use super::driver::Scene;
use super::{event, of_event, ran, ran_in};

fn words(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

/// A quick hand on a fast meter.
fn turned(fault: PotFault) -> Scene {
    let mut scene = Scene::new(steadyohm::bench::LeadFault::Good);
    scene.bench.piece = Pot {
        turning: Turning {
            pass: Seconds(3.2),
            jitter: 0.2,
            pauses: 0.0,
            heeds: false,
        },
        ..Pot::new(Law::Linear, fault)
    }
    .into();
    scene.arguments = words("pot --json --readings --value 250k");
    scene
}

#[test]
fn a_cracked_track_is_found_kept_and_replayed() {
    let run = turned(PotFault::DirtyZone).go();
    let verdict = run.verdict();
    assert_eq!(run.status.code(), Some(1), "{verdict}");
    assert_eq!(verdict["check"], "pot");
    assert_eq!(verdict["verdict"], "fail");
    let steps: Vec<&str> = of_event(&run.lines, "step")
        .iter()
        .map(|line| line["wants"].as_str().unwrap())
        .collect();
    assert_eq!(steps.first(), Some(&"value"));
    assert!(steps.contains(&"sweep"));
    let phases = of_event(&run.lines, "phase");
    assert!(phases.iter().any(|line| line["phase"] == "sweeping"));
    let noisy = of_event(&run.lines, "noisy_zone");
    assert!(noisy.len() >= 2, "{noisy:?}");
    for line in &noisy {
        assert_eq!(line["step"], "sweep");
        assert!(line["from_s"].as_f64().unwrap() <= line["to_s"].as_f64().unwrap());
        assert!(line["ohms"].as_f64().unwrap() > 100e3);
    }
    let findings = of_event(&run.lines, "findings");
    let found = findings[0]["findings"][0].as_str().unwrap();
    assert!(found.contains("noisy zone at"), "{found}");
    assert!(found.contains("% from the low end"), "{found}");

    // The recording says the same, event for event.
    let table = run.table();
    let table = table.to_str().unwrap();
    let replayed = ran_in(
        run.home.path(),
        &["replay", table, "--json", "--readings", "--compare", table],
        "",
    );
    assert_eq!(replayed.status, Some(1), "{replayed:?}");
    let mut again = replayed.lines();
    let mut before = run.lines.clone();
    for lines in [&mut again, &mut before] {
        lines.retain(|line| event(line) != "opened");
        lines.last_mut().unwrap()["recording"] = serde_json::Value::Null;
    }
    assert_eq!(again, before);
    assert!(
        replayed.complaint.contains("residual") && replayed.complaint.contains("no change"),
        "{}",
        replayed.complaint
    );
}

#[test]
fn what_makes_no_check_is_refused() {
    for (line, said) in [
        (
            "pot --in-circuit --control tone",
            "cannot be judged at the jack: its capacitor keeps",
        ),
        ("pot --value 500q", "could not be read"),
        ("pot --value 3", "write a total from 10 ohm"),
        ("pot --letter Z", "is no law letter"),
        ("pot --wiring independent", "--in-circuit"),
        ("pot --total 250k", "--in-circuit"),
        ("pot --in-circuit --law-marks", "cannot be used with"),
        ("pot --in-circuit --gang", "cannot be used with"),
        ("pot --in-circuit --both-ends", "cannot be used with"),
        ("pot --in-circuit --total 6k --pickup 250k", "exchanged"),
        ("pot --in-circuit --pickup 3", "no control and no pickup"),
        ("pot --passes 1", "--passes"),
        ("pot --zone 50", "no zone in percent"),
        ("pot --tare 90", "probe leads"),
        ("pot --wait soon", "no length of time"),
        ("demo pot --fault bent", "a control has no fault"),
        ("demo pot --law log", "there is no law"),
        ("demo pot --hand fast", "no length of time"),
        ("simulate pot --rate 0", "readings a second"),
    ] {
        let arguments: Vec<&str> = line.split(' ').collect();
        let ran = ran(&arguments);
        assert_eq!(ran.status, Some(2), "{line}: {ran:?}");
        assert_eq!(ran.said, "", "{line}");
        assert!(ran.complaint.contains(said), "{line}: {}", ran.complaint);
    }
}

#[test]
fn only_sweeps_are_compared() {
    let lead = concat!(env!("CARGO_MANIFEST_DIR"), "/recordings/lead-good.csv");
    let ran = ran(&["replay", lead, "--json", "--compare", lead]);
    assert!(
        ran.refusal(2).contains("no recording of a control"),
        "{ran:?}"
    );
}
