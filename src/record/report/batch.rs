//! The page of a batch: how many pass, what was wrong, what it proves, and every piece.

mod bars;
mod write;

use crate::check::notice::Verdict;
use crate::reading::Ohms;
use crate::record::ledger::BatchFigures;
use crate::record::report::input::Subject;
use crate::record::report::text;

pub use write::{batch_html, batch_markdown};

/// One batch.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchInput {
    /// What was checked, as the user names it.
    pub subject: Subject,
    /// The day of its first run.
    pub from: String,
    /// The day of its last run.
    pub to: String,
    /// Its figures.
    pub figures: BatchFigures,
    /// What the pieces checked prove about the others, in sentences.
    pub proof: Vec<String>,
    /// Its pieces, in the order of their first runs.
    pub pieces: Vec<PieceLine>,
}

/// A piece as its last run left it.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceLine {
    /// Its tag.
    pub tag: Option<String>,
    /// Its verdict, in the word of the command contract.
    pub verdict: String,
    /// How often it was checked.
    pub attempts: u32,
    /// Whether it failed in a run before its last.
    pub failed_before: bool,
    /// The resistances of its steps.
    pub ohms: Vec<(String, Ohms)>,
    /// The steps that did not pass.
    pub wrong: Vec<String>,
}

impl PieceLine {
    fn verdict(&self) -> Option<Verdict> {
        Verdict::from_word(&self.verdict)
    }

    fn name(&self) -> String {
        self.tag
            .as_deref()
            .map_or_else(|| "no tag".to_owned(), text::clean)
    }

    /// What is wrong, or what it reads; and how often it was tried.
    fn told(&self) -> String {
        let mut told = if self.wrong.is_empty() {
            let ohms = self.ohms.iter().take(3);
            let ohms: Vec<String> = ohms.map(|(_, ohms)| text::ohms(*ohms)).collect();
            in_one_unit(&ohms)
        } else {
            text::clean(&self.wrong.join(", "))
        };
        if self.failed_before && self.verdict() == Some(Verdict::Pass) {
            told.push_str(" · mended");
        } else if self.attempts > 1 {
            told = format!("{told} · {} runs", self.attempts);
        }
        told
    }
}

impl BatchInput {
    fn title(&self) -> String {
        let name = self.subject.batch.as_deref().map(text::clean);
        format!("Batch: {}", name.unwrap_or_default())
    }

    fn dates(&self) -> String {
        if self.from == self.to {
            self.from.clone()
        } else {
            format!("{} to {}", self.from, self.to)
        }
    }

    /// How many pass, as they stand now.
    fn headline(&self) -> String {
        let all = &self.figures.all;
        format!("{} of {} pass", all.passed_last, all.pieces)
    }

    /// The figures in sentences.
    fn sentences(&self) -> Vec<String> {
        let all = &self.figures.all;
        let share = |some: u64| {
            all.share_of_pieces(some)
                .map_or_else(String::new, |share| format!(" ({:.1} %)", 100.0 * share))
        };
        let mut sentences = vec![
            format!(
                "{} passed at the first go{}",
                all.passed_first,
                share(all.passed_first)
            ),
            format!(
                "{} fail as they stand now{}",
                all.failed_last,
                share(all.failed_last)
            ),
        ];
        let mended = all.failed_ever.saturating_sub(all.failed_last);
        if mended > 0 {
            sentences.push(format!("{mended} failed in a run and do not any more"));
        }
        if all.undecided > 0 {
            sentences.push(format!(
                "{} undecided: their last run ended in retest",
                all.undecided
            ));
        }
        sentences.push(format!(
            "{} of {} runs ended in retest",
            all.retests, all.runs
        ));
        sentences.extend(self.figures.left_out());
        sentences.extend(self.proof.iter().cloned());
        sentences
    }

    /// That runs were no measurements, if some were none.
    fn made_by(&self) -> Option<String> {
        (self.figures.invented > 0).then(|| {
            format!(
                "Not a measurement: {} of the {} runs were made without a real meter, and prove \
                 nothing about any lead.",
                self.figures.invented, self.figures.all.runs
            )
        })
    }
}

/// Values in a row; their unit once, if it is the same.
fn in_one_unit(values: &[String]) -> String {
    let split = |value: &String| {
        let (number, unit) = value.split_once('\u{A0}')?;
        Some((number.to_owned(), unit.to_owned()))
    };
    let parts: Option<Vec<(String, String)>> = values.iter().map(split).collect();
    match parts {
        Some(parts)
            if parts
                .windows(2)
                .all(|two| matches!(two, [(_, a), (_, b)] if a == b)) =>
        {
            let unit = parts.first().map_or("", |(_, unit)| unit.as_str());
            let numbers: Vec<&str> = parts.iter().map(|(number, _)| number.as_str()).collect();
            format!("{}\u{A0}{unit}", numbers.join(", "))
                .trim()
                .to_owned()
        }
        _ => values.join(", "),
    }
}

/// What the page cannot tell.
const NOT_HERE: [&str; 2] = [
    "A pass says what its check could see. What that was, at which rate of readings, and what was \
     not checked stands on the page of each piece: steadyohm report TAG.",
    "A piece is what carries one tag; runs without a tag count as pieces of their own.",
];
