//! The screen's coming and going on a real terminal; what it shows is tested elsewhere.

use std::ffi::OsStr;
use std::io::{Read as _, Write as _};
use std::num::NonZero;
use std::sync::mpsc::{Receiver, channel};

use portable_pty::{CommandBuilder, MasterPty, PtySize, native_pty_system};

use super::LIMIT;
use super::sound::{KEEPS, StandIn};

/// The demo on a terminal of 24 lines of 80.
struct OnTerminal {
    shown: vt100::Parser,
    said: Receiver<Vec<u8>>,
    child: Box<dyn portable_pty::Child + Send + Sync>,
    keys: Box<dyn std::io::Write + Send>,
    /// Held open: the terminal would hang up.
    _terminal: Box<dyn MasterPty + Send>,
    all: Vec<u8>,
}

impl OnTerminal {
    fn start(arguments: &str) -> Self {
        // No player is found, so that no test is heard.
        Self::start_with(arguments, OsStr::new(""))
    }

    /// The same, finding other programs there.
    fn start_with(arguments: &str, path: &OsStr) -> Self {
        let window = PtySize {
            rows: 24,
            cols: 80,
            ..PtySize::default()
        };
        let pair = native_pty_system().openpty(window).unwrap();
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_steadyohm"));
        command.args(arguments.split(' '));
        command.env("TERM", "xterm-256color");
        command.env("PATH", path);
        let child = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let mut output = pair.master.try_clone_reader().unwrap();
        let (told, said) = channel();
        std::thread::spawn(move || {
            let mut chunk = vec![0; 4096];
            while let Ok(count @ 1..) = output.read(&mut chunk) {
                if told.send(chunk[..count].to_vec()).is_err() {
                    return;
                }
            }
        });
        Self {
            shown: vt100::Parser::new(size(24), size(80), 0),
            said,
            child,
            keys: pair.master.take_writer().unwrap(),
            _terminal: pair.master,
            all: Vec::new(),
        }
    }

    /// Shows what comes until the first bend is rung, which takes readings: two strokes ask
    /// for the tip, the third is the bend's.
    fn until_bending(&mut self) {
        while self.all.split(|byte| *byte == 7).count() <= 3 {
            let bytes = self.said.recv_timeout(LIMIT).unwrap_or_else(|_| {
                panic!("it never came: {}", self.shown.screen().contents())
            });
            self.shown.process(&bytes);
            self.all.extend(bytes);
        }
    }

    /// Shows the rest, and gives the exit status.
    fn end(mut self) -> (u32, Self) {
        let status = self.child.wait().unwrap().exit_code();
        // The program has the terminal's only other end, so this ends with it.
        while let Ok(bytes) = self.said.recv_timeout(LIMIT) {
            self.shown.process(&bytes);
            self.all.extend(bytes);
        }
        (status, self)
    }
}

fn size(cells: u16) -> NonZero<u16> {
    NonZero::new(cells).unwrap()
}

/// The terminal is as it was, and nobody panicked.
fn is_restored(left: &OnTerminal) {
    let screen = left.shown.screen();
    assert!(!screen.alternate_screen());
    assert!(!screen.hide_cursor());
    let text = String::from_utf8_lossy(&left.all);
    assert!(!text.contains("panicked"), "{text}");
}

#[test]
fn q_leaves_the_screen_at_once() {
    let mut demo = OnTerminal::start("demo lead --rate 50");
    demo.until_bending();
    assert!(demo.shown.screen().alternate_screen());
    demo.keys.write_all(b"q").unwrap();
    let (status, left) = demo.end();
    assert_eq!(status, 3);
    is_restored(&left);
    // The verdict stays readable after the screen is gone.
    let contents = left.shown.screen().contents();
    assert!(contents.contains("lead: RETEST"), "{contents}");
    assert!(contents.contains("stopped by the operator"), "{contents}");
}

#[test]
fn a_signal_restores_the_terminal() {
    for name in ["TERM", "HUP"] {
        let mut demo = OnTerminal::start("demo lead --rate 50");
        demo.until_bending();
        assert!(demo.shown.screen().alternate_screen());
        let process = demo.child.process_id().unwrap();
        let sent = std::process::Command::new("sh")
            .args(["-c", &format!("kill -{name} {process}")])
            .status();
        assert!(sent.unwrap().success());
        let (status, left) = demo.end();
        assert_eq!(status, 3, "{name}");
        is_restored(&left);
    }
}

#[test]
fn lines_of_words_enter_no_screen() {
    let demo = OnTerminal::start(
        "demo lead --plain --quiet --fault tip-sleeve-short --rate 50 --tick 0.12s",
    );
    let (status, left) = demo.end();
    assert_eq!(status, 1);
    let text = String::from_utf8_lossy(&left.all);
    assert!(!text.contains("\u{1b}["), "{text}");
    assert!(text.contains("[XX] lead: FAIL"), "{text}");
}

#[test]
fn readings_typed_on_the_terminal_are_told_in_lines() {
    let mut typed = OnTerminal::start(
        "watch --quiet --readings --record off --protocol number-lines --from -",
    );
    // What is typed ends with the end-of-input character; the q would only leave a screen.
    typed.keys.write_all(b"0.5\n0.5\n\x04q").unwrap();
    let (status, left) = typed.end();
    let text = String::from_utf8_lossy(&left.all);
    assert_eq!(status, 0, "{text}");
    assert!(!text.contains("\u{1b}["), "{text}");
    assert!(text.contains("2 numbers"), "{text}");
}

#[test]
fn at_a_terminal_bell_and_tones_are_heard() {
    let player = StandIn::new(&[("aplay", KEEPS)]);
    let mut demo = OnTerminal::start_with("demo lead --rate 50", &player.path());
    demo.until_bending();
    demo.keys.write_all(b"q").unwrap();
    let (status, left) = demo.end();
    assert_eq!(status, 3);
    is_restored(&left);
    assert!(left.all.contains(&7));
    let played = player.played();
    assert_eq!(played[..2], ["ask", "tick"], "{played:?}");
}

#[test]
fn a_player_that_fails_is_told_on_the_screen_and_in_full_after_it() {
    let player = StandIn::new(&[("aplay", "exit 3")]);
    let mut demo = OnTerminal::start_with("demo lead --rate 50", &player.path());
    demo.until_bending();
    let shown = demo.shown.screen().contents();
    assert!(shown.contains("note: tones cannot be played"), "{shown}");
    demo.keys.write_all(b"q").unwrap();
    let (_, left) = demo.end();
    let contents = left.shown.screen().contents();
    let told = "tones cannot be played: aplay: exit status: 3; the bell is heard instead";
    assert!(
        contents.replace(['\r', '\n'], "").contains(told),
        "{contents}"
    );
    assert!(left.all.contains(&7));
}

#[test]
fn quiet_at_a_terminal_is_quiet() {
    let player = StandIn::new(&[("aplay", KEEPS), ("pacat", KEEPS)]);
    let demo = OnTerminal::start_with(
        "demo lead --plain --quiet --fault tip-sleeve-short --rate 50 --tick 0.12s",
        &player.path(),
    );
    let (status, left) = demo.end();
    assert_eq!(status, 1);
    assert!(!left.all.contains(&7));
    assert!(player.played().is_empty());
}

#[test]
fn the_verdict_is_heard_to_its_end_without_a_screen() {
    let demo = OnTerminal::start(
        "demo lead --plain --sound bell --fault tip-sleeve-short --rate 50 --tick 0.12s",
    );
    let (status, left) = demo.end();
    assert_eq!(status, 1);
    let text = String::from_utf8_lossy(&left.all).into_owned();
    let (_, after) = text.split_once("lead: FAIL").unwrap();
    assert_eq!(after.matches('\u{7}').count(), 5, "{text:?}");
}

#[test]
fn a_rewire_shows_expected_against_measured_and_the_likeliest_fault() {
    let line = "demo rewire --layout one-pickup --rate 50 --wait 3s --fault 1";
    let mut demo = OnTerminal::start(line);
    let shows = |demo: &OnTerminal, words: &str| demo.shown.screen().contents().contains(words);
    while !(shows(&demo, "FAIL") && shows(&demo, "tone control at zero")) {
        let bytes = demo.said.recv_timeout(LIMIT).unwrap();
        demo.shown.process(&bytes);
        demo.all.extend(bytes);
    }
    let contents = demo.shown.screen().contents();
    assert!(contents.contains("state, measured, expected"), "{contents}");
    // A value beside its band, a word beside its sign.
    assert!(contents.contains("kΩ to "), "{contents}");
    assert!(contents.contains("✗ FAIL"), "{contents}");
    demo.keys.write_all(b"q").unwrap();
    let (_, left) = demo.end();
    is_restored(&left);
    let contents = left.shown.screen().contents();
    assert!(contents.contains("rewire: "), "{contents}");
}
