//! The polled SCPI format against a parser of that language that is not ours: the `scpi` crate
//! (IEEE 488.2 and SCPI-1999), as an instrument on a real TCP socket.
//!
//! It must understand every command that is sent, and its replies, special values included,
//! must be read for what they are.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::process::{Command, Stdio};

use scpi::error::{Error, Result as Outcome};
use scpi::tree::prelude::*;
use scpi::{Branch, Leaf, Root, cmd_nquery, cmd_qonly};

/// What the instrument measures, over and over; infinite is open, not-a-number is no reading.
const OHMS: [f64; 6] = [100.0, 0.25, 10_023.45, f64::INFINITY, f64::NAN, 4.7e6];

#[derive(Debug, Default)]
struct Instrument {
    asked: usize,
    set: Vec<&'static str>,
    errors: Vec<String>,
}

impl Device for Instrument {
    fn handle_error(&mut self, error: Error) {
        self.errors.push(error.to_string());
    }
}

/// A command that only sets something; with one parameter at most.
struct Sets(&'static str);

impl scpi::tree::prelude::Command<Instrument> for Sets {
    cmd_nquery!();

    fn event(
        &self,
        device: &mut Instrument,
        _context: &mut Context<'_>,
        mut parameters: Parameters<'_, '_>,
    ) -> Outcome<()> {
        let _number: Option<f64> = parameters.next_optional_data()?;
        device.set.push(self.0);
        Ok(())
    }
}

/// `READ?`.
struct Reads;

impl scpi::tree::prelude::Command<Instrument> for Reads {
    cmd_qonly!();

    fn query(
        &self,
        device: &mut Instrument,
        _context: &mut Context<'_>,
        _parameters: Parameters<'_, '_>,
        mut response: ResponseUnit<'_>,
    ) -> Outcome<()> {
        let ohms = OHMS
            .into_iter()
            .cycle()
            .nth(device.asked % OHMS.len())
            .unwrap();
        device.asked += 1;
        response.data(ohms).finish()
    }
}

const TREE: Node<'_, Instrument> = Root![
    Leaf!(b"*CLS" => &Sets("clear")),
    Leaf!(b"READ" => &Reads),
    Branch![b"SYSTem";
        Leaf!(b"REMote" => &Sets("remote")),
        Leaf!(b"LOCal" => &Sets("local"))
    ],
    Branch![b"CONFigure"; Leaf!(b"RESistance" => &Sets("resistance"))],
    Branch![b"SENSe"; Branch![b"RESistance"; Leaf!(b"NPLCycles" => &Sets("aperture"))]]
];

/// Serves one connection to its end.
fn serve(listener: &TcpListener) -> Instrument {
    let mut instrument = Instrument::default();
    let (stream, _peer) = listener.accept().unwrap();
    let mut replies = stream.try_clone().unwrap();
    for line in BufReader::new(stream).split(b'\n').map_while(Result::ok) {
        let mut reply = Vec::new();
        let mut context = Context::default();
        // An error is kept by the instrument, as its error queue would.
        if TREE
            .run(&line, &mut instrument, &mut context, &mut reply)
            .is_ok()
            && replies.write_all(&reply).is_err()
        {
            break;
        }
    }
    instrument
}

#[test]
fn another_parser_understands_us_and_we_its_replies() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let place = format!("tcp://{}", listener.local_addr().unwrap());
    let serving = std::thread::spawn(move || serve(&listener));
    let mut child = Command::new(env!("CARGO_BIN_EXE_steadyohm"))
        .args(["watch", "--json", "--readings", "--record", "off"])
        .args(["--protocol", "scpi-polled", "--from", &place])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map_while(Result::ok);
    let mut next = || -> serde_json::Value {
        let line = lines
            .by_ref()
            .find(|line| line.contains("\"reading\""))
            .unwrap();
        serde_json::from_str(&line).unwrap()
    };
    for round in 0..20 {
        for wanted in OHMS {
            let reading = next();
            let state = reading["state"].as_str().unwrap();
            match reading["ohms"].as_f64() {
                Some(ohms) => {
                    assert_eq!(state, "number", "round {round}");
                    assert!(
                        (ohms - wanted).abs() <= 1e-9 * wanted,
                        "{ohms} for {wanted}"
                    );
                }
                None => assert_eq!(state, if wanted.is_nan() { "blank" } else { "over" }),
            }
        }
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let instrument = serving.join().unwrap();
    assert_eq!(instrument.errors, Vec::<String>::new());
    assert_eq!(
        instrument.set,
        ["remote", "clear", "resistance", "aperture"]
    );
}
