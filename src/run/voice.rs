//! How a run speaks when it has no screen: lines of JSON or of plain words on standard
//! output, and the bell.

use std::io::{self, Write as _};

use crate::check::notice::Notice;
use crate::run::{Hearing, line, plain};
use crate::session::Session;

/// The form of what is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// The terminal screen.
    Screen,
    /// Lines of plain words.
    Plain,
    /// Newline-delimited JSON.
    Json,
}

/// Speaks on standard output.
#[derive(Debug, Clone, Copy)]
pub struct Voice {
    /// The form.
    pub form: Form,
    /// Whether every reading is told.
    pub readings: bool,
    /// How it is heard.
    pub hearing: Hearing,
}

impl Voice {
    /// Says one thing; an error if standard output cannot be written, be it that nobody
    /// listens any more.
    pub(super) fn say(self, notice: &Notice, recording: Option<&str>) -> io::Result<()> {
        if matches!(notice, Notice::Reading(_)) && !self.readings {
            return Ok(());
        }
        match self.form {
            Form::Screen => Ok(()),
            Form::Json => write_line(&line::notice_line(notice, recording)),
            Form::Plain => {
                write_line(&plain::notice_text(notice))?;
                match (notice, recording) {
                    (Notice::Verdict(_), Some(path)) => {
                        write_line(&format!("     kept in {path}"))
                    }
                    _ => Ok(()),
                }
            }
        }
    }

    /// Says after a verdict under which identity the ledger has the run; in plain words only,
    /// since the JSON lines are the contract's.
    pub(super) fn say_entered(self, notice: &Notice, run: Option<&str>) -> io::Result<()> {
        match (self.form, notice, run) {
            (Form::Plain, Notice::Verdict(_), Some(run)) => {
                write_line(&format!("     in the ledger as {run}"))
            }
            _ => Ok(()),
        }
    }

    /// Says what a watch came to.
    pub(super) fn sum_up(self, session: &Session) -> io::Result<()> {
        match self.form {
            Form::Json => write_line(&line::statistics_line(session)),
            Form::Plain | Form::Screen => write_line(&plain::statistics_text(session)),
        }
    }
}

/// Rings once.
pub(super) fn ring() {
    // A bell that cannot be rung is no reason to stop measuring.
    drop(io::stderr().write_all(b"\x07"));
}

pub(super) fn write_line(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.write_all(b"\n")?;
    out.flush()
}
