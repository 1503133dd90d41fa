//! How fast the hand goes, and a range that is set too low for the control.

use crate::check::meter::MeterView;
use crate::check::pot::sweeping::{Said, Sweeping};
use crate::check::pot::words;
use crate::reading::{Annunciator, Magnitude, Reading, Seconds};
use crate::signal::Track;
use crate::signal::sweep::Advice;

/// Over-range on a range below the control for longer than this is a range set too low.
const LOW_RANGE: Seconds = Seconds(2.5);

impl Sweeping {
    /// Whether the hand goes too fast, from its progress over several readings: a noisy track
    /// steps as far, but to and fro.
    pub(super) fn pace(&mut self, position: f64) -> Advice {
        const STEPS: usize = 3;
        self.lately.push_back(position);
        if self.lately.len() > STEPS + 1 {
            self.lately.pop_front();
        }
        let settings = self.sweep.settings();
        let most = 1.0 / (f64::from(settings.bins) * settings.readings_per_bin);
        let forth = self.lately.iter().zip(self.lately.iter().skip(1));
        let steps: Vec<f64> = forth.map(|(one, other)| other - one).collect();
        let one_way =
            steps.iter().all(|step| *step > most) || steps.iter().all(|step| -step > most);
        match steps.last() {
            Some(step) if one_way && steps.len() == STEPS => {
                Advice::Slower { step: step.abs() }
            }
            _ => Advice::Steady,
        }
    }

    /// A range below the control's highest reading, over-range for long: no fault of the
    /// control. True if the sweep begins anew for it.
    pub(super) fn low_range(
        &mut self,
        reading: &Reading,
        meter: &MeterView,
        said: &mut Vec<Said>,
    ) -> bool {
        let over = matches!(reading.measured.magnitude, Magnitude::Over { .. });
        let highest = self.circuit.track().map(Track::highest);
        let scale = meter.facts.full_scale(&reading.measured);
        let (true, Some(highest), Some(scale)) = (over, highest, scale) else {
            self.low_range = None;
            return false;
        };
        let by_itself = reading.measured.annunciators.has(Annunciator::AutoRange);
        if scale.0 >= 1.02 * highest.0 || by_itself {
            self.low_range = None;
            return false;
        }
        let (since, count) = match self.low_range {
            // A meter that looks for its range goes on to another.
            Some((since, same, count)) if same == scale => (since, count.saturating_add(1)),
            _ => (reading.at, 1),
        };
        self.low_range = Some((since, scale, count));
        if count >= 3 {
            self.low_scale = Some(scale);
        }
        let (_, times) = self.range_trouble.unwrap_or((scale, 0));
        if reading.at.since(since) < LOW_RANGE {
            return false;
        }
        (self.low_range, self.low_scale) = (None, None);
        self.range_trouble = Some((scale, times.saturating_add(1)));
        self.last_contact = None;
        self.extent = None;
        self.moving = false;
        if times >= 2 {
            self.over = true;
            said.push(Said::Over);
        } else {
            said.push(Said::Prompt(words::range_too_low(scale, highest)));
        }
        true
    }
}
