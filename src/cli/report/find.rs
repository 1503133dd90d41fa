//! What a page is asked for: recordings, runs of the ledger, all checks of one instrument, a
//! batch.

use std::cell::OnceCell;
use std::path::{Path, PathBuf};

use crate::cli::ledger::{files, list, out};
use crate::cli::report::source::Source;
use crate::cli::status::Failure;
use crate::record::ledger::{Filter, Ledger, RunLine};
use crate::record::{CheckKept, Sidecar};
use crate::run::{LedgerFile, LedgerFileError};

/// What a page is asked for.
#[derive(Debug)]
pub(super) enum Meant {
    /// Checks of one piece of work; most often one.
    Work(Vec<Part>),
    /// A batch of the ledger.
    Batch(String),
}

/// One check of a piece of work, with the same before the repair.
#[derive(Debug)]
pub(super) struct Part {
    pub(super) now: Source,
    pub(super) before: Option<Source>,
}

/// What was named, and where the ledger is.
#[derive(Debug)]
pub(super) struct Asked<'a> {
    pub(super) words: &'a [String],
    pub(super) tag: Option<&'a str>,
    pub(super) instrument: Option<&'a str>,
    pub(super) batch: Option<&'a str>,
    pub(super) since: Option<&'a str>,
    pub(super) file: &'a LedgerFile,
    /// The ledger, from the first time that it is needed.
    pub(super) opened: OnceCell<Ledger>,
}

impl Asked<'_> {
    /// What is meant.
    pub(super) fn meant(&self) -> Result<Meant, Failure> {
        if self.words.is_empty() {
            return self.by_options();
        }
        if let [word] = self.words
            && let Named::Batch(batch) = self.named(word)?
        {
            return Ok(Meant::Batch(batch));
        }
        let mut parts = Vec::new();
        let mut single = Vec::new();
        for word in self.words {
            match self.named(word)? {
                Named::One(source) => single.push(source),
                Named::Work(work) => parts.extend(work),
                Named::Batch(batch) => {
                    return Err(Failure::Usage(format!(
                        "`{}` is a batch: it has a page of its own, give it alone",
                        out::harmless(&batch)
                    )));
                }
            }
        }
        parts.extend(paired(single)?);
        Ok(Meant::Work(parts))
    }

    /// The options alone: the newest run of a tag, all checks of an instrument, a batch; or the
    /// newest run there is.
    fn by_options(&self) -> Result<Meant, Failure> {
        match (self.tag, self.instrument, self.batch) {
            (None, None, Some(batch)) => {
                let filter = self.filter(None, None, Some(batch));
                let what = format!("of batch `{}`", out::harmless(batch));
                self.newest(&filter, &what)?;
                Ok(Meant::Batch(batch.to_owned()))
            }
            (None, Some(instrument), batch) => {
                let filter = self.filter(None, Some(instrument), batch);
                let what = format!("of instrument `{}`", out::harmless(instrument));
                self.newest(&filter, &what)?;
                Ok(Meant::Work(self.work(&filter)?))
            }
            (tag, instrument, batch) => {
                let what = tag.map_or_else(
                    || "in it".to_owned(),
                    |tag| format!("of tag `{}`", out::harmless(tag)),
                );
                let line = self.newest(&self.filter(tag, instrument, batch), &what)?;
                let now = self.kept(&line)?;
                Ok(Meant::Work(vec![Part { now, before: None }]))
            }
        }
    }

    fn filter(
        &self,
        tag: Option<&str>,
        instrument: Option<&str>,
        batch: Option<&str>,
    ) -> Filter {
        Filter {
            tag: tag.map(str::to_owned),
            instrument: instrument.map(str::to_owned),
            batch: batch.map(str::to_owned),
            since: self.since.map(str::to_owned),
            not_undone: true,
            ..Filter::default()
        }
    }

    /// The newest run that passes the filter; a sentence if there is none.
    fn newest(&self, filter: &Filter, what: &str) -> Result<RunLine, Failure> {
        let lines = self.list(filter, Some(1))?;
        lines.into_iter().next().ok_or_else(|| {
            Failure::Usage(format!(
                "the ledger {} has no run {what}{}; `steadyohm ledger list` shows what it has",
                self.file.path().display(),
                if self.since.is_some() {
                    " from that day on"
                } else {
                    ""
                }
            ))
        })
    }

    /// The newest run of each thing checked, beside the oldest of the same thing.
    fn work(&self, filter: &Filter) -> Result<Vec<Part>, Failure> {
        let mut parts: Vec<Part> = Vec::new();
        for line in self.list(filter, None)? {
            let source = self.kept(&line)?;
            if matches!(source.sidecar().check, Some(CheckKept::Trial(_))) {
                continue;
            }
            match parts.iter_mut().find(|part| part.now.is_like(&source)) {
                Some(part) => part.before = Some(source),
                None => parts.push(Part {
                    now: source,
                    before: None,
                }),
            }
        }
        // In the order of the work, not of its last checks.
        parts.reverse();
        Ok(parts)
    }

    fn ledger(&self) -> Result<&Ledger, Failure> {
        if let Some(ledger) = self.opened.get() {
            return Ok(ledger);
        }
        let ledger = self.file.to_read()?;
        Ok(self.opened.get_or_init(|| ledger))
    }

    fn list(&self, filter: &Filter, most: Option<u32>) -> Result<Vec<RunLine>, Failure> {
        self.ledger()?
            .list(filter, most)
            .map_err(|error| self.file.failed(error).into())
    }

    fn kept(&self, line: &RunLine) -> Result<Source, Failure> {
        let whole = self.ledger()?.whole(line.id);
        let whole = whole.map_err(|error| self.file.failed(error))?;
        let whole = whole.ok_or_else(|| {
            Failure::Usage(format!(
                "the description of run {} is missing; see `steadyohm ledger check`",
                line.id
            ))
        })?;
        Ok(Source::Kept {
            line: Box::new(whole.line),
            sidecar: Box::new(whole.sidecar),
        })
    }

    /// What a word names: a recording's file; a tag, an instrument or a batch; the beginning of
    /// a run's identity.
    fn named(&self, word: &str) -> Result<Named, Failure> {
        let path = Path::new(word);
        let is_table = path.extension().is_some_and(|end| end == "csv");
        if path.is_file() || is_table && path.components().count() > 1 {
            return Ok(Named::One(Source::of_file(path)?));
        }
        let found = match self.in_ledger(word) {
            // Without a ledger only a file can be meant.
            Err(Failure::Ledger(LedgerFileError::Absent { .. })) if is_table => None,
            found => found?,
        };
        match found {
            Some(named) => Ok(named),
            None if is_table => Ok(Named::One(Source::of_file(path)?)),
            None => Err(Failure::Usage(format!(
                "`{}` is no recording's file, and the ledger {} has no tag, instrument, batch or \
                 run of that name; `steadyohm ledger list` shows what it has",
                out::harmless(word),
                self.file.path().display()
            ))),
        }
    }

    fn in_ledger(&self, word: &str) -> Result<Option<Named>, Failure> {
        let kinds = [
            ("tag", self.filter(Some(word), None, None)),
            ("instrument", self.filter(None, Some(word), None)),
            ("batch", self.filter(None, None, Some(word))),
        ];
        let mut there = Vec::new();
        for (name, filter) in kinds {
            if let Some(line) = self.list(&filter, Some(1))?.into_iter().next() {
                there.push((name, filter, line));
            }
        }
        if let [(one, ..), (two, ..), ..] = there.as_slice() {
            return Err(Failure::Usage(format!(
                "`{0}` is a {one} and a {two}: say which, with --{one} '{0}' or --{two} '{0}'",
                out::harmless(word)
            )));
        }
        match there.pop() {
            Some(("tag", _, line)) => Ok(Some(Named::One(self.kept(&line)?))),
            Some(("batch", ..)) => Ok(Some(Named::Batch(word.to_owned()))),
            Some((_, filter, _)) => Ok(Some(Named::Work(self.work(&filter)?))),
            None => self.by_identity(word),
        }
    }

    /// The one run whose identity begins so, or whose recording has this path.
    fn by_identity(&self, word: &str) -> Result<Option<Named>, Failure> {
        let ledger = self.ledger()?;
        let asked = |text: &str| ledger.named(text).map_err(|error| self.file.failed(error));
        let mut lines = asked(word)?;
        if lines.is_empty() {
            lines = asked(&self.file.named(word.as_ref()))?;
        }
        match lines.as_slice() {
            [] => Ok(None),
            [line] => Ok(Some(Named::One(self.kept(line)?))),
            several => {
                let rows: Vec<Vec<String>> = several.iter().map(list::cells).collect();
                Err(Failure::Usage(format!(
                    "several runs begin with `{}`; give more of it:\n{}",
                    out::harmless(word),
                    out::columns(&rows).trim_end()
                )))
            }
        }
    }

    /// Where a source's recording is, or was.
    pub(super) fn place(&self, source: &Source) -> Option<PathBuf> {
        match source {
            Source::File { path, .. } => Some(path.clone()),
            Source::Kept { line, .. } => Some(self.file.recording(line.recording.as_deref()?)),
        }
    }

    /// The recording of a line, if it is there and is this run's.
    pub(super) fn table(&self, line: &RunLine) -> Option<PathBuf> {
        let table = self.file.recording(line.recording.as_deref()?);
        let found = files::read(table)?;
        let same =
            |sidecar: &Sidecar| RunLine::of(sidecar, None).is_ok_and(|l| l.id == line.id);
        let is_it = found.table.is_file() && found.sidecar.as_ref().is_ok_and(same);
        is_it.then_some(found.table)
    }
}

/// What is to be said of two that were given together and are not before and after.
pub(super) fn side_by_side(words: &[String], parts: &[Part]) -> Option<String> {
    match (words, parts) {
        ([_, _], [first, second]) if first.before.is_none() && second.before.is_none() => {
            second.now.is_another_than(&first.now)
        }
        _ => None,
    }
}

/// What a word names.
enum Named {
    One(Source),
    Work(Vec<Part>),
    Batch(String),
}

/// Sources in the order given. Two of the same thing are before and after; among more, a second
/// one of the same tag is how it was after the first.
fn paired(sources: Vec<Source>) -> Result<Vec<Part>, Failure> {
    let alone = sources.len() == 2;
    let mut parts: Vec<Part> = Vec::new();
    for source in sources {
        let tag = source.about().tag;
        let like = |part: &&mut Part| {
            if alone {
                source.may_follow(&part.now)
            } else {
                tag.is_some() && source.is_like(&part.now)
            }
        };
        match parts.iter_mut().find(like) {
            None => parts.push(Part {
                now: source,
                before: None,
            }),
            Some(part) if part.before.is_none() => {
                part.before = Some(std::mem::replace(&mut part.now, source));
            }
            Some(_) => {
                return Err(Failure::Usage(format!(
                    "more than two runs of `{}`: give two of them, before and after",
                    out::harmless(&tag.unwrap_or_default())
                )));
            }
        }
    }
    Ok(parts)
}
