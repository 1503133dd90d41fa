//! What is wrong with the arguments or the port is said in one sentence: what, where, and what
//! to do; nothing on standard output, and the exit status tells use from meter.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::process::Command;

use steadyohm::protocol::SerialSettings;
use steadyohm::source::{LinkSettings, Pseudo, Where, open};

use super::{Ran, ran, ran_in};

fn lead(more: &str) -> Ran {
    let line = format!("lead --json --record off {more}");
    let arguments: Vec<&str> = line.split_whitespace().collect();
    ran(&arguments)
}

/// Every word of it stands in the sentence.
pub(super) fn says(sentence: &str, words: &[&str]) {
    for word in words {
        assert!(sentence.contains(word), "{word:?} is not in {sentence:?}");
    }
    assert_eq!(sentence.lines().count(), 1, "{sentence}");
}

#[test]
fn no_such_port() {
    let ran = lead("--from /dev/ttyUSB77 --protocol lcd-segments-14");
    says(
        ran.refusal(4),
        &["no port at /dev/ttyUSB77", "`steadyohm ports`"],
    );
}

#[test]
fn no_port() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().to_str().unwrap();
    let ran = lead(&format!("--from {at} --protocol lcd-segments-14"));
    says(ran.refusal(4), &[at, "is a folder"]);
    let ran = lead("--from serial:/dev/null --protocol lcd-segments-14");
    says(ran.refusal(4), &["/dev/null is not a serial port"]);
}

#[test]
fn nobody_listens_on_the_network() {
    let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = free.local_addr().unwrap().port();
    drop(free);
    let ran = lead(&format!(
        "--from tcp://127.0.0.1:{port} --protocol scpi-polled"
    ));
    says(
        ran.refusal(4),
        &["127.0.0.1 refused", &port.to_string(), "remote control"],
    );
}

#[tokio::test]
async fn a_busy_port() {
    let meter = Pseudo::new().unwrap();
    let path = meter.path().to_owned();
    let settings = LinkSettings::new(SerialSettings::default(), std::time::Instant::now());
    let held = open(&Where::Serial(path.clone()), settings).await.unwrap();
    let path = path.to_str().unwrap();
    let ran = lead(&format!("--from {path} --protocol lcd-segments-14"));
    says(
        ran.refusal(4),
        &[
            path,
            "in use by",
            &format!("(process {})", std::process::id()),
        ],
    );
    drop(held);
}

/// The program as this user; root is refused nothing, so it lowers itself first.
fn as_nobody(arguments: &[&str]) -> Ran {
    let folder = tempfile::tempdir().unwrap();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    let program = folder.path().join("steadyohm");
    fs::copy(env!("CARGO_BIN_EXE_steadyohm"), &program).unwrap();
    let mut command = if is_root() {
        let mut lowered = Command::new("setpriv");
        lowered.args(["--reuid=65534", "--regid=65534", "--clear-groups", "--"]);
        lowered.arg(&program);
        lowered
    } else {
        Command::new(&program)
    };
    command.args(arguments).env("HOME", folder.path());
    Ran::of(command.output().unwrap())
}

pub(super) fn is_root() -> bool {
    let told = Command::new("id").arg("-u").output().unwrap();
    told.stdout == b"0\n"
}

#[tokio::test]
async fn no_permission_names_the_group_that_has_it() {
    let meter = Pseudo::new().unwrap();
    let path = meter.path().to_str().unwrap();
    let mode = |mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    let arguments = [
        "watch",
        "--record",
        "off",
        "--from",
        path,
        "--protocol",
        "number-lines",
    ];
    mode(0o000);
    let sentence = as_nobody(&arguments).refusal(4).to_owned();
    says(&sentence, &["no permission to open", path, "udev rule"]);
    if is_root() {
        // Only root may give a device away; this group there is on every system.
        mode(0o660);
        let given = Command::new("chgrp").args(["tty", path]).status();
        assert!(given.unwrap().success());
        let sentence = as_nobody(&arguments).refusal(4).to_owned();
        says(&sentence, &["the group tty", "usermod -aG tty"]);
    }
}

#[test]
fn an_unknown_format() {
    let ran = lead("--from - --protocol lcd-segment-14");
    says(
        ran.refusal(2),
        &[
            "`lcd-segment-14`",
            "lcd-segments-14",
            "`steadyohm protocols`",
        ],
    );
    let ran = lead("--from - --protocol zzzzzzzzzzzz");
    says(ran.refusal(2), &["`zzzzzzzzzzzz`", "`steadyohm protocols`"]);
}

/// Without a format the meter is listened to; a port that cannot be opened is told all the
/// same, and nothing before it.
#[test]
fn a_missing_format() {
    let ran = lead("--from /dev/null");
    says(ran.refusal(4), &["/dev/null is not a serial port"]);
    let ran = lead("--from /dev/ttyUSB77");
    says(
        ran.refusal(4),
        &["no port at /dev/ttyUSB77", "`steadyohm ports`"],
    );
}

#[tokio::test]
async fn a_missing_format_of_a_silent_meter() {
    let meter = Pseudo::new().unwrap();
    let path = meter.path().to_str().unwrap();
    let ran = lead(&format!(
        "--from {path} --no-ask --baud 2400 --dtr on --rts off"
    ));
    assert_eq!(ran.status, Some(4), "{ran:?}");
    assert_eq!(ran.said, "", "{ran:?}");
    let sentences: Vec<&str> = ran.complaint.lines().collect();
    let [begins, silent] = sentences[..] else {
        panic!("{sentences:?}");
    };
    says(begins, &["finding out", path, "at most"]);
    says(silent, &["nothing is heard", path, "switch the meter on"]);
}

#[test]
fn a_format_file_with_an_error() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("mine.toml");
    for (text, words) in [
        ("schema = 1\n[about]\nid = \"x\nb = 1\n", &["line 3"][..]),
        (
            "schema = 1\n\n[about]\nnmae = \"x\"\n",
            &["line 4", "nmae", "id"],
        ),
    ] {
        fs::write(&file, text).unwrap();
        let line = "lead --json --record off --from - --protocol mine.toml";
        let arguments: Vec<&str> = line.split(' ').collect();
        let ran = ran_in(home.path(), &arguments, "");
        let sentence = ran.refusal(2);
        says(sentence, words);
        says(sentence, &["mine.toml"]);
    }
    fs::remove_file(file).unwrap();
    let ran = ran_in(
        home.path(),
        &["watch", "--from", "-", "--protocol", "mine.toml"],
        "",
    );
    says(ran.refusal(2), &["cannot read mine.toml"]);
}

#[test]
fn wrong_options() {
    for (line, words) in [
        ("lead --tick 0s", &["--tick", "0s"][..]),
        ("lead --tare minus", &["--tare", "minus", "4.7k"]),
        ("lead --tare 50", &["--tare", "mend the probe leads"]),
        ("lead --limit 0", &["--limit", "above 0"]),
        ("lead --isolation 0", &["--isolation", "no isolation"]),
        ("lead --isolation 999", &["--isolation", "100.0 kΩ"]),
        ("lead --length 6m", &["--gauge"]),
        ("lead --json --plain", &["--json", "--plain"]),
        ("lead --baud 7", &["--baud", "50"]),
        (
            "lead --from http://bench:80",
            &["--from", "tcp://HOST:PORT"],
        ),
        ("lead --confidence 100", &["--confidence", "below 100"]),
        ("demo lead --fault tip-opens", &["tip-opens-when-flexed"]),
        ("replay", &["RECORDING"]),
        ("leda", &["leda", "lead"]),
        ("", &["Usage"]),
    ] {
        let arguments: Vec<&str> = line.split_whitespace().collect();
        let ran = ran(&arguments);
        assert_eq!(ran.status, Some(2), "{line}: {ran:?}");
        assert_eq!(ran.said, "", "{line}");
        for word in words {
            assert!(ran.complaint.contains(word), "{line}: {}", ran.complaint);
        }
    }
}
