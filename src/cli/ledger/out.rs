//! How the ledger's answers are written: plain words, JSON lines, CSV (RFC 4180).

use std::fmt;
use std::io::{self, Write as _};

use clap::Args;
use serde::Serialize;

use crate::cli::status::Failure;
use crate::record::RunId;

/// The form of an answer.
#[derive(Debug, Args)]
#[command(next_help_heading = "Output")]
pub(super) struct FormArguments {
    /// One JSON object a line.
    #[arg(long, conflicts_with = "csv")]
    pub(super) json: bool,
    /// A table for a spreadsheet (RFC 4180).
    #[arg(long)]
    pub(super) csv: bool,
}

/// An answer grows line by line.
pub(super) trait Lines {
    /// Adds a line.
    fn line(&mut self, words: fmt::Arguments<'_>);
}

impl Lines for String {
    fn line(&mut self, words: fmt::Arguments<'_>) {
        self.push_str(&words.to_string());
        self.push('\n');
    }
}

/// Writes to standard output; a reader that has left is a quiet end.
pub(super) fn write(text: &str) -> Result<(), Failure> {
    write_bytes(text.as_bytes())
}

fn write_bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(Failure::Output(error)),
        _ => Ok(()),
    }
}

/// Tells something beside the answer, on standard error; if nobody listens there, it is untold.
pub(super) fn tell(words: fmt::Arguments<'_>) {
    drop(writeln!(io::stderr(), "steadyohm: {words}"));
}

/// Writes each as a JSON line.
pub(super) fn json<T: Serialize>(rows: &[T]) -> Result<(), Failure> {
    let mut text = String::new();
    for row in rows {
        text.push_str(
            &serde_json::to_string(row).map_err(|error| Failure::Output(error.into()))?,
        );
        text.push('\n');
    }
    write(&text)
}

/// Writes them as a table with a header.
pub(super) fn csv<T: Serialize>(rows: &[T]) -> Result<(), Failure> {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    for row in rows {
        table
            .serialize(row)
            .map_err(|error| Failure::Output(error.into()))?;
    }
    let bytes = table
        .into_inner()
        .map_err(|error| Failure::Output(error.into_error()))?;
    write_bytes(&bytes)
}

/// Text that somebody typed, made harmless for a terminal.
pub(super) fn harmless(text: &str) -> String {
    text.replace(char::is_control, "\u{fffd}")
}

/// Lines of cells, each column as wide as its widest cell.
pub(super) fn columns(rows: &[Vec<String>]) -> String {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..count).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let cells: Vec<String> = row
            .iter()
            .zip(&widths)
            .map(|(cell, width)| format!("{cell:width$}"))
            .collect();
        text.push_str(cells.join("  ").trim_end());
        text.push('\n');
    }
    text
}

/// A time of the ledger, as a clock on this wall shows it.
pub(super) fn local(began: &str) -> String {
    match began.parse::<jiff::Timestamp>() {
        Ok(time) => time
            .to_zoned_datetime(jiff::tz::TimeZone::system())
            .strftime("%Y-%m-%d %H:%M")
            .to_string(),
        Err(_) => harmless(began),
    }
}

/// The beginning of an identity, enough to tell one run from another: the milliseconds.
pub(super) fn short(id: RunId) -> String {
    id.to_string().chars().take(13).collect()
}

/// A share in per cent, with the numbers it comes from.
pub(super) fn share(some: u64, all: u64, share: Option<f64>) -> String {
    match share {
        Some(share) => format!("{some} of {all} ({:.1} %)", 100.0 * share),
        None => format!("{some} of {all}"),
    }
}
