//! A stock that stands for more than itself: how many to test, and what that shows.

use crate::check::stock::Tally;
use crate::signal::{
    DRAWN_BLINDLY, Lot, Noun, Plan, Tested, tests_needed, tests_needed_of_lot,
};

/// What a sample is to show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// How many leads the lot has; none for a supply without end.
    pub lot: Option<u32>,
    /// The share of bad ones that is too much, 0 to 1.
    pub tolerated: f64,
    /// How surely, 0 to 1.
    pub confidence: f64,
}

impl Sampling {
    /// How many to test, none of which may fail; none if no number is enough.
    pub fn needed(&self) -> Option<u32> {
        match self.lot() {
            Some(lot) => tests_needed_of_lot(lot, self.confidence, 0),
            None => tests_needed(self.tolerated, self.confidence, 0),
        }
    }

    /// What to do and what it will show.
    pub fn beforehand(&self) -> Vec<String> {
        let Some(tested) = self.needed() else {
            return vec!["no number of leads shows that: give a larger --tolerated".to_owned()];
        };
        let plan = Plan { tested, allowed: 0 };
        let sentence = match self.lot() {
            Some(lot) => format!(
                "{} (Hypergeometric.)",
                plan.sentence_of_lot(Noun::LEAD, lot, self.confidence)
            ),
            None => format!(
                "{} (Binomial.)",
                plan.sentence(Noun::LEAD, self.tolerated, self.confidence)
            ),
        };
        vec![sentence, DRAWN_BLINDLY.to_owned()]
    }

    /// What the finished sample proves. What did not pass counts as failed.
    pub(super) fn proof(&self, tally: &Tally) -> Vec<String> {
        let Some(tested) = Tested::new(tally.judged(), tally.fail + tally.retest) else {
            return Vec::new();
        };
        let in_lot = self
            .lot
            .and_then(|size| tested.sentence_in_lot(Noun::LEAD, size, self.confidence));
        let mut words = match in_lot {
            Some(sentence) => vec![format!("{sentence} (Hypergeometric, one-sided.)")],
            None => vec![
                format!(
                    "{} (Clopper and Pearson, one-sided.)",
                    tested.sentence(Noun::LEAD, self.confidence)
                ),
                tested.interval_sentence(Noun::LEAD, self.confidence),
            ],
        };
        if tally.retest > 0 {
            words.push(format!("{} in retest counted as failed.", tally.retest));
        }
        words.push(DRAWN_BLINDLY.to_owned());
        words
    }

    fn lot(&self) -> Option<Lot> {
        Lot::with_share(self.lot?, self.tolerated)
    }
}
