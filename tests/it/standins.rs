//! A stand-in meter for every format, on a real pseudo-terminal and on a real TCP socket, read
//! by the real program; and a reader that stops reading.
#![expect(
    clippy::indexing_slicing,
    reason = "a line without its key fails the test"
)]

use std::io::{BufReader, Read, Write};
use std::net::TcpListener;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::{Arc, mpsc};
use std::thread::JoinHandle;
use std::time::Duration;

use serde_json::Value;
use serialport::{SerialPort as _, TTYPort};
use steadyohm::protocol::{Ask, Protocol, library};
use steadyohm::reading::{Magnitude, Measured};

/// Everything the format's own examples show, as frames and what they mean.
fn frames(protocol: &Protocol) -> Vec<(Vec<u8>, Vec<Measured>)> {
    protocol
        .examples()
        .iter()
        .filter_map(|example| {
            let reads: Option<Vec<Measured>> = example.reads.iter().copied().collect();
            reads
                .filter(|reads| !reads.is_empty())
                .map(|reads| (example.bytes.clone(), reads))
        })
        .collect()
}

fn watch(place: &str, id: &str) -> (Child, BufReader<ChildStdout>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_steadyohm"))
        .args(["watch", "--json", "--readings", "--record", "off"])
        .args(["--protocol", id, "--from", place])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap());
    (child, lines)
}

/// Speaks the frames over a link: each when it is asked for, or all in turn.
fn speak(protocol: &Protocol, link: &mut (impl Read + Write), frames: &[Vec<u8>]) {
    match protocol.ask() {
        // A line format joins at the first line end: what precedes it may be cut.
        Ask::Listen => {
            link.write_all(b"\r\n").unwrap();
            for frame in frames {
                link.write_all(frame).unwrap();
            }
        }
        Ask::Request(request) => {
            let mut heard: Vec<u8> = Vec::new();
            for frame in frames {
                while !heard
                    .windows(request.ask.len())
                    .any(|part| part == request.ask)
                {
                    let mut chunk = [0; 256];
                    let count = link.read(&mut chunk).unwrap();
                    heard.extend(&chunk[..count]);
                }
                heard.clear();
                link.write_all(frame).unwrap();
            }
        }
    }
}

fn on_socket(protocol: Arc<Protocol>, frames: Vec<Vec<u8>>) -> StandIn {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let place = format!("tcp://{}", listener.local_addr().unwrap());
    let thread = std::thread::spawn(move || {
        let (mut stream, _peer) = listener.accept().unwrap();
        speak(&protocol, &mut stream, &frames);
        // Held open until the program leaves.
        let mut rest = Vec::new();
        let _until_closed = stream.read_to_end(&mut rest);
    });
    StandIn {
        place,
        thread,
        until: None,
    }
}

fn on_pseudo_terminal(protocol: Arc<Protocol>, frames: Vec<Vec<u8>>) -> StandIn {
    let (mut meter, program) = TTYPort::pair().unwrap();
    meter.set_timeout(Duration::from_secs(20)).unwrap();
    let place = program.name().unwrap();
    let (until, released) = mpsc::channel();
    let thread = std::thread::spawn(move || {
        speak(&protocol, &mut meter, &frames);
        // What is written just before a hang-up is lost: the line is held until all is read.
        let _released = released.recv();
        drop(program);
    });
    StandIn {
        place,
        thread,
        until: Some(until),
    }
}

/// The next reading's line.
fn reading(lines: &mut impl std::io::BufRead) -> Value {
    loop {
        let mut line = String::new();
        assert!(lines.read_line(&mut line).unwrap() > 0, "the program left");
        let value: Value = serde_json::from_str(&line).unwrap();
        if value["event"] == "reading" {
            return value;
        }
    }
}

fn shown(value: &Value, wanted: &Measured) -> bool {
    let state = match wanted.magnitude {
        Magnitude::Number(_) => "number",
        Magnitude::Over { .. } => "over",
        Magnitude::Blank => "blank",
    };
    let ohms = wanted.ohms().map(|ohms| ohms.0);
    let close = match (value["ohms"].as_f64(), ohms) {
        (Some(said), Some(ohms)) => (said - ohms).abs() <= 1e-8 * ohms.abs(),
        (said, ohms) => said.is_none() == ohms.is_none(),
    };
    value["state"] == state && close
}

/// A stand-in at work.
struct StandIn {
    place: String,
    thread: JoinHandle<()>,
    /// Dropped when nothing more is wanted of it.
    until: Option<mpsc::Sender<()>>,
}

fn every_format_over(link: fn(Arc<Protocol>, Vec<Vec<u8>>) -> StandIn) {
    for protocol in library() {
        let id = protocol.id();
        let spoken = frames(protocol);
        assert!(spoken.len() >= 3, "{id}");
        let bytes = spoken.iter().map(|(bytes, _)| bytes.clone()).collect();
        let StandIn {
            place,
            thread,
            until,
        } = link(Arc::clone(protocol), bytes);
        let (mut child, mut lines) = watch(&place, id);
        let mut before = None;
        for wanted in spoken.iter().flat_map(|(_, reads)| reads) {
            // A format whose meters send each frame twice takes an equal one for the same.
            if protocol.repeats_within().is_some() && before == Some(wanted) {
                continue;
            }
            before = Some(wanted);
            let said = reading(&mut lines);
            assert!(
                shown(&said, wanted),
                "{id} at {place}: {said} for {wanted:?}"
            );
        }
        child.kill().unwrap();
        child.wait().unwrap();
        drop(lines);
        drop(until);
        thread.join().unwrap();
    }
}

#[test]
fn every_format_on_a_socket() {
    every_format_over(on_socket);
}

#[test]
fn every_format_on_a_pseudo_terminal() {
    every_format_over(on_pseudo_terminal);
}

/// Back-pressure: a reader that stops reading until even the meter is stuck loses nothing.
#[test]
fn a_reader_that_stops_reading_loses_nothing() {
    const COUNT: u32 = 200_000;
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let place = format!("tcp://{}", listener.local_addr().unwrap());
    let (written, progress) = mpsc::channel();
    let speaking = std::thread::spawn(move || {
        let (mut stream, _peer) = listener.accept().unwrap();
        stream.write_all(b"\r\n").unwrap();
        for number in 0..COUNT {
            stream
                .write_all(format!("{number}.5 ohm\r\n").as_bytes())
                .unwrap();
            // Once the test knows that the meter was stuck it listens no more.
            let _listener = written.send(number);
        }
        let mut rest = Vec::new();
        let _until_closed = stream.read_to_end(&mut rest);
    });
    let (mut child, mut said) = watch(&place, "number-lines");
    while progress.recv_timeout(Duration::from_millis(300)).is_ok() {}
    for number in 0..COUNT {
        let next = reading(&mut said);
        let wanted = f64::from(number) + 0.5;
        assert_eq!(next["ohms"].as_f64().unwrap().to_bits(), wanted.to_bits());
    }
    child.kill().unwrap();
    child.wait().unwrap();
    drop(said);
    speaking.join().unwrap();
}
