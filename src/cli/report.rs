//! `steadyohm report`: one page that shows the work, from its recording.
#![expect(
    clippy::print_stderr,
    reason = "where the page went is told beside the output"
)]

mod gather;

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::cli::status::{Failure, Status};
use crate::record::report::{ReportInput, Subject, html, label, markdown};
use gather::Gathered;

/// Make a page of a recording: what was expected, what was measured, what could not be seen.
///
/// Two recordings are the same work before and after a repair. The page is one HTML file that
/// prints on one sheet of A4 or Letter; for a PDF, print it from the browser into a file.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm report recordings/lead-good.csv --tag L-0042 --out lead.html
  steadyohm report before.csv after.csv --instrument 'the blue one' --out repair.html
  steadyohm report lead.csv --tag L-0042 --format label --out label.svg
  steadyohm report lead.csv --format markdown")]
pub(super) struct Arguments {
    /// The recording's table, NAME.csv; two of them: before, then after.
    #[arg(required = true, num_args = 1..=2, value_name = "RECORDING")]
    recordings: Vec<PathBuf>,
    /// Where the page goes; without it, to standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// What is made; without it, by the ending of --out: .html, .md, .svg.
    #[arg(long)]
    format: Option<Form>,
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

/// What is printed of the work: nothing but what is given here.
#[derive(Debug, Args)]
#[command(next_help_heading = "On the page")]
struct SubjectArguments {
    /// The job.
    #[arg(long, value_name = "TEXT")]
    job: Option<String>,
    /// The instrument.
    #[arg(long, value_name = "TEXT")]
    instrument: Option<String>,
    /// The batch.
    #[arg(long, value_name = "TEXT")]
    batch: Option<String>,
    /// The lead's tag.
    #[arg(long, value_name = "TEXT")]
    tag: Option<String>,
    /// Who measured.
    #[arg(long, value_name = "TEXT")]
    by: Option<String>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

impl SubjectArguments {
    fn subject(&self, length: Option<String>) -> Subject {
        Subject {
            job: self.job.clone(),
            instrument: self.instrument.clone(),
            batch: self.batch.clone(),
            tag: self.tag.clone(),
            length,
            measured_by: self.by.clone(),
            note: self.note.clone(),
        }
    }
}

impl Form {
    /// By the file's ending; a page, if it tells nothing.
    fn of(out: &Path) -> Self {
        match out.extension().and_then(|ending| ending.to_str()) {
            Some("md" | "markdown") => Self::Markdown,
            Some("svg") => Self::Label,
            _ => Self::Html,
        }
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    if let Some(out) = &arguments.out {
        refuse_recording(out, &arguments.recordings)?;
    }
    let form = arguments
        .format
        .or_else(|| arguments.out.as_deref().map(Form::of))
        .unwrap_or(Form::Html);
    let input = input(arguments)?;
    if form == Form::Label && input.before.is_some() {
        return Err(Failure::Usage(
            "a label tells how the lead is now: give one recording".to_owned(),
        ));
    }
    let text = match form {
        Form::Html => html(&input),
        Form::Markdown => markdown(&input),
        Form::Label => label(&input),
    };
    match &arguments.out {
        Some(out) => write(out, form, &text)?,
        None => io::stdout()
            .write_all(text.as_bytes())
            .map_err(Failure::Output)?,
    }
    Ok(Status::Pass)
}

fn input(arguments: &Arguments) -> Result<ReportInput, Failure> {
    let mut runs = arguments
        .recordings
        .iter()
        .map(|path| gather::read(path))
        .collect::<Result<Vec<Gathered>, Failure>>()?;
    let Some(now) = runs.pop() else {
        return Err(Failure::Usage("give a recording, NAME.csv".to_owned()));
    };
    let before = runs.pop();
    if let Some(before) = &before
        && before.run.check != now.run.check
    {
        return Err(Failure::Usage(format!(
            "a {} and a {} cannot be compared: before and after must be of the same check",
            before.run.check, now.run.check
        )));
    }
    Ok(ReportInput {
        subject: arguments.subject.subject(now.length),
        before: before.map(|before| before.run),
        run: now.run,
    })
}

/// The page must not be written over what it is made of.
fn refuse_recording(out: &Path, recordings: &[PathBuf]) -> Result<(), Failure> {
    let Ok(out_real) = out.canonicalize() else {
        // Nothing stands there yet.
        return Ok(());
    };
    let of_recording = recordings.iter().any(|recording| {
        ["csv", "json", "bin"].iter().any(|ending| {
            recording
                .with_extension(ending)
                .canonicalize()
                .is_ok_and(|part| part == out_real)
        })
    });
    if of_recording {
        return Err(Failure::Usage(format!(
            "{} belongs to the recording: give --out another name",
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
