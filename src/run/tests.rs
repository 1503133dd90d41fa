//! The loop's own duties, on ports and keys that are only pretended.

use futures_util::FutureExt as _;

use super::keyboard::dismisses;
use super::*;
use crate::check::meter::MeterFacts;
use crate::protocol::find;
use crate::reading::Seconds;

/// A watch of a meter that speaks when asked, on a port that takes no bytes; the port's end of
/// the queue is held.
fn run() -> (Run, mpsc::Receiver<Vec<u8>>) {
    let (outgoing, port) = mpsc::channel(1);
    let setup = Setup {
        protocol: find("scpi-polled").unwrap(),
        source: "a port".to_owned(),
        facts: MeterFacts::default(),
        check: None,
        patience: Seconds(60.0),
    };
    let run = Run {
        session: Session::new(setup),
        view: View::new(theme()),
        began: Instant::now(),
        since: Stamp::START,
        voice: Voice {
            form: Form::Screen,
            readings: false,
            hearing: Hearing::SILENT,
        },
        keeping: Keeping::default(),
        terminal: None,
        outgoing,
        sound: Sound::silent(),
        cautions: Vec::new(),
        desk: None,
        dirty: false,
        drawn: Instant::now(),
    };
    (run, port)
}

#[test]
fn a_port_that_takes_no_bytes_is_not_waited_for() {
    let (mut run, port) = run();
    let opened = Event::Opened {
        at: Stamp::START,
        mid_stream: false,
        caution: None,
    };
    // More is sent at the opening than the queue holds.
    let took = run.take(opened, None).now_or_never();
    assert_eq!(took.expect("it waits").unwrap(), None);
    assert_eq!(port.len(), 1);
    let quit = run.command(Command::Quit);
    let took = run.take(quit, None).now_or_never();
    assert!(took.expect("it waits").unwrap().is_some(), "q ends the run");
}

#[test]
fn an_enter_too_early_does_not_take_the_verdict_away() {
    let after = Duration::from_millis;
    assert!(!dismisses(Command::Confirm, after(0)));
    assert!(!dismisses(Command::Confirm, after(1_499)));
    assert!(dismisses(Command::Confirm, after(1_500)));
    assert!(dismisses(Command::Quit, after(0)));
}
