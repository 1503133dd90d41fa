//! What was found of a stock so far, by verdict and by finding.

use crate::check::notice::Verdict;
use crate::check::stock::Standing;

/// What was found, in leads.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    /// Passed.
    pub pass: u32,
    /// Failed.
    pub fail: u32,
    /// Neither.
    pub retest: u32,
    /// Of these, queued to be tried again.
    pub again: u32,
    /// Left out.
    pub skipped: u32,
    /// How many there are; none if that is open.
    pub of: Option<u32>,
    /// What is wrong and with how many, the commonest first.
    pub findings: Vec<(String, u32)>,
}

impl Tally {
    pub(super) fn of(leads: &[Standing], of: Option<u32>) -> Self {
        let mut tally = Self {
            of,
            ..Self::default()
        };
        for lead in leads {
            match lead.verdict {
                Some(Verdict::Pass) => tally.pass += 1,
                Some(Verdict::Fail) => tally.fail += 1,
                Some(Verdict::Retest) => tally.retest += 1,
                None => tally.skipped += 1,
            }
            tally.again += u32::from(lead.again);
            for finding in &lead.findings {
                tally.count(finding);
            }
        }
        tally
            .findings
            .sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        tally
    }

    fn count(&mut self, finding: &str) {
        match self.findings.iter_mut().find(|(known, _)| known == finding) {
            Some((_, count)) => *count += 1,
            None => self.findings.push((finding.to_owned(), 1)),
        }
    }

    /// Leads that have a verdict.
    pub const fn judged(&self) -> u32 {
        self.pass + self.fail + self.retest
    }

    /// Leads not yet come to; none if that is open.
    pub fn left(&self) -> Option<u32> {
        Some(self.of?.saturating_sub(self.judged() + self.skipped))
    }

    /// The worst that is left; what was not done or not finished is not passed.
    pub fn verdict(&self) -> Verdict {
        if self.fail > 0 {
            Verdict::Fail
        } else if self.retest > 0
            || self.skipped > 0
            || self.judged() == 0
            || self.left().is_some_and(|left| left > 0)
        {
            Verdict::Retest
        } else {
            Verdict::Pass
        }
    }

    /// The tally in words: a line of counts, then one of findings.
    pub fn words(&self) -> Vec<String> {
        let of = self.of.map_or_else(String::new, |of| format!(" of {of}"));
        let noun = if self.of.unwrap_or_else(|| self.judged()) == 1 {
            "lead"
        } else {
            "leads"
        };
        let mut counts = format!(
            "{}{of} {noun} judged: {} pass, {} fail, {} retest",
            self.judged(),
            self.pass,
            self.fail,
            self.retest
        );
        if self.skipped > 0 {
            counts = format!("{counts}; {} left out", self.skipped);
        }
        if let Some(left @ 1..) = self.left() {
            counts = format!("{counts}; {left} not come to yet");
        }
        if self.again > 0 {
            counts = format!("{counts}; {} waiting to be tried again", self.again);
        }
        let found: Vec<String> = self
            .findings
            .iter()
            .map(|(finding, count)| format!("{count} \u{d7} {finding}"))
            .collect();
        let mut words = vec![counts];
        if !found.is_empty() {
            words.push(found.join(", "));
        }
        words
    }
}
