//! The program as a child process: its lines as they come, keys for its operator, signals.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::thread::JoinHandle;

use tokio::sync::mpsc;
use tokio::time::timeout;

use super::LIMIT;

/// A program under way.
#[derive(Debug)]
pub(super) struct Program {
    process: u32,
    input: Option<ChildStdin>,
    lines: mpsc::Receiver<String>,
    errors: Option<JoinHandle<String>>,
    ending: Option<JoinHandle<ExitStatus>>,
}

impl Program {
    pub(super) fn start(mut command: Command) -> Self {
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (told, lines) = mpsc::channel(256);
        let output = child.stdout.take().unwrap();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if told.blocking_send(line).is_err() {
                    return;
                }
            }
        });
        let mut errors = child.stderr.take().unwrap();
        let errors = std::thread::spawn(move || {
            let mut text = String::new();
            errors.read_to_string(&mut text).unwrap();
            text
        });
        Self {
            process: child.id(),
            input: child.stdin.take(),
            lines,
            errors: Some(errors),
            ending: Some(waited_for(child)),
        }
    }

    /// The next line it says; none once it has ended.
    pub(super) async fn line(&mut self) -> Option<String> {
        timeout(LIMIT, self.lines.recv())
            .await
            .expect("the program hangs")
    }

    /// The operator presses Enter.
    pub(super) fn enter(&self) {
        self.types("");
    }

    /// The operator types a line.
    pub(super) fn types(&self, text: &str) {
        self.feed(&format!("{text}\n"));
    }

    /// This stands on its standard input.
    pub(super) fn feed(&self, text: &str) {
        if let Some(mut input) = self.input.as_ref() {
            // A program that has just ended takes no more.
            drop(input.write_all(text.as_bytes()));
        }
    }

    /// How many processes it started, and those of them that have ended and are not reaped.
    pub(super) fn children(&self) -> (usize, usize) {
        let listed = Command::new("ps")
            .args(["-A", "-o", "ppid=,stat="])
            .output()
            .unwrap();
        let listed = String::from_utf8(listed.stdout).unwrap();
        let own = self.process.to_string();
        let states: Vec<&str> = listed
            .lines()
            .filter_map(|line| line.trim().split_once(char::is_whitespace))
            .filter(|(parent, _)| *parent == own)
            .map(|(_, state)| state.trim())
            .collect();
        let ended = states.iter().filter(|state| state.starts_with('Z'));
        (states.len(), ended.count())
    }

    /// Sends it a signal: `INT`, `TERM`, `KILL`.
    pub(super) fn signal(&self, name: &str) {
        let sent = Command::new("sh")
            .args(["-c", &format!("kill -{name} {}", self.process)])
            .status();
        assert!(sent.unwrap().success());
    }

    /// How it ended and what it complained of, once it says no more.
    pub(super) fn end(mut self) -> (ExitStatus, String) {
        self.input = None;
        let status = self.ending.take().unwrap().join().unwrap();
        (status, self.errors.take().unwrap().join().unwrap())
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        if let Some(ending) = self.ending.take()
            && !ending.is_finished()
        {
            self.signal("KILL");
        }
    }
}

fn waited_for(mut child: Child) -> JoinHandle<ExitStatus> {
    std::thread::spawn(move || child.wait().unwrap())
}
