//! Plans and proofs in plain words.
//!
//! A bound is rounded away from what it promises: a share is never told smaller than it may be.

use crate::signal::sample::{Lot, Plan, Tested};

/// What every such sentence rests on.
pub const DRAWN_BLINDLY: &str = "This holds if those tested were drawn blindly from all of them, \
not picked; and a bad one is one that this test fails: what it cannot see is not counted.";

/// What is tested, as one and as many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Noun {
    /// One of them.
    pub one: &'static str,
    /// Several.
    pub many: &'static str,
}

impl Noun {
    /// A lead, leads.
    pub const LEAD: Self = Self {
        one: "lead",
        many: "leads",
    };

    fn counted(self, count: u32) -> String {
        let noun = if count == 1 { self.one } else { self.many };
        format!("{count} {noun}")
    }
}

impl Plan {
    /// What to do and what it will show: `share` and `confidence` are those the plan was made
    /// for, 0 to 1.
    pub fn sentence(self, noun: Noun, share: f64, confidence: f64) -> String {
        format!(
            "Test {}: if {}, then with {} confidence fewer than {} of such {} are bad.",
            noun.counted(self.tested),
            condition(self.allowed),
            percent(confidence),
            percent(share),
            noun.many
        )
    }

    /// The same for a lot of known size: `bad` is the number that is too many.
    pub fn sentence_of_lot(self, noun: Noun, lot: Lot, confidence: f64) -> String {
        let condition = condition(self.allowed);
        let bound = at_most(lot.bad.saturating_sub(1), lot.size);
        if self.tested >= lot.size {
            let all = noun.counted(lot.size);
            return format!("Test all {all}, no fewer will do: if {condition}, then {bound}.");
        }
        format!(
            "Test {} of the {}: if {condition}, then with {} confidence {bound}.",
            self.tested,
            noun.counted(lot.size),
            percent(confidence),
        )
    }
}

impl Tested {
    /// What was seen, and the one-sided bound it proves at this confidence, 0 to 1.
    pub fn sentence(self, noun: Noun, confidence: f64) -> String {
        if self.tested() == 0 {
            return format!("No {} tested: nothing is shown.", noun.one);
        }
        let (seen, many, sure) = (self.seen(noun), noun.many, percent(confidence));
        let bound = self.upper(confidence);
        if bound < 1.0 {
            let below = above(bound);
            format!("{seen}: with {sure} confidence fewer than {below} of such {many} are bad.")
        } else {
            let over = below(self.lower(confidence));
            format!("{seen}: with {sure} confidence more than {over} of such {many} are bad.")
        }
    }

    /// Both ends at once, named as such.
    pub fn interval_sentence(self, noun: Noun, confidence: f64) -> String {
        let interval = self.interval(confidence);
        format!(
            "The {} interval (both ends at once, Clopper and Pearson) for the share of bad {} is \
             {} to {}.",
            percent(confidence),
            noun.many,
            below(interval.low),
            above(interval.high)
        )
    }

    /// What was seen of a lot of known size, and the one-sided bound on the number of bad ones
    /// in it, those tested included. None if the sample does not fit into the lot.
    pub fn sentence_in_lot(self, noun: Noun, size: u32, confidence: f64) -> Option<String> {
        let most = self.most_in_lot(size, confidence)?;
        Some(if self.tested() == size {
            format!(
                "All {} tested, {}.",
                noun.counted(size),
                failed(self.failed())
            )
        } else if self.tested() == 0 {
            format!("No {} of the {size} tested: nothing is shown.", noun.one)
        } else {
            format!(
                "{} of the {} tested, {}: with {} confidence {}.",
                self.tested(),
                noun.counted(size),
                failed(self.failed()),
                percent(confidence),
                at_most(most, size),
            )
        })
    }

    fn seen(self, noun: Noun) -> String {
        let failed = if self.failed() == self.tested() && self.tested() > 1 {
            "all failed".to_owned()
        } else {
            failed(self.failed())
        };
        format!("{} tested, {failed}", noun.counted(self.tested()))
    }
}

fn failed(count: u32) -> String {
    match count {
        0 => "none failed".to_owned(),
        some => format!("{some} failed"),
    }
}

fn condition(allowed: u32) -> String {
    match allowed {
        0 => "none fails".to_owned(),
        1 => "no more than 1 fails".to_owned(),
        some => format!("no more than {some} fail"),
    }
}

fn at_most(count: u32, size: u32) -> String {
    match count {
        0 => format!("none of the {size} is bad"),
        1 => format!("at most 1 of the {size} is bad"),
        some => format!("at most {some} of the {size} are bad"),
    }
}

/// The steps in which a share is told: whole percent, below 2 % tenths of one, and so on.
fn step(share: f64) -> (f64, usize) {
    match share {
        high if high >= 0.02 => (1e-2, 0),
        low if low >= 0.002 => (1e-3, 1),
        lower if lower >= 0.0002 => (1e-4, 2),
        _ => (1e-5, 3),
    }
}

/// A share told as the next one above it, so that "fewer than" is true of it.
fn above(share: f64) -> String {
    let (step, digits) = step(share);
    let told = ((share / step + 1e-9).floor() + 1.0) * step;
    format!("{:.digits$} %", 100.0 * told.min(1.0))
}

/// A share told as the last one below it; none only if it is none.
fn below(share: f64) -> String {
    let (step, digits) = step(share);
    if share <= 0.0 {
        return "0 %".to_owned();
    }
    let told = ((share / step - 1e-9).ceil() - 1.0) * step;
    format!("{:.digits$} %", 100.0 * told.max(0.0))
}

/// A share as it was given, in percent without idle zeros; certain only if it is.
fn percent(share: f64) -> String {
    let text = format!("{:.4}", (1e6 * share + 1e-6).floor() / 1e4);
    let shown = text.trim_end_matches('0').trim_end_matches('.');
    format!("{shown} %")
}
