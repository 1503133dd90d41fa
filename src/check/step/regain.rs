//! Tells, inside one long gap of an autoranging meter, that the work was good in between.
//!
//! Such a meter climbs through its ranges when a conductor opens and comes down again when it
//! closes. If it opens anew before the meter is all the way down, no good reading ever shows,
//! only a display that goes blank or changes range and is then over-range *no higher than
//! before*: on the way up each over-range is of a higher range than the last.
//! A lifted probe shows nothing of the kind.

use crate::check::meter::MeterFacts;
use crate::check::step::rest::Rest;
use crate::reading::{Magnitude, Ohms, Reading, Stamp};
use crate::signal::Standing;

/// What is remembered within one gap.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Regain {
    /// Full scale of the last over-range reading.
    last_scale: Option<Ohms>,
    /// Since when the meter has been coming back.
    since: Option<Stamp>,
}

impl Regain {
    /// Weighs a reading: how it stands after all, and whether the gap ended in between, and
    /// when.
    pub(super) fn weigh(
        &mut self,
        reading: &Reading,
        rest: &Rest,
        facts: &MeterFacts,
        gap_open: bool,
    ) -> (Standing, Option<Stamp>) {
        let measured = &reading.measured;
        let standing = rest.standing(measured, facts, gap_open);
        let scale = match measured.magnitude {
            Magnitude::Over { .. } => facts.full_scale(measured),
            Magnitude::Number(_) | Magnitude::Blank => None,
        };
        if !gap_open {
            *self = Self {
                last_scale: scale,
                since: None,
            };
            return (standing, None);
        }
        let blank = measured.magnitude == Magnitude::Blank;
        let coming_back = match rest {
            Rest::Closed(_) => matches!(standing, Standing::Tail | Standing::Nothing),
            Rest::Open(_) => standing == Standing::Tail,
        };
        let no_higher =
            matches!((scale, self.last_scale), (Some(now), Some(last)) if now <= last);
        let again = match rest {
            Rest::Closed(_) => no_higher,
            Rest::Open(_) => no_higher || matches!(standing, Standing::Beyond(Some(_))),
        };
        self.last_scale = scale.or(self.last_scale);
        match self.since {
            None => {
                self.since = coming_back.then_some(reading.at);
                (standing, None)
            }
            // Blank between two ranges on the way back tells nothing yet.
            Some(_) if blank => (Standing::Nothing, None),
            Some(since) if again => {
                self.since = None;
                let standing = if standing == Standing::Tail {
                    Standing::Beyond(None)
                } else {
                    standing
                };
                (standing, Some(since))
            }
            Some(_) => {
                if matches!(standing, Standing::Beyond(_)) {
                    // Higher than before: it was on its way up all the time.
                    self.since = None;
                }
                (standing, None)
            }
        }
    }
}
