//! `steadyohm report`: one page that shows the work, from its recording.
#![expect(
    clippy::print_stderr,
    reason = "where the page went is told beside the output"
)]

mod batch;
mod find;
mod gather;
mod job;
mod remembered;
mod source;
mod subject;

use std::cell::OnceCell;
use std::fs;
use std::io::{self, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::cli::formats;
use crate::cli::ledger::select;
use crate::cli::status::{Failure, Status};
use crate::run::LedgerFile;
use find::{Asked, Meant};
use source::Source;
use subject::SubjectArguments;

/// Make a page of the work: what was expected, what was measured, what could not be seen.
///
/// Without anything named it is of the newest run in the ledger. One file comes out, an HTML page
/// that prints on one sheet of A4 or Letter; for a PDF, print it from the browser into a file.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm report                          (the newest run, into report-TAG.html)
  steadyohm report L-014                    (the newest run of this tag)
  steadyohm report 'the blue one'           (every check of this instrument, on one page)
  steadyohm report spring-stock             (a batch: yield, causes, what it proves, the list)
  steadyohm report 019a2b3c-4d5e --format label --out label.svg
  steadyohm report before.csv after.csv --job 'New plug' --out repair.html
  steadyohm report lead.csv rewire.csv volume.csv --instrument 'the blue one' --out job.html")]
pub(super) struct Arguments {
    /// Recordings, NAME.csv; or of the ledger a tag, an instrument, a batch, or the beginning of
    /// a run's identity. Two of the same work are before and after, several are one job.
    #[arg(value_name = "WHAT")]
    what: Vec<String>,
    /// Where the page goes; without it, to standard output, or where that is a terminal into
    /// report-NAME in this folder.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// What is made; without it, by the ending of --out: .html, .md, .svg.
    #[arg(long)]
    format: Option<Form>,
    /// The ledger's file; without it the one in the user's data folder.
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
    /// Of an instrument or a batch only runs from this day on: 2026-01-31.
    #[arg(long, value_name = "DATE", value_parser = select::since)]
    since: Option<String>,
    #[command(flatten)]
    subject: SubjectArguments,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A page to print.
    Html,
    /// The same as text, without the drawings.
    Markdown,
    /// A label for a lead's tag, as SVG, 62 by 26 mm.
    Label,
}

impl Form {
    /// By the file's ending; a page, if it tells nothing.
    fn of(out: &Path) -> Self {
        match ending(out).as_str() {
            "md" | "markdown" => Self::Markdown,
            "svg" => Self::Label,
            _ => Self::Html,
        }
    }

    /// A name in this folder that is not taken yet.
    fn free_name(self, about: Option<&str>) -> PathBuf {
        let sound = |character: char| match character {
            sound if sound.is_alphanumeric() || "-_.".contains(sound) => sound,
            _ => '-',
        };
        let about: String = about.unwrap_or("run").chars().map(sound).collect();
        let (stem, ending) = match self {
            Self::Html => ("report", "html"),
            Self::Markdown => ("report", "md"),
            Self::Label => ("label", "svg"),
        };
        let name = |number: u32| {
            let more = if number > 1 {
                format!("-{number}")
            } else {
                String::new()
            };
            PathBuf::from(format!("{stem}-{about}{more}.{ending}"))
        };
        (1..u32::MAX)
            .map(name)
            .find(|name| !name.exists())
            .unwrap_or_default()
    }
}

fn ending(out: &Path) -> String {
    let ending = out.extension().unwrap_or_default();
    ending.to_string_lossy().to_ascii_lowercase()
}

/// A page is no PDF file, whatever it is called.
fn refuse_pdf(out: Option<&Path>) -> Result<(), Failure> {
    match out {
        Some(out) if ending(out) == "pdf" => Err(Failure::Usage(format!(
            "a page is HTML and no PDF: make {}, open it in a browser and print it into a PDF \
             file",
            out.with_extension("html").display()
        ))),
        _ => Ok(()),
    }
}

/// A page as it was made.
struct Page {
    text: String,
    /// What it is about, for a file's name.
    name: Option<String>,
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    refuse_pdf(arguments.out.as_deref())?;
    let ledger = arguments.ledger.clone();
    let file = LedgerFile::at(ledger.unwrap_or_else(formats::ledger_file));
    let subject = &arguments.subject;
    let asked = Asked {
        words: &arguments.what,
        tag: subject.tag.as_deref(),
        instrument: subject.instrument.as_deref(),
        batch: subject.batch.as_deref(),
        since: arguments.since.as_deref(),
        file: &file,
        opened: OnceCell::new(),
    };
    let form = arguments
        .format
        .or_else(|| arguments.out.as_deref().map(Form::of))
        .unwrap_or(Form::Html);
    let page = match asked.meant()? {
        Meant::Batch(batch) => batch::page(&asked, &batch, subject, form)?,
        Meant::Work(parts) => {
            if let Some(out) = &arguments.out {
                let sources = parts
                    .iter()
                    .flat_map(|part| [Some(&part.now), part.before.as_ref()]);
                refuse_recording(out, sources.flatten(), &asked)?;
            }
            job::page(&asked, &parts, subject, form)?
        }
    };
    match &arguments.out {
        Some(out) => write(out, form, &page.text)?,
        None if io::stdout().is_terminal() => {
            write(&form.free_name(page.name.as_deref()), form, &page.text)?;
        }
        None => io::stdout()
            .write_all(page.text.as_bytes())
            .map_err(Failure::Output)?,
    }
    Ok(Status::Pass)
}

/// The page must not be written over what it is made of.
fn refuse_recording<'s>(
    out: &Path,
    sources: impl Iterator<Item = &'s Source>,
    asked: &Asked<'_>,
) -> Result<(), Failure> {
    let Ok(out_real) = out.canonicalize() else {
        // Nothing stands there yet.
        return Ok(());
    };
    let is_out = |path: &Path| path.canonicalize().is_ok_and(|path| path == out_real);
    let of_recording = sources
        .filter_map(|source| asked.place(source))
        .any(|table| {
            ["csv", "json", "bin"]
                .iter()
                .any(|ending| is_out(&table.with_extension(ending)))
        });
    if of_recording || is_out(asked.file.path()) {
        let owner = if of_recording {
            "the recording"
        } else {
            "the ledger"
        };
        return Err(Failure::Usage(format!(
            "{} belongs to {owner}: give --out another name",
            out.display()
        )));
    }
    Ok(())
}

fn write(out: &Path, form: Form, text: &str) -> Result<(), Failure> {
    fs::write(out, text).map_err(|source| Failure::Write {
        path: out.to_path_buf(),
        source,
    })?;
    let next = match form {
        Form::Html => "; open it in a browser and print it, to paper or into a PDF file",
        Form::Label => "; print it at its own size, 62 by 26 mm",
        Form::Markdown => "",
    };
    eprintln!("steadyohm: wrote {}{next}", out.display());
    Ok(())
}
