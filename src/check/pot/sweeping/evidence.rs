//! Whether a sweep has seen enough, and what it lacks.

use crate::check::pot::circuit::Circuit;
use crate::check::pot::sweeping::{Said, Sweeping};
use crate::check::pot::words;
use crate::circuit::control::Wiring;
use crate::reading::{Seconds, Stamp};
use crate::signal::sweep::{Grade, Pass, Zone};
use crate::signal::{SweepReading, Track};

/// Goes more that a sweep gets for coverage.
const MORE: u32 = 2;

/// Passes beyond four times those asked for, and time, after which a sweep is judged as it is.
const MOST_PASSES: usize = 12;
const MOST_TIME: Seconds = Seconds(2_700.0);

/// Where a pass went fastest it may have gone over this many times the zone it must show: beyond
/// that the reading leapt, and what lay between is not known.
const LEAP: f64 = 4.0;

impl Sweeping {
    /// Counts the times contact is lost for a while.
    pub(super) fn count_opens(&mut self, taken: &SweepReading) {
        const A_WHILE: Seconds = Seconds(1.0);
        if !taken.is_over() {
            self.open_since = None;
            return;
        }
        let (since, counted) = *self.open_since.get_or_insert((taken.at, false));
        if !counted && taken.at.since(since) >= A_WHILE {
            self.open_since = Some((since, true));
            self.opens = self.opens.saturating_add(1);
        }
    }

    /// Whether the hand has been from stop to stop often enough and no passes came of it.
    pub(super) fn turned_in_vain(&self) -> bool {
        let stays = self
            .rests
            .len()
            .saturating_add(usize::try_from(self.opens).unwrap_or(0));
        let (up, down) = self.counted();
        let short = up < self.needed || down < self.needed;
        // A control that reads open at an end never rests there, and a slow meter looks for its
        // range all along.
        let many = up + down > 4 * self.needed + MOST_PASSES;
        let readings = self.sweep.readings();
        let long = readings
            .first()
            .zip(readings.last())
            .is_some_and(|(first, last)| last.at.since(first.at) > MOST_TIME);
        (stays > 2 * self.needed + 4 && short) || many || long
    }

    /// All passes asked for are made: whether they are enough.
    pub(super) fn enough(&mut self, now: Stamp, said: &mut Vec<Said>) {
        let Some(analysis) = &self.analysis else {
            return;
        };
        let doubtful = analysis
            .findings
            .iter()
            .find(|finding| finding.grade == Grade::Bad && !finding.confirmed);
        let certain = analysis
            .findings
            .iter()
            .any(|finding| finding.grade == Grade::Bad && finding.confirmed);
        let short = self.short_of();
        if self.leapt() > 0 && !certain && self.second_go.is_none() {
            self.second_go = Some(now);
            self.needed = self.needed.saturating_add(self.demand.passes);
            let what = "the reading leapt to what zero reads, as a lost contact does here";
            said.push(Said::Prompt(words::second_go(what, self.demand.passes)));
            return;
        }
        if let Some(finding) = doubtful.filter(|_| !certain && self.second_go.is_none()) {
            let what = format!(
                "{} was seen once, {}",
                finding.kind.words(),
                finding.zone.words()
            );
            self.second_go = Some(now);
            self.needed = self.needed.saturating_add(self.demand.passes);
            said.push(Said::Prompt(words::second_go(&what, self.demand.passes)));
        } else if let Some(why) = short.filter(|_| !certain && self.more < MORE) {
            self.more += 1;
            self.needed = self.needed.saturating_add(1);
            said.push(Said::Prompt(words::slower(&why)));
        } else {
            self.finish(now, said);
        }
    }

    /// Passes in which the reading leapt and nothing was between, where an open wiper reads a
    /// number: a flicked knob, or contact lost.
    pub(in crate::check::pot) fn leapt(&self) -> usize {
        /// A hand that follows the readings gives a pass more than these.
        const READINGS: u32 = 4;
        const QUICK: f64 = 0.7;
        let open = self.circuit.track().and_then(Track::open_reading);
        let Some(analysis) = self.analysis.as_ref().filter(|_| open.is_some()) else {
            return 0;
        };
        let leapt = |pass: &&Pass| pass.readings <= READINGS || pass.duration().0 < QUICK;
        analysis.passes.iter().filter(leapt).count()
    }

    /// What the passes lack, if they lack anything.
    pub(in crate::check::pot) fn short_of(&self) -> Option<String> {
        self.analysis.as_ref()?;
        let unread = self.unread();
        if !unread.is_empty() {
            return Some(words::not_read(&unread));
        }
        let (up, down) = self.slow_enough();
        (up == 0 || down == 0).then(|| {
            format!(
                "{up} passes up and {down} down were slow enough to show a zone of {:.0} % of \
                 the track",
                100.0 * self.demand.zone
            )
        })
    }

    /// Passes up and down that were slow enough.
    fn slow_enough(&self) -> (usize, usize) {
        let Some(analysis) = &self.analysis else {
            return (0, 0);
        };
        let fine = analysis.passes.iter().filter(|pass| {
            let (mean, widest) = (pass.smallest_zone(), pass.sure_zone());
            mean.is_some_and(|zone| zone <= self.demand.zone)
                && widest.is_some_and(|zone| zone <= LEAP * self.demand.zone)
        });
        words::counted(fine)
    }

    /// Whether control and pickup were worked out from passes most of which were too fast: they
    /// may have missed the peak, and what stands above a wrong curve is no fault.
    pub(in crate::check::pot) fn circuit_is_doubtful(&self) -> bool {
        // An independent volume is read itself at zero, however fast it is turned.
        let learned = matches!(self.circuit, Circuit::Jack(known)
            if !known.is_given() && known.wiring == Wiring::Standard);
        let passes = self
            .analysis
            .as_ref()
            .map_or(&[][..], |a| a.passes.as_slice());
        let slow = passes
            .iter()
            .filter(|pass| {
                pass.smallest_zone()
                    .is_some_and(|zone| zone <= self.demand.zone)
            })
            .count();
        learned && 2 * slow < passes.len()
    }

    /// Stretches within reach of the wiper that were not read on two passes. What lies beyond
    /// the ends it rests at is the end's own matter.
    fn unread(&self) -> Vec<Zone> {
        let Some(analysis) = &self.analysis else {
            return vec![Zone { from: 0.0, to: 1.0 }];
        };
        let reach = analysis
            .passes
            .iter()
            .map(|pass| pass.zone)
            .reduce(|one, other| one.with(&other))
            .unwrap_or(Zone { from: 0.0, to: 0.0 });
        let bin = analysis.bins.first().map_or(0.02, |bin| bin.zone.width());
        // Short of an end by more than its limit is no end.
        let (from, to) = (
            if reach.from <= 0.15 { reach.from } else { 0.0 },
            if reach.to >= 0.85 { reach.to } else { 1.0 },
        );
        analysis
            .unread(2)
            .into_iter()
            .map(|zone| Zone {
                from: zone.from.max(from),
                to: zone.to.min(to),
            })
            .filter(|zone| zone.width() > 0.5 * bin)
            .collect()
    }
}
