//! The page of one check, or of all checks of one piece of work.

use crate::cli::ledger::out;
use crate::cli::report::find::{Asked, Part, side_by_side};
use crate::cli::report::gather::{self, Gathered};
use crate::cli::report::remembered::remembered;
use crate::cli::report::source::Source;
use crate::cli::report::subject::{SubjectArguments, way};
use crate::cli::report::{Form, Page};
use crate::cli::status::Failure;
use crate::record::report::{
    JobInput, JobPart, MOST_PARTS, ReportInput, Subject, html, job_html, job_markdown, label,
    markdown,
};

/// Makes the page.
pub(super) fn page(
    asked: &Asked<'_>,
    parts: &[Part],
    subject: &SubjectArguments,
    form: Form,
) -> Result<Page, Failure> {
    if form == Form::Label
        && (parts.len() > 1 || parts.iter().any(|part| part.before.is_some()))
    {
        return Err(Failure::Usage(
            "a label tells how one lead is now: give one recording, or its tag".to_owned(),
        ));
    }
    if parts.len() > MOST_PARTS {
        return Err(Failure::Usage(format!(
            "{} checks do not fit on one sheet, {MOST_PARTS} do: give fewer, or leave the older \
             ones out with --since",
            parts.len()
        )));
    }
    let mut length = None;
    let mut made = Vec::new();
    for part in parts {
        let now = gathered(asked, &part.now)?;
        let before = part.before.as_ref().map(|before| gathered(asked, before));
        length = now.length.or(length);
        made.push(JobPart {
            name: name(part),
            before: before.transpose()?.map(|before| before.run),
            run: now.run,
        });
    }
    if let (Some(sentence), Some(first)) = (side_by_side(asked.words, parts), made.first_mut())
    {
        out::tell(format_args!("{sentence}"));
        first.run.cautions.insert(0, sentence);
    }
    let subject = subject.subject(parts, length.filter(|_| parts.len() == 1));
    let name = file_name(&subject);
    let text = match <[JobPart; 1]>::try_from(made) {
        Ok([JobPart { before, run, .. }]) => {
            let input = ReportInput {
                subject,
                run,
                before,
            };
            match form {
                Form::Html => html(&input),
                Form::Markdown => markdown(&input),
                Form::Label => label(&input),
            }
        }
        Err(mut parts) => {
            told_apart(&mut parts);
            let input = JobInput { subject, parts };
            match form {
                Form::Markdown => job_markdown(&input),
                _ => job_html(&input),
            }
        }
    };
    Ok(Page { text, name })
}

fn file_name(subject: &Subject) -> Option<String> {
    let names = [&subject.tag, &subject.instrument, &subject.job];
    names.into_iter().flatten().next().cloned()
}

/// The check and its tag.
fn name(part: &Part) -> String {
    let check = part.now.sidecar().check.as_ref();
    let check = match check.map(crate::record::CheckKept::name) {
        Some("pot") => "Control",
        Some("rewire") => "Rewire",
        _ => "Lead",
    };
    match part.now.about().tag {
        Some(tag) => format!("{check} {tag}"),
        None => check.to_owned(),
    }
}

/// Parts of one name are told apart by their recordings.
fn told_apart(parts: &mut [JobPart]) {
    let names: Vec<String> = parts.iter().map(|part| part.name.clone()).collect();
    for part in parts {
        if names.iter().filter(|name| **name == part.name).count() > 1 {
            let recording = part.run.recording.trim_end_matches(".csv");
            part.name = format!("{} ({recording})", part.name);
        }
    }
}

/// A run as its page shows it; one whose recording is gone as the ledger knows it.
fn gathered(asked: &Asked<'_>, source: &Source) -> Result<Gathered, Failure> {
    let mut gathered = match source {
        Source::File { path, .. } => gather::read(path)?,
        Source::Kept { line, sidecar } => {
            if let Some(table) = asked.table(line) {
                gather::read(&table)?
            } else {
                let place = asked.place(source).map_or_else(
                    || "no recording was kept of it".to_owned(),
                    |path| format!("its recording {} is not there", path.display()),
                );
                out::tell(format_args!(
                    "run {}: {}; the page shows what the ledger knows of it, without the \
                     readings over time",
                    out::short(line.id),
                    out::harmless(&place),
                ));
                remembered(line, sidecar)?
            }
        }
    };
    gathered.run.meter.source = way(&gathered.run.meter.source);
    Ok(gathered)
}
