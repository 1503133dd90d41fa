//! Finding the meter, with the real program on real pseudo-terminals.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a helper of a test fails as the test does, and starts what the test needs"
)]

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;
use steadyohm::protocol::{Ask, Protocol, encode, find, library};
use steadyohm::reading::{Annunciators, Measured, Quantity};
use steadyohm::source::Pseudo;
use tokio::task::JoinHandle;

/// Far beyond what any of this takes: it only turns a hang into a failure.
const LIMIT: Duration = Duration::from_secs(60);

/// How long a reading may wait for a reader.
const PATIENCE: Duration = Duration::from_millis(20);

/// A meter on a pseudo-terminal, which reads 0.4 ohm or the nearest it can show, so many times
/// a second; one that has to be asked answers each question and nothing else. It gives what it
/// was sent.
struct Meter {
    path: PathBuf,
    task: JoinHandle<Vec<u8>>,
}

impl Meter {
    fn start(format: &Protocol, rate: f64) -> Self {
        let mut pseudo = Pseudo::new().unwrap();
        let path = pseudo.path().to_owned();
        let frame = encode(format, &reading(format)).unwrap();
        let question = match format.ask() {
            Ask::Listen => None,
            Ask::Request(request) => Some(request.ask.clone()),
        };
        let task = tokio::spawn(async move {
            let mut sent: Vec<u8> = Vec::new();
            let mut beat = tokio::time::interval(Duration::from_secs_f64(1.0 / rate));
            loop {
                let asked = tokio::select! {
                    _ = beat.tick(), if question.is_none() => true,
                    message = pseudo.read() => {
                        let Ok(message) = message else { return sent };
                        sent.extend(message);
                        question.as_ref().is_some_and(|question| sent.ends_with(question))
                    }
                };
                if !asked {
                    continue;
                }
                // As on a line that nobody listens to, old readings are gone.
                if pseudo.unread() > 64 {
                    drop(pseudo.discard_unread());
                }
                drop(pseudo.write(&frame, PATIENCE).await);
            }
        });
        Self { path, task }
    }
}

impl Drop for Meter {
    fn drop(&mut self) {
        self.task.abort();
    }
}

fn reading(format: &Protocol) -> Measured {
    let shapes = format.shapes();
    let marks = Annunciators::NONE;
    shapes
        .iter()
        .filter(|shape| shape.quantity == Quantity::Resistance)
        .map(|shape| shape.measured(4, marks))
        .find(|value| value.number().is_some_and(|ohms| ohms > 0.0 && ohms < 10.0))
        .unwrap()
}

async fn steadyohm(arguments: &[&str], input: &[u8]) -> Output {
    let arguments: Vec<String> = arguments.iter().map(|&text| text.to_owned()).collect();
    let input = input.to_vec();
    let run = tokio::task::spawn_blocking(move || {
        let mut child = Command::new(env!("CARGO_BIN_EXE_steadyohm"))
            .args(arguments)
            .env("XDG_CONFIG_HOME", "/nonexistent")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        stdin.write_all(&input).unwrap();
        drop(stdin);
        child.wait_with_output().unwrap()
    });
    tokio::time::timeout(LIMIT, run).await.unwrap().unwrap()
}

fn lines(output: &Output) -> Vec<Value> {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    text.lines()
        .map(|line| {
            serde_json::from_str(line).unwrap_or_else(|error| panic!("{line}: {error}"))
        })
        .collect()
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

async fn identify(path: &Path, more: &[&str]) -> (Option<i32>, Value, String) {
    let place = path.display().to_string();
    let mut arguments = vec!["identify", "--json", "--from", &place];
    arguments.extend(more);
    let output = steadyohm(&arguments, b"").await;
    let last = lines(&output).pop().unwrap();
    (output.status.code(), last, told(&output))
}

/// Its lines, unless their header is heard, are bare numbers, which may be anybody's.
const BARE: &str = "csv-columns";

/// The requirement: a meter that talks by itself is found in three seconds at most.
#[tokio::test(flavor = "multi_thread")]
async fn a_meter_that_talks_is_found_in_three_seconds() {
    let talking = library()
        .iter()
        .filter(|format| matches!(format.ask(), Ask::Listen));
    for format in talking.filter(|format| format.id() != BARE) {
        let meter = Meter::start(format, 3.0);
        let began = Instant::now();
        let (status, last, told) = identify(&meter.path, &[]).await;
        let took = began.elapsed();
        assert_eq!(last["protocol"], format.id(), "{last}\n{told}");
        assert_eq!(
            (status, &last["outcome"]),
            (Some(0), &"sure".into()),
            "{last}"
        );
        assert_eq!(last["asked"], false);
        assert!(took < Duration::from_secs(3), "{}: {took:?}", format.id());
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn columns_of_bare_numbers_are_named_and_not_sure() {
    let meter = Meter::start(&find(BARE).unwrap(), 3.0);
    let (status, last, told) = identify(&meter.path, &[]).await;
    assert_eq!(
        (status, &last["outcome"], &last["protocol"]),
        (Some(3), &"not_sure".into(), &BARE.into()),
        "{last}\n{told}"
    );
    assert_eq!(last["asked"], false);
}

/// Two formats share a question: it is put once, and the form of the reply decides.
#[tokio::test(flavor = "multi_thread")]
async fn a_meter_that_has_to_be_asked_is_asked_and_that_is_told() {
    for id in ["scpi-polled", "scpi-block"] {
        let meter = Meter::start(&find(id).unwrap(), 1.0);
        // One setting to listen at keeps this short.
        let line = ["--baud", "9600", "--dtr", "on", "--rts", "on"];
        let (status, last, told) = identify(&meter.path, &line).await;
        assert_eq!(
            (status, &last["protocol"]),
            (Some(0), &id.into()),
            "{last}\n{told}"
        );
        assert_eq!(last["asked"], true);
        assert_eq!(told.matches("READ?").count(), 1, "{told}");
        // A meter that may answer in text is not switched to binary to find out.
        assert!(!told.contains("FORM:DATA"), "{told}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_sent_where_asking_is_forbidden() {
    let mut pseudo = Pseudo::new().unwrap();
    let path = pseudo.path().to_owned();
    let line = ["--no-ask", "--baud", "9600", "--dtr", "on", "--rts", "on"];
    let (status, last, told) = identify(&path, &line).await;
    assert_eq!(
        (status, &last["outcome"]),
        (Some(4), &"silent".into()),
        "{last}"
    );
    assert!(!told.contains("sending"), "{told}");
    let sent = tokio::time::timeout(Duration::ZERO, pseudo.read()).await;
    assert!(sent.is_err(), "{sent:?}");
    let place = path.display().to_string();
    let run = ["watch", "--json", "--record", "off", "--from", &place];
    let output = steadyohm(&[&run[..], &line[..]].concat(), b"").await;
    assert_eq!(output.status.code(), Some(4), "{output:?}");
    assert!(
        told_last(&output).contains("switch the meter on"),
        "{output:?}"
    );
}

fn told_last(output: &Output) -> String {
    told(output).lines().last().unwrap_or_default().to_owned()
}

/// A talker that no format understands is never asked anything.
#[tokio::test(flavor = "multi_thread")]
async fn a_port_that_talks_is_not_asked() {
    let mut pseudo = Pseudo::new().unwrap();
    let path = pseudo.path().to_owned();
    let talker = tokio::spawn(async move {
        let mut beat = tokio::time::interval(Duration::from_millis(100));
        let mut sent = Vec::new();
        loop {
            tokio::select! {
                _ = beat.tick() => {
                    if pseudo.unread() > 64 {
                        drop(pseudo.discard_unread());
                    }
                    drop(pseudo.write(b"$GREETINGS*00\r\n", PATIENCE).await);
                }
                message = pseudo.read() => {
                    sent.extend(message.unwrap());
                    assert!(sent.is_empty(), "{sent:?}");
                }
            }
        }
    });
    let line = ["--baud", "9600", "--dtr", "on", "--rts", "on"];
    let (status, last, told) = identify(&path, &line).await;
    assert_eq!(
        (status, &last["outcome"]),
        (Some(3), &"none".into()),
        "{last}"
    );
    assert!(!told.contains("sending"), "{told}");
    assert!(!talker.is_finished());
    talker.abort();
}

#[tokio::test]
async fn standard_input_is_understood_without_losing_a_byte() {
    let input = b"0.41 ohm\n0.42 ohm\n0.43 ohm\n0.44 ohm\n0.45 ohm\n";
    let output = steadyohm(
        &[
            "watch",
            "--from",
            "-",
            "--json",
            "--readings",
            "--record",
            "off",
        ],
        input,
    )
    .await;
    let lines = lines(&output);
    assert_eq!(lines[0]["protocol"], "number-lines");
    let ohms: Vec<f64> = lines
        .iter()
        .filter(|line| line["event"] == "reading")
        .map(|line| line["ohms"].as_f64().unwrap())
        .collect();
    assert_eq!(ohms, [0.41, 0.42, 0.43, 0.44, 0.45]);
    assert!(told(&output).contains("speaks number-lines"), "{output:?}");
}

#[tokio::test]
async fn what_is_not_clear_is_a_question_to_the_user() {
    let input = b"1.5\n1.6\n1.7\n1.8\n";
    let output = steadyohm(
        &["watch", "--from", "-", "--json", "--record", "off"],
        input,
    )
    .await;
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty(), "{output:?}");
    let told = told_last(&output);
    assert!(
        told.contains("--protocol number-lines or --protocol scpi-stream"),
        "{told}"
    );
}

/// A check goes to its verdict without being told the format: here, on a meter that is on
/// 0.4 ohm throughout, to a retest, since tip to sleeve never opens.
#[tokio::test(flavor = "multi_thread")]
async fn a_check_reaches_its_verdict_without_the_format() {
    let meter = Meter::start(&find("lcd-segments-14").unwrap(), 10.0);
    let place = meter.path.display().to_string();
    let check = ["lead", "--json", "--record", "off", "--from", &place];
    let hurried = ["--wait", "1s", "--patience", "5s"];
    let output = steadyohm(&[&check[..], &hurried[..]].concat(), b"").await;
    let lines = lines(&output);
    assert_eq!(lines[0]["protocol"], "lcd-segments-14", "{output:?}");
    let last = lines.last().unwrap();
    assert_eq!(last["event"], "verdict", "{output:?}");
    assert!(last["blind_spot"].is_object(), "{last}");
    assert!(matches!(output.status.code(), Some(1 | 3)), "{output:?}");
}
