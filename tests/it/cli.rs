//! The program as it is run: the real binary on real pseudo-terminals, sockets and pipes, with
//! the simulated bench at the other end.

#![expect(
    clippy::disallowed_methods,
    reason = "a program is started, fed and waited for here, by the clock it runs by"
)]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a helper of a test fails as the test does"
)]

mod driver; // the bench at the other end of the program's port
mod hearing; // a line as the operator hears it
mod program; // the program as a child process
mod stage; // runs that several tests look at
mod wire; // the meter's end of the port

mod contract; // what stands on standard output, key for key
mod crash; // killed at any moment: what was reported as kept is kept
mod damage; // recordings torn, damaged or none; runs that a signal ends
mod ledger; // what is kept of a run, asked again, and what stands in its way
mod listing; // formats, ports, help
mod polled; // a meter that speaks when asked, on a port and on the network
mod pot; // a control turned at the other end of the port, and what is refused
mod privacy; // what files hold, and who may read them
mod refusals; // what is wrong with arguments and ports, in one sentence each
mod replays; // a recording gives what the run gave
mod reports; // the page of every golden recording
mod rewire; // a job written, refused, planned; a demo of it kept and replayed
mod simulator; // a simulated port for a second terminal, and the demo
mod sound; // tones through stand-in players: what they are given, players that fail
mod stocks; // whole stocks, killed and resumed, undone, typed and scanned
mod terminal; // the screen's coming and going
mod trial; // gaps of known length, kept for the checks that follow
mod troubles; // a meter or a port that cannot be used, on serial ports and standard input

use std::path::Path;
use std::process::{Command, Output};
use std::time::Duration;

use serde_json::Value;

/// Far beyond what any of this takes: it only turns a hang into a failure.
const LIMIT: Duration = Duration::from_secs(60);

/// The format most runs speak.
const SEGMENTS: &str = "lcd-segments-14";

/// The program, at home in a folder of its own, so that no user's files are met or left.
fn steadyohm(home: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_steadyohm"));
    command
        .env("HOME", home)
        .env_remove("XDG_CONFIG_HOME")
        .env_remove("XDG_DATA_HOME")
        .current_dir(home);
    command
}

/// What a command that ends by itself came to, with nothing on its standard input.
fn ran(arguments: &[&str]) -> Ran {
    let home = tempfile::tempdir().unwrap();
    ran_in(home.path(), arguments, "")
}

/// The same at a given home, with this on its standard input.
fn ran_in(home: &Path, arguments: &[&str], input: &str) -> Ran {
    let mut command = steadyohm(home);
    command.args(arguments);
    let output = assert_cmd::Command::from(command)
        .timeout(LIMIT)
        .write_stdin(input)
        .output()
        .unwrap();
    Ran::of(output)
}

/// A command that has ended.
#[derive(Debug)]
struct Ran {
    status: Option<i32>,
    said: String,
    complaint: String,
}

impl Ran {
    fn of(output: Output) -> Self {
        Self {
            status: output.status.code(),
            said: String::from_utf8(output.stdout).unwrap(),
            complaint: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// What was said, as JSON lines.
    fn lines(&self) -> Vec<Value> {
        self.said.lines().map(json).collect()
    }

    /// The one sentence of a refusal, which leaves standard output empty.
    fn refusal(&self, status: i32) -> &str {
        assert_eq!(self.status, Some(status), "{self:?}");
        assert_eq!(self.said, "", "{self:?}");
        let sentence = self
            .complaint
            .strip_prefix("steadyohm: ")
            .unwrap_or_else(|| panic!("{self:?}"))
            .trim_end();
        assert!(!sentence.contains("steadyohm: "), "twice: {sentence}");
        assert!(!sentence.contains("panicked"), "{sentence}");
        sentence
    }
}

/// One line of standard output.
fn json(line: &str) -> Value {
    serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line:?}"))
}

/// The event of a line.
fn event(line: &Value) -> &str {
    line["event"].as_str().unwrap_or_else(|| panic!("{line}"))
}

/// The lines of one event.
fn of_event<'a>(lines: &'a [Value], wanted: &str) -> Vec<&'a Value> {
    lines.iter().filter(|line| event(line) == wanted).collect()
}
