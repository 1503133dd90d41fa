//! A bench meter that speaks when asked, over a serial port and over the network.

use super::contract::keeps;
use super::driver::Finished;
use super::of_event;
use super::stage::STAGE;

/// What is sent before the first question and in parting, as the format's file has it.
const AT_OPEN: &str = "SYST:REM\n*CLS\nCONF:RES\nSENS:RES:NPLC 1\n";
const AT_CLOSE: &str = "SYST:LOC\n";

/// Holds what the meter was sent against the format; gives how often it was asked.
fn questions(run: &Finished) -> usize {
    let sent = String::from_utf8(run.sent.clone()).unwrap();
    let asked = sent
        .strip_prefix(AT_OPEN)
        .and_then(|rest| rest.strip_suffix(AT_CLOSE))
        .unwrap_or_else(|| panic!("{sent}"));
    let questions = asked.matches("READ?\n").count();
    assert_eq!(asked, "READ?\n".repeat(questions));
    questions
}

#[test]
fn a_serial_meter_is_configured_asked_and_let_go() {
    let run = STAGE.polled_loop.get();
    assert_eq!(keeps(run), ["loop", "isolation"]);
    assert_eq!(run.verdict()["verdict"], "pass", "{}", run.verdict());
    let answers = of_event(&run.lines, "reading").len();
    // One question at a time: the last may still be without its answer.
    assert!((answers..=answers + 1).contains(&questions(run)));
}

#[test]
fn a_documented_aperture_stands_though_its_share_is_assumed() {
    let blind_spot = &STAGE.polled_loop.get().verdict()["blind_spot"];
    // The frames do not tell the range, so how far an opening must fill it is not known.
    assert_eq!(blind_spot["basis"], "assumed");
    // One mains cycle at 50 Hz, as the format's file has it.
    assert_eq!(blind_spot["aperture_s"], 0.02);
}

#[test]
fn a_networked_meter_shows_a_break() {
    let run = STAGE.polled_socket.get();
    keeps(run);
    let source = run.lines[0]["source"].as_str().unwrap();
    assert!(source.starts_with("tcp://127.0.0.1:"), "{source}");
    assert!(!of_event(&run.lines, "break").is_empty());
    assert_eq!(run.verdict()["verdict"], "fail", "{}", run.verdict());
    questions(run);
}
