//! How the ledger's answers are written: plain words, JSON lines, CSV (RFC 4180).

use std::fmt;
use std::io::{self, IsTerminal as _, Write as _};

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
pub(in crate::cli) fn tell(words: fmt::Arguments<'_>) {
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
pub(in crate::cli) fn harmless(text: &str) -> String {
    text.replace(char::is_control, "\u{fffd}")
}

/// Lines of cells, each column as wide as its widest cell.
pub(in crate::cli) fn columns(rows: &[Vec<String>]) -> String {
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

/// How wide the terminal is; none if the answer goes elsewhere.
pub(super) fn width() -> Option<usize> {
    if !io::stdout().is_terminal() {
        return None;
    }
    let (columns, _) = crossterm::terminal::size().ok()?;
    Some(usize::from(columns).max(NARROWEST))
}

/// No terminal is taken for narrower.
const NARROWEST: usize = 40;

/// A sentence as lines that fit, all behind the same indent; a word too long for a line has one
/// to itself.
pub(super) fn wrapped(sentence: &str, indent: &str, width: Option<usize>) -> String {
    let room = width
        .unwrap_or(usize::MAX)
        .saturating_sub(indent.chars().count());
    let mut lines: Vec<String> = Vec::new();
    for word in sentence.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let mut text = String::new();
    for line in lines {
        text.line(format_args!("{indent}{line}"));
    }
    text
}

/// A time of the ledger, as a clock on this wall shows it.
pub(in crate::cli) fn local(began: &str) -> String {
    match began.parse::<jiff::Timestamp>() {
        Ok(time) => time
            .to_zoned_datetime(jiff::tz::TimeZone::system())
            .strftime("%Y-%m-%d %H:%M")
            .to_string(),
        Err(_) => harmless(began),
    }
}

/// The beginning of an identity, enough to tell one run from another: the milliseconds.
pub(in crate::cli) fn short(id: RunId) -> String {
    id.to_string().chars().take(13).collect()
}

/// A share in per cent, with the numbers it comes from.
pub(in crate::cli) fn share(some: u64, all: u64, share: Option<f64>) -> String {
    match share {
        Some(share) => format!("{some} of {all} ({:.1} %)", 100.0 * share),
        None => format!("{some} of {all}"),
    }
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn sentences_are_broken_between_words() {
        let sentence = "one two three  four";
        assert_eq!(wrapped(sentence, "  ", None), "  one two three  four\n");
        assert_eq!(
            wrapped(sentence, "  ", Some(9)),
            "  one two\n  three \n  four\n"
        );
        assert_eq!(wrapped("0123456789", "- ", Some(6)), "- 0123456789\n");
        assert_eq!(wrapped("", "", Some(10)), "\n");
    }
}
