//! The simulated port, opened by the real command as from a second terminal.

use std::os::unix::process::ExitStatusExt as _;

use super::driver::Program;
use super::{event, json, steadyohm};

#[tokio::test]
async fn a_simulated_lead_prints_a_port_that_opens() {
    let home = tempfile::tempdir().unwrap();
    let mut command = steadyohm(home.path());
    command.args(["simulate", "lead", "--rate", "100"]);
    let mut simulator = Program::start(command);
    let path = simulator.line().await.unwrap();
    assert!(path.starts_with("/dev/"), "{path}");

    let mut command = steadyohm(home.path());
    let line = "watch --json --readings --record off --protocol lcd-segments-14 --from";
    command.args(line.split(' ')).arg(&path);
    let mut watch = Program::start(command);
    let first = json(&watch.line().await.unwrap());
    assert_eq!(first["source"], format!("serial:{path}"));
    // The probes are in the air, and then on the tips.
    let mut states = Vec::new();
    while !states.ends_with(&["number"]) {
        let line = json(&watch.line().await.unwrap());
        if event(&line) == "reading" {
            states.push(if line["state"] == "number" {
                "number"
            } else {
                "none"
            });
        }
    }
    assert!(states.starts_with(&["none"]));

    simulator.signal("TERM");
    assert_eq!(simulator.line().await, None);
    let (status, complaint) = simulator.end();
    assert_eq!(status.signal(), Some(15), "{status:?}");
    assert_eq!(complaint, "");
    // Whoever listens is told.
    let lost = loop {
        let line = json(&watch.line().await.unwrap());
        if event(&line) == "trouble" {
            break line;
        }
    };
    assert_eq!(lost["what"], "lost");
    watch.signal("INT");
    let mut last = None;
    while let Some(line) = watch.line().await {
        last = Some(json(&line));
    }
    assert_eq!(event(&last.unwrap()), "statistics");
    assert_eq!(watch.end().0.code(), Some(0));
}

#[tokio::test]
async fn a_demo_needs_no_meter() {
    let home = tempfile::tempdir().unwrap();
    let mut command = steadyohm(home.path());
    let line = "demo lead --json --fault tip-sleeve-short --rate 50 --tick 0.12s";
    command.args(line.split(' '));
    let mut demo = Program::start(command);
    let mut last = None;
    while let Some(line) = demo.line().await {
        last = Some(json(&line));
    }
    let verdict = last.unwrap();
    assert_eq!(event(&verdict), "verdict");
    assert_eq!(verdict["verdict"], "fail", "{verdict}");
    assert!(verdict["recording"].is_null());
    let (status, complaint) = demo.end();
    assert_eq!(status.code(), Some(1));
    assert_eq!(complaint, "");
    // A demo leaves nothing behind unless asked to.
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
}
