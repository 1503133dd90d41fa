//! A stock of leads: which one comes next, what was found, what is left.
//!
//! Each lead is a check of its own; this joins them. What was done is a log, and everything
//! else follows from it: the queue, the tally, the verdict. So a stock folded from its kept
//! rows is the stock that kept them, and the last attempt undone is as if it had never been.
//!
//! A lead that came to retest is queued to the end, twice at most. The last attempt stands,
//! with three exceptions: what moved when bent in two attempts has come again, and is a fail;
//! what did so once is believed gone only after two clean attempts; and what was found in all
//! three is a fail, since it was cleaned, dried and measured again twice.

mod lifted;
mod row;
mod sampling;
mod standing;
mod tags;
mod tally;
mod tare;

pub use lifted::Lifted;
pub use row::{Attempt, Row, What};
pub use sampling::Sampling;
pub use standing::Standing;
pub use tags::{Tags, TagsError};
pub use tally::Tally;
pub use tare::TareKept;

use crate::check::lead::LeadOptions;
use crate::check::notice::{CheckResult, Verdict};

/// What a stock is to be: its name, its leads and how they are checked.
#[derive(Debug, Clone, PartialEq)]
pub struct StockPlan {
    /// Its name, which names its table.
    pub name: String,
    /// How each lead is checked; its tare is that of the first.
    pub lead: LeadOptions,
    /// How the leads are told apart.
    pub tags: Tags,
    /// What a sample is to show, if the leads are one.
    pub sampling: Option<Sampling>,
}

/// What the operator can do to a stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StockCommand {
    /// The last lead comes again.
    Undo,
    /// Nothing is asked or judged for now; or it goes on.
    Pause,
    /// This lead is left out.
    Skip,
}

/// A lead's turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Turn {
    /// Its tag.
    pub tag: String,
    /// Which lead of the stock it is, from 1.
    pub number: u32,
    /// How many there are; none if that is open.
    pub of: Option<u32>,
    /// Which attempt at this lead it is, from 1.
    pub attempt: u32,
}

/// What comes next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// This lead.
    Lead(Turn),
    /// A tag has to be typed or scanned; without one, the lead waiting to be retested.
    Ask(Option<Turn>),
    /// Nothing: all is done.
    Over,
}

/// When a lead's turn began, and where it is kept.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Kept {
    /// When it began, RFC 3339.
    pub started: String,
    /// The recording's path.
    pub recording: Option<String>,
}

/// A stock and what was done of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    plan: StockPlan,
    /// What was done and not undone, in order.
    log: Vec<Row>,
}

/// A lead is tried so often: once, and twice again.
const MOST_ATTEMPTS: usize = 3;

impl Stock {
    /// A stock of which nothing is done.
    pub const fn new(plan: StockPlan) -> Self {
        Self {
            plan,
            log: Vec::new(),
        }
    }

    /// The stock whose rows these are.
    pub fn fold<'a>(plan: StockPlan, rows: impl IntoIterator<Item = &'a Row>) -> Self {
        let mut stock = Self::new(plan);
        for row in rows {
            stock.apply(row);
        }
        stock
    }

    /// What it is to be.
    pub const fn plan(&self) -> &StockPlan {
        &self.plan
    }

    /// Takes a row into account.
    pub fn apply(&mut self, row: &Row) {
        match &row.what {
            What::Done(_) | What::Skipped => self.log.push(row.clone()),
            What::Undone(number) => {
                let undone = |done: &Row| done.tag == row.tag && done.number() == *number;
                if let Some(place) = self.log.iter().rposition(undone) {
                    self.log.remove(place);
                }
            }
        }
    }

    /// What comes next.
    pub fn next(&self) -> Next {
        let leads = self.leads();
        let again = leads
            .iter()
            .filter(|lead| lead.again)
            .min_by_key(|lead| lead.last)
            .map(|lead| self.turn(&lead.tag));
        if self
            .of()
            .is_some_and(|of| self.plan.tags.is_open() && leads.len() >= count(of))
        {
            return again.map_or(Next::Over, Next::Lead);
        }
        if self.plan.tags == Tags::Typed {
            return Next::Ask(again);
        }
        let fresh = (0..)
            .map_while(|place| self.plan.tags.get(place))
            .find(|tag| !leads.iter().any(|lead| lead.tag == *tag));
        match (fresh, again) {
            (Some(tag), _) => Next::Lead(self.turn(&tag)),
            (None, Some(turn)) => Next::Lead(turn),
            (None, None) => Next::Over,
        }
    }

    /// The turn of a lead, be it new or known.
    pub fn turn(&self, tag: &str) -> Turn {
        let leads = self.leads();
        let place = leads
            .iter()
            .position(|lead| lead.tag == tag)
            .unwrap_or(leads.len());
        let attempts = self.attempts(tag).count();
        Turn {
            tag: tag.to_owned(),
            number: u32::try_from(place + 1).unwrap_or(u32::MAX),
            of: self.of(),
            attempt: u32::try_from(attempts + 1).unwrap_or(u32::MAX),
        }
    }

    /// The lead's check is over: gives the row to keep.
    pub fn finish(&mut self, tag: &str, result: &CheckResult, kept: Kept) -> Row {
        let number = self.turn(tag).attempt;
        let mut attempt = Attempt::of(number, result, kept);
        let mut row = self.row(tag, What::Done(attempt.clone()));
        self.apply(&row);
        if let Some(why) = self
            .standing(tag)
            .and_then(|lead| lead.words(attempt.verdict))
        {
            attempt.add(why);
            row.what = What::Done(attempt);
            self.log.pop();
            self.apply(&row);
        }
        row
    }

    /// How a lead stands, if it was come to.
    pub fn standing(&self, tag: &str) -> Option<Standing> {
        let known = self.log.iter().any(|row| row.tag == tag);
        known.then(|| Standing::of(tag, &self.log, MOST_ATTEMPTS))
    }

    /// The lead is left out: gives the row to keep.
    pub fn skip(&mut self, tag: &str) -> Row {
        let row = self.row(tag, What::Skipped);
        self.apply(&row);
        row
    }

    /// What was done last, and would be undone.
    pub fn last(&self) -> Option<&Row> {
        self.log.last()
    }

    /// The last one is undone, and comes again: gives the row to keep, if there was one.
    pub fn undo(&mut self) -> Option<Row> {
        let last = self.log.last()?;
        let row = self.row(&last.tag, What::Undone(last.number()));
        self.apply(&row);
        Some(row)
    }

    /// How the leads stand, in the order they first came.
    pub fn leads(&self) -> Vec<Standing> {
        let mut tags: Vec<&str> = Vec::new();
        for row in &self.log {
            if !tags.contains(&row.tag.as_str()) {
                tags.push(&row.tag);
            }
        }
        tags.into_iter()
            .map(|tag| Standing::of(tag, &self.log, MOST_ATTEMPTS))
            .collect()
    }

    /// How many leads there are; none if that is open.
    pub fn of(&self) -> Option<u32> {
        self.plan
            .tags
            .count()
            .or_else(|| self.plan.sampling.as_ref()?.needed())
    }

    /// What was found so far.
    pub fn tally(&self) -> Tally {
        Tally::of(&self.leads(), self.of())
    }

    /// The verdict on the whole and why: the worst that is left. What was not done is not
    /// passed.
    pub fn verdict(&self) -> (Verdict, Vec<String>) {
        let tally = self.tally();
        let mut reasons = tally.words();
        if let Some(sampling) = &self.plan.sampling {
            reasons.extend(sampling.proof(&tally));
        }
        (tally.verdict(), reasons)
    }

    fn attempts<'a>(&'a self, tag: &'a str) -> impl Iterator<Item = &'a Attempt> {
        self.log.iter().filter_map(move |row| match &row.what {
            What::Done(attempt) if row.tag == tag => Some(attempt),
            _ => None,
        })
    }

    fn row(&self, tag: &str, what: What) -> Row {
        let length = self.plan.lead.conductor.map(|(length, _)| length);
        Row {
            tag: tag.to_owned(),
            kind: self.plan.lead.kind.id.clone(),
            length: length.map_or_else(String::new, |length| length.to_string()),
            what,
        }
    }
}

fn count(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}
