//! The simulated port, opened by the real command as from a second terminal.

use std::os::unix::process::ExitStatusExt as _;

use std::path::Path;
use std::time::Duration;

use serialport::SerialPort as _;
use tokio::time::timeout;

use super::program::Program;
use super::{LIMIT, event, json, steadyohm};

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
    assert!(
        complaint.contains("steadyohm lead --from /dev/pts/"),
        "{complaint}"
    );
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

/// A watch of this port, until a reading as wanted; gives the watch and the reading's time.
async fn watched_until(home: &Path, path: &str, is_number: bool) -> (Program, f64) {
    let mut command = steadyohm(home);
    let line = "watch --json --readings --record off --protocol lcd-segments-14 --from";
    command.args(line.split(' ')).arg(path);
    let mut watch = Program::start(command);
    loop {
        let line = json(&watch.line().await.unwrap());
        if event(&line) == "reading" && (line["state"] == "number") == is_number {
            let at = line["t"].as_f64().unwrap();
            return (watch, at);
        }
    }
}

#[tokio::test]
async fn the_simulated_operator_begins_when_the_port_is_opened() {
    let home = tempfile::tempdir().unwrap();
    let mut command = steadyohm(home.path());
    command.args(["simulate", "lead", "--rate", "100"]);
    let mut simulator = Program::start(command);
    let path = simulator.line().await.unwrap();
    // The operator's first touch, and nobody watches any longer.
    let (mut watch, _) = watched_until(home.path(), &path, true).await;
    watch.signal("INT");
    while watch.line().await.is_some() {}
    watch.end();
    // Readings that nobody takes pile up until the meter lets them go.
    let mut port = serialport::new(&path, 2400).open_native().unwrap();
    port.set_exclusive(false).unwrap();
    let mut before = 0;
    let piling = async {
        loop {
            let now = port.bytes_to_read().unwrap();
            if now < before {
                return;
            }
            before = now;
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
    };
    timeout(LIMIT, piling).await.expect("nothing is let go");
    drop(port);
    // Otherwise the probes would stay on the tips for another seven seconds.
    let (_watch, at) = watched_until(home.path(), &path, false).await;
    assert!(at < 3.0, "the probes were lifted only after {at} s");
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

/// The hand that goes by the clock would be elsewhere by the time the check has asked twice.
#[test]
fn a_lead_that_keeps_the_check_waiting_is_not_simulated_by_the_clock() {
    let home = tempfile::tempdir().unwrap();
    for fault in ["sleeve-open", "tip-sleeve-crossed"] {
        let mut command = steadyohm(home.path());
        command.args(["simulate", "lead", "--fault", fault]);
        let output = command.output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{fault}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(
            said.contains(&format!("steadyohm demo lead --fault {fault}")),
            "{said}"
        );
    }
}
