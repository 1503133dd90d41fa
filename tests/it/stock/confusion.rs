//! Which lead came out how: what a tally is worth.

use std::collections::BTreeMap;
use std::fmt;

use steadyohm::check::notice::Verdict;

/// Verdicts by what was wrong.
#[derive(Debug, Clone, Default)]
pub(crate) struct Confusion {
    /// Of each fault: passed, failed, retest.
    counts: BTreeMap<String, [u32; 3]>,
    /// Passed with a fault that the method says it cannot see.
    pub(crate) named_as_unseen: u32,
    /// Attempts made, and how many of them came to retest.
    pub(crate) attempts: u32,
    pub(crate) retests: u32,
    /// What is to be explained.
    pub(crate) odd: Vec<String>,
}

impl Confusion {
    /// A lead with this fault stands at this verdict. `gaps` is what the verdict says its method
    /// cannot see.
    pub(crate) fn count(&mut self, fault: &str, verdict: Verdict, gaps: Option<&str>) {
        let crossed = fault.ends_with("crossed");
        if crossed
            && verdict == Verdict::Pass
            && gaps.is_some_and(|gaps| gaps.contains("crossed"))
        {
            self.named_as_unseen += 1;
            return;
        }
        let counts = self.counts.entry(fault.to_owned()).or_default();
        counts[match verdict {
            Verdict::Pass => 0,
            Verdict::Fail => 1,
            Verdict::Retest => 2,
        }] += 1;
    }

    /// Another one's counts too.
    pub(crate) fn join(&mut self, other: Self) {
        for (fault, counts) in other.counts {
            let own = self.counts.entry(fault).or_default();
            for (own, count) in own.iter_mut().zip(counts) {
                *own += count;
            }
        }
        self.named_as_unseen += other.named_as_unseen;
        self.attempts += other.attempts;
        self.retests += other.retests;
        self.odd.extend(other.odd);
    }

    fn sum(&self, good: bool, place: usize) -> u32 {
        let of = |fault: &str| (fault == "good") == good;
        let rows = self.counts.iter().filter(|(fault, _)| of(fault));
        rows.map(|(_, counts)| counts[place]).sum()
    }

    pub(crate) fn leads(&self) -> u32 {
        self.counts.values().flatten().sum()
    }

    pub(crate) fn faulty_passed(&self) -> u32 {
        self.sum(false, 0)
    }

    pub(crate) fn good_failed(&self) -> u32 {
        self.sum(true, 1)
    }

    /// Leads that stand at retest in the end.
    pub(crate) fn left_in_retest(&self) -> u32 {
        self.sum(true, 2) + self.sum(false, 2)
    }
}

impl fmt::Display for Confusion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{:<36} {:>5} {:>5} {:>6}", "", "pass", "fail", "retest")?;
        for (name, good) in [("good", true), ("faulty", false)] {
            let [pass, fail, retest] = [0, 1, 2].map(|place| self.sum(good, place));
            writeln!(f, "{name:<36} {pass:>5} {fail:>5} {retest:>6}")?;
        }
        for (fault, [pass, fail, retest]) in &self.counts {
            if fault != "good" {
                writeln!(f, "  {fault:<34} {pass:>5} {fail:>5} {retest:>6}")?;
            }
        }
        writeln!(
            f,
            "{} leads, {} attempts, {} of them retest; {} leads stand at retest",
            self.leads(),
            self.attempts,
            self.retests,
            self.left_in_retest()
        )?;
        if self.named_as_unseen > 0 {
            writeln!(
                f,
                "{} passed with a fault that the method cannot see, and the verdict says so",
                self.named_as_unseen
            )?;
        }
        for odd in &self.odd {
            writeln!(f, "  {odd}")?;
        }
        Ok(())
    }
}
