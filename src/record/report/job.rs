//! The page of a whole job: every check of one piece of work, on one sheet.

mod room;
mod write;

use crate::check::notice::Verdict;
use crate::record::report::input::{RunReport, Section, StateRow, Subject, Trace, Track};
use crate::record::report::text;

pub use write::{job_html, job_markdown};

/// The most checks that one sheet can show.
pub const MOST_PARTS: usize = 16;

/// The most names before a sentence; of more their number is told.
const MOST_NAMES: usize = 3;

/// One job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobInput {
    /// What was measured, as the user names it.
    pub subject: Subject,
    /// Its checks, in the order of the page.
    pub parts: Vec<JobPart>,
}

/// One check of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobPart {
    /// What was checked, in a few words.
    pub name: String,
    /// The same before the repair, if it was checked then.
    pub before: Option<RunReport>,
    /// The check.
    pub run: RunReport,
}

impl JobInput {
    /// The verdict on the whole: no better than the worst of its checks.
    pub fn verdict(&self) -> Verdict {
        let all = || self.parts.iter().map(|part| part.run.verdict);
        [Verdict::Fail, Verdict::Retest]
            .into_iter()
            .find(|worst| all().any(|verdict| verdict == *worst))
            .unwrap_or(Verdict::Pass)
    }

    /// What the verdict means, in a sentence.
    fn reason(&self) -> String {
        let passed = self
            .parts
            .iter()
            .filter(|part| part.run.verdict == Verdict::Pass);
        let (passed, all) = (passed.count(), self.parts.len());
        if passed == all {
            return format!("All {all} checks passed.");
        }
        let others = self
            .parts
            .iter()
            .filter(|part| part.run.verdict != Verdict::Pass);
        let others: Vec<String> = others
            .map(|part| format!("{}: {}", text::clean(&part.name), part.run.verdict))
            .collect();
        format!("{passed} of {all} checks passed. {}.", others.join("; "))
    }

    fn title(&self) -> String {
        let subject = &self.subject;
        let names = [
            &subject.instrument,
            &subject.job,
            &subject.tag,
            &subject.batch,
        ];
        let mut names = names.into_iter().flatten().map(|name| text::clean(name));
        names.find(|name| !name.is_empty()).map_or_else(
            || "Checks of one piece of work".to_owned(),
            |name| format!("Work and checks: {name}"),
        )
    }

    /// From the first check to the last.
    fn dates(&self) -> String {
        let runs = self.parts.iter().flat_map(|part| {
            let before = part.before.iter();
            before.chain([&part.run]).map(|run| run.date.as_str())
        });
        // As printed they begin with year, month and day, and sort so.
        let (first, last) = (runs.clone().min(), runs.max());
        let day = |date: Option<&str>| -> String {
            date.unwrap_or_default().chars().take(10).collect()
        };
        let (first, last) = (day(first), day(last));
        if first == last {
            first
        } else {
            format!("{first} to {last}")
        }
    }

    /// What stands in some of the parts: once where all have it, else with the parts' names.
    fn gathered(&self, of: impl Fn(&RunReport) -> Vec<String>) -> Vec<Note> {
        let mut told: Vec<(String, Vec<&str>)> = Vec::new();
        for part in &self.parts {
            for sentence in of(&part.run) {
                match told.iter_mut().find(|(known, _)| *known == sentence) {
                    Some((_, names)) if names.contains(&part.name.as_str()) => {}
                    Some((_, names)) => names.push(&part.name),
                    None => told.push((sentence, vec![&part.name])),
                }
            }
        }
        let all = self.parts.len();
        let note = |(sentence, names): (String, Vec<&str>)| Note {
            of_several: names.len() == all || names.len() > MOST_NAMES,
            text: if names.len() == all {
                sentence
            } else if names.len() > MOST_NAMES {
                format!("{} of {all} checks: {sentence}", names.len())
            } else {
                format!("{}: {sentence}", names.join(", "))
            },
        };
        told.into_iter().map(note).collect()
    }

    /// What the reader must know; what is only of a run before the repair comes last.
    fn cautions(&self, brief: bool) -> Vec<String> {
        let mut cautions = self.gathered(|run| run.cautions.clone());
        for part in &self.parts {
            let before = part.before.iter().flat_map(|before| &before.cautions);
            let more = before.filter(|caution| !part.run.cautions.contains(caution));
            cautions.extend(more.map(|caution| Note {
                of_several: false,
                text: format!("{}, before: {caution}", part.name),
            }));
        }
        Note::told(cautions, brief)
    }

    fn unchecked(&self, brief: bool) -> Vec<String> {
        Note::told(self.gathered(|run| run.unchecked.clone()), brief)
    }

    fn blind_spots(&self) -> Vec<String> {
        Note::told(self.gathered(|run| vec![text::blind_spot(run)]), false)
    }

    /// What coverage means in its checks.
    fn coverage_meanings(&self) -> Vec<&'static str> {
        let parts = self.parts.iter();
        let mut meanings: Vec<&str> =
            parts.map(|part| text::coverage_means(&part.run)).collect();
        meanings.sort_unstable();
        meanings.dedup();
        meanings
    }

    /// Which of it is no measurement.
    fn made_by(&self) -> Vec<String> {
        let made_by = self.gathered(|run| {
            let made_by = run.made_by.iter();
            made_by
                .map(|made_by| format!("not a measurement, made by {}", text::clean(made_by)))
                .collect()
        });
        Note::told(made_by, false)
    }

    /// The formats and intervals of the meter.
    fn meter(&self) -> [(&'static str, String); 2] {
        let several = |of: &dyn Fn(&RunReport) -> String| {
            let mut told: Vec<String> = self.parts.iter().map(|part| of(&part.run)).collect();
            told.sort();
            told.dedup();
            told.join("; ")
        };
        [
            ("Meter format", several(&|run| run.meter.format.clone())),
            (
                "Readings",
                several(&|run| text::interval(run.meter.interval, run.meter.documented)),
            ),
        ]
    }
}

/// A sentence that holds of some parts.
#[derive(Debug)]
struct Note {
    /// Whether it holds of all, or of too many to be named.
    of_several: bool,
    text: String,
}

impl Note {
    /// All of them; or, in brief, those of several parts and how many others there are.
    fn told(notes: Vec<Self>, brief: bool) -> Vec<String> {
        let all = notes.len();
        let mut told: Vec<String> = notes
            .into_iter()
            .filter(|note| note.of_several || !brief)
            .map(|note| note.text)
            .collect();
        if told.len() < all {
            told.push(format!(
                "{} more hold of single checks, and stand on the page of each",
                all - told.len()
            ));
        }
        told
    }
}

/// What a part has to show.
#[derive(Debug, Default)]
struct Shown<'a> {
    rows: Vec<&'a StateRow>,
    traces: Vec<&'a Trace>,
    tracks: Vec<&'a Track>,
}

impl<'a> Shown<'a> {
    fn of(run: &'a RunReport) -> Self {
        let mut shown = Self::default();
        for section in &run.sections {
            match section {
                Section::States(states) => shown.rows.extend(&states.rows),
                Section::Traces(traces) => shown.traces.extend(traces),
                Section::Track(track) => shown.tracks.push(track),
            }
        }
        shown
    }
}
