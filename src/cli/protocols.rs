//! `steadyohm protocols`: the meter formats; list, show one, check a file.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, Subcommand};

use crate::cli::formats;
use crate::cli::status::{Failure, Status};
use crate::protocol::{self, Checked, Protocol, check_examples, check_proof};

/// List the meter formats, show one, or check a file of your own.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm protocols
  steadyohm protocols show lcd-segments-14
  steadyohm protocols check mine.toml")]
pub(super) struct Arguments {
    #[command(subcommand)]
    action: Option<Action>,
}

#[derive(Debug, Subcommand)]
enum Action {
    /// One line a format (the default).
    List,
    /// One format: what it is, how its line is set, where it is documented.
    Show {
        /// Its ID, or a TOML file.
        #[arg(value_name = "ID|FILE")]
        format: String,
    },
    /// Read a format file and run its example vectors.
    Check {
        /// The file.
        file: PathBuf,
    },
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    match &arguments.action {
        None | Some(Action::List) => list(),
        Some(Action::Show { format }) => show(format),
        Some(Action::Check { file }) => check(file),
    }
}

fn list() -> Result<Status, Failure> {
    let mut out = io::stdout().lock();
    let mut told = Ok(());
    for format in protocol::library() {
        told = told.and_then(|()| writeln!(out, "{:<20} {}", format.id(), format.title()));
    }
    for path in formats::own_files() {
        told = told.and_then(|()| match formats::read(&path) {
            Ok(own) => writeln!(out, "{:<20} {} ({})", own.id(), own.title(), path.display()),
            Err(failure) => writeln!(out, "{}: {failure}", path.display()),
        });
    }
    quietly(told)?;
    Ok(Status::Pass)
}

fn show(named: &str) -> Result<Status, Failure> {
    let format = formats::load(named)?;
    let mut out = io::stdout().lock();
    quietly(write_format(&mut out, &format))?;
    Ok(Status::Pass)
}

fn write_format(out: &mut impl Write, format: &Protocol) -> io::Result<()> {
    let line = format.serial();
    writeln!(out, "{}: {}", format.id(), format.title())?;
    writeln!(
        out,
        "source:    {}",
        format.source().unwrap_or("none named")
    )?;
    writeln!(out, "checked:   {}", checked(format.checked()))?;
    writeln!(
        out,
        "line:      {} baud, {} data bits, parity {:?}, stop bits {:?}",
        line.baud, line.data_bits, line.parity, line.stop_bits
    )?;
    let lines = |state: Option<bool>| match state {
        None => "as the system sets it",
        Some(true) => "on",
        Some(false) => "off",
    };
    writeln!(out, "DTR, RTS:  {}, {}", lines(line.dtr), lines(line.rts))?;
    let asks = match format.ask() {
        protocol::Ask::Listen => "no, it talks by itself".to_owned(),
        protocol::Ask::Request(request) => {
            format!("yes, with {:?}", String::from_utf8_lossy(&request.ask))
        }
    };
    writeln!(out, "polled:    {asks}")?;
    let known = |value: Option<String>| value.unwrap_or_else(|| "not documented".to_owned());
    writeln!(
        out,
        "rate:      {}",
        known(format.rate().map(|rate| format!("{rate} readings/s")))
    )?;
    writeln!(
        out,
        "aperture:  {}",
        known(format.aperture().map(|span| span.to_string()))
    )?;
    writeln!(
        out,
        "counts:    {}",
        known(format.counts().map(|counts| counts.to_string()))
    )?;
    let repeats = format.repeats_within();
    writeln!(
        out,
        "repeats:   {}",
        repeats.map_or_else(
            || "none".to_owned(),
            |span| format!("equal readings within {span}")
        )
    )?;
    let carries: Vec<&str> = format
        .carries()
        .iter()
        .map(|quantity| quantity.plain())
        .collect();
    writeln!(out, "carries:   {}", carries.join(", "))?;
    writeln!(out, "examples:  {}", format.examples().len())
}

fn check(file: &std::path::Path) -> Result<Status, Failure> {
    let format = formats::read(file)?;
    let outcomes = check_examples(&format);
    let good = outcomes.iter().filter(|outcome| outcome.ok).count();
    let mut out = io::stdout().lock();
    let mut told = Ok(());
    for outcome in &outcomes {
        told = told.and_then(|()| {
            if outcome.ok {
                writeln!(out, "ok      {}", outcome.name)
            } else {
                writeln!(
                    out,
                    "WRONG   {}\n        wanted {}\n        got    {}",
                    outcome.name, outcome.expected, outcome.got
                )
            }
        });
    }
    let bad = outcomes.len() - good;
    let missing = check_proof(&format);
    for gap in &missing {
        told = told.and_then(|()| writeln!(out, "MISSING {gap}"));
    }
    let told = told.and_then(|()| writeln!(out, "{}: {good} right, {bad} wrong", format.id()));
    quietly(told)?;
    Ok(if bad == 0 && missing.is_empty() {
        Status::Pass
    } else {
        Status::Fail
    })
}

/// How far a format has been confirmed, in words.
const fn checked(how: Checked) -> &'static str {
    match how {
        Checked::FromMemory => "written from memory, the document was not at hand",
        Checked::Document => "read in the document it names",
        Checked::RealMeter => "seen to work on a meter",
    }
}

/// Nobody listening any more (`| head`) is no error.
pub(super) fn quietly(told: io::Result<()>) -> Result<(), Failure> {
    match told {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(Failure::Output(error)),
        _ => Ok(()),
    }
}
