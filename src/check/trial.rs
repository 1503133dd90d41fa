//! A trial of the meter itself: gaps of known length are made in a closed loop, and counted.
//!
//! A board opens the loop by itself: for each length in turn one *long opening* of two periods,
//! then so many gaps of that length, one a period; after the last length one more long opening.
//! The long openings cannot be missed nor taken for gaps, so they part the lengths without a
//! key being pressed, and they tell the board's clock against the program's. From there on it
//! is known where in time each gap was, whether it showed or not.
//!
//! Where it lies: it takes the lengths and the count on trust. A relay's contact opens for
//! longer or shorter than its coil is told to, and bounces.

mod count;
mod plan;
mod words;

pub use plan::{Findings, MOST_LENGTHS, TrialOptions};

use std::sync::{Arc, OnceLock};

use crate::check::meter::{MeterView, Tried};
use crate::check::notice::{
    CheckResult, Disturbance, DisturbanceKind, Notice, Phase, Proof, StepBegins, StepName,
    StepResult, Verdict, Wants,
};
use crate::check::step::{ClosedRest, shows_contact};
use crate::check::{Check, CheckView, Outbox, StepView};
use crate::reading::{Magnitude, Measured, Ohms, Reading, Seconds, Stamp};
use crate::signal::trial::{Batch, fit};
use crate::signal::{BlindSpot, GapFinder, Standing};
use count::Record;
use plan::step_of;

/// The check's name.
pub const NAME: &str = "trial";
/// A trial under way.
#[derive(Debug)]
pub struct Trial {
    options: TrialOptions,
    state: State,
    results: Vec<StepResult>,
    batches: Vec<Batch>,
    findings: Arc<OnceLock<Findings>>,
    ending: Option<Ending>,
}

#[derive(Debug)]
enum State {
    Resting { since: Stamp, taken: Vec<Measured> },
    Counting(Box<Counting>),
}

#[derive(Debug)]
struct Counting {
    since: Stamp,
    rest: ClosedRest,
    finder: GapFinder,
    /// Whether the gap that is open is a long opening.
    long: bool,
    record: Record,
}

/// How it ended.
#[derive(Debug, Clone)]
struct Ending {
    verdict: Verdict,
    reasons: Vec<String>,
    spot: Option<BlindSpot>,
}

impl Trial {
    /// Readings that the closed loop is read at rest for.
    const AT_REST: usize = 12;
    /// The most they may differ by, in ohms and in counts.
    const RESTLESS: (f64, f64) = (0.5, 5.0);

    /// A trial with this board; what it finds is left in `findings`.
    pub fn new(options: TrialOptions, findings: Arc<OnceLock<Findings>>) -> Self {
        Self {
            options,
            state: State::Resting {
                since: Stamp::START,
                taken: Vec::new(),
            },
            results: Vec::new(),
            batches: Vec::new(),
            findings,
            ending: None,
        }
    }

    fn ask(step: StepName, prompt: String, out: &mut Outbox) {
        out.say(Notice::Step(StepBegins {
            step,
            wants: Wants::Closed,
            prompt,
        }));
    }

    fn void(&mut self, why: String) {
        self.ending.get_or_insert_with(|| Ending {
            verdict: Verdict::Retest,
            reasons: vec![why],
            spot: None,
        });
    }

    /// A reading while the loop should rest closed.
    fn rest_reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox) {
        let State::Resting { taken, .. } = &mut self.state else {
            return;
        };
        let measured = reading.measured;
        if !shows_contact(&measured) {
            return taken.clear();
        }
        taken.push(measured);
        let values: Vec<f64> = taken.iter().filter_map(Measured::number).collect();
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let step = measured.resolution_value().unwrap_or(0.0);
        if high - low > Self::RESTLESS.0.max(Self::RESTLESS.1 * step) {
            *taken = vec![measured];
        }
        if taken.len() < Self::AT_REST {
            return;
        }
        let Some(rest) = ClosedRest::of(taken, &meter.facts) else {
            return;
        };
        self.rested(reading.at, rest, meter, out);
    }

    fn rested(&mut self, now: Stamp, rest: ClosedRest, meter: &MeterView, out: &mut Outbox) {
        let result = words::at_rest(step_of(0), &rest);
        self.results.push(result.clone());
        out.say(Notice::StepDone(result));
        if let Some(why) = words::too_fast(&self.options, meter) {
            return self.void(why);
        }
        self.state = State::Counting(Box::new(Counting {
            since: now,
            rest,
            finder: GapFinder::new(now),
            long: false,
            record: Record::default(),
        }));
        Self::ask(step_of(1), words::start(&self.options), out);
    }

    /// A reading while the board is at work.
    fn counted_reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox) {
        let every = self.options.every;
        let State::Counting(counting) = &mut self.state else {
            return;
        };
        let at = reading.at;
        let was_open = counting.finder.open().is_some();
        let standing = counting.rest.standing(&reading.measured, was_open);
        counting.record.reading(at);
        if standing == Standing::Nothing && !was_open {
            counting.record.spoil(at, at);
        }
        if let Some(gap) = counting.finder.feed(at, standing)
            && !std::mem::take(&mut counting.long)
        {
            counting.record.breaks.push(gap);
            let step = step_of(counting.record.openings.len());
            out.say(Notice::Disturbance(Disturbance {
                kind: DisturbanceKind::Break,
                step,
                from: gap.from,
                to: gap.to,
                at_least: gap.at_least(),
                at_most: gap.at_most(),
                ohms: gap
                    .numbers
                    .filter(|_| !gap.over)
                    .map(|(_, high)| Ohms(high)),
            }));
        }
        let open = counting.finder.open().copied();
        if let Some(gap) = open.filter(|gap| gap.at_least() >= every && !counting.long) {
            counting.long = true;
            counting.record.openings.push(gap.from);
            self.opened(meter, out);
        }
    }

    /// A long opening was made: the end of one length and the beginning of the next.
    fn opened(&mut self, meter: &MeterView, out: &mut Outbox) {
        let State::Counting(counting) = &self.state else {
            return;
        };
        let record = &counting.record;
        let begun = record.openings.len();
        if let Some(done) = begun.checked_sub(2) {
            let Some(length) = self.options.lengths.get(done).copied() else {
                return;
            };
            match record.count(&self.options, length, meter.pacing_interval()) {
                Ok(batch) => {
                    let result = words::counted(step_of(begun - 1), &batch);
                    self.batches.push(batch);
                    self.results.push(result.clone());
                    out.say(Notice::StepDone(result));
                }
                Err(why) => return self.void(why),
            }
        }
        match self.options.lengths.get(begun.saturating_sub(1)) {
            Some(length) => {
                Self::ask(step_of(begun), words::next(&self.options, *length), out);
            }
            None => self.conclude(meter),
        }
    }

    fn conclude(&mut self, meter: &MeterView) {
        let State::Counting(counting) = &self.state else {
            return;
        };
        let interval = counting.record.mean_interval();
        let high = meter.interval.unwrap_or(interval);
        let spread = counting.record.check_phases(&self.options, meter);
        let found =
            spread.and_then(|()| fit(&self.batches, interval).map_err(|why| why.to_string()));
        let fit = match found {
            Ok(fit) => fit,
            Err(why) => return self.void(why),
        };
        let (aperture, fraction) = fit.cautious;
        let findings = Findings {
            tried: Tried {
                aperture,
                fraction,
                rise: Ohms(counting.rest.enter.0 - counting.rest.raw.0),
                range: counting.rest.range(),
                interval: high,
            },
            fit,
            batches: self.batches.clone(),
            interval,
        };
        self.ending = Some(Ending {
            verdict: Verdict::Pass,
            reasons: words::found(&findings),
            spot: Some(BlindSpot::tried(high, aperture, fraction)),
        });
        // A trial ends once, so nothing is there yet.
        self.findings.get_or_init(|| findings);
    }

    fn outcome(
        &self,
        verdict: Verdict,
        reasons: Vec<String>,
        meter: &MeterView,
    ) -> CheckResult {
        CheckResult {
            check: NAME,
            verdict,
            reasons,
            findings: Vec::new(),
            not_covered: None,
            steps: self.results.clone(),
            blind_spot: self
                .ending
                .as_ref()
                .and_then(|ending| ending.spot)
                .or_else(|| meter.blind_spot(None)),
            meter_heard: true,
        }
    }
}

impl Check for Trial {
    fn name(&self) -> &'static str {
        NAME
    }

    fn begin(&mut self, now: Stamp, out: &mut Outbox) {
        self.state = State::Resting {
            since: now,
            taken: Vec::new(),
        };
        Self::ask(step_of(0), words::REST.to_owned(), out);
        out.say(Notice::Phase {
            step: step_of(0),
            phase: Phase::Waiting,
        });
    }

    fn reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox) {
        if self.ending.is_some() {
            return;
        }
        match self.state {
            State::Resting { .. } if reading.measured.magnitude == Magnitude::Blank => {}
            State::Resting { .. } => self.rest_reading(reading, meter, out),
            State::Counting(_) => self.counted_reading(reading, meter, out),
        }
    }

    fn confirm(&mut self, _now: Stamp, _meter: &MeterView, _out: &mut Outbox) {
        // The board leads; no key is needed.
    }

    fn suspend(&mut self, now: Stamp, _out: &mut Outbox) {
        match &mut self.state {
            State::Resting { taken, .. } => taken.clear(),
            State::Counting(counting) => counting.record.suspend(now),
        }
    }

    fn resume(&mut self, now: Stamp, _meter: &MeterView, _out: &mut Outbox) {
        if let State::Counting(counting) = &mut self.state {
            counting.record.resume(now);
            counting.finder = GapFinder::new(now);
            counting.long = false;
        }
    }

    fn missed(&mut self) {
        match &mut self.state {
            State::Resting { taken, .. } => taken.clear(),
            State::Counting(counting) => counting.record.missed(),
        }
    }

    fn due(&self) -> Option<Stamp> {
        if self.ending.is_some() {
            return None;
        }
        let wait = self.options.wait;
        Some(match &self.state {
            State::Resting { since, .. } => *since + wait,
            State::Counting(counting) => match counting.record.openings.last() {
                None => counting.since + wait,
                // The end of a long opening, and a period for a board that runs slow.
                Some(last) => {
                    *last + Seconds(1.05 * self.options.cycle().0 + 2.0 * self.options.every.0)
                }
            },
        })
    }

    fn time(&mut self, now: Stamp, _meter: &MeterView, _out: &mut Outbox) {
        if self.due().is_none_or(|due| due > now) {
            return;
        }
        let why = match &self.state {
            State::Resting { .. } => words::never_rested(self.options.wait),
            State::Counting(counting) if counting.record.openings.is_empty() => {
                words::never_started(&self.options)
            }
            State::Counting(_) => words::stopped(&self.options),
        };
        self.void(why);
    }

    fn result(&self, meter: &MeterView) -> Option<CheckResult> {
        let ending = self.ending.as_ref()?;
        Some(self.outcome(ending.verdict, ending.reasons.clone(), meter))
    }

    fn cut_short(&self, why: &str, meter: &MeterView) -> CheckResult {
        self.outcome(Verdict::Retest, vec![why.to_owned()], meter)
    }

    fn view(&self) -> CheckView<'_> {
        let names = (0..=self.options.lengths.len()).map(step_of);
        let steps = names
            .enumerate()
            .map(|(index, name)| StepView {
                name,
                wants: Wants::Closed,
                result: self.results.get(index),
            })
            .collect();
        CheckView {
            steps,
            now: None,
            tare: None,
            track: None,
        }
    }
}

/// A step that is over.
fn done(step: StepName, ohms: Option<Ohms>, coverage: f64, reasons: Vec<String>) -> StepResult {
    StepResult {
        step,
        verdict: Verdict::Pass,
        ohms,
        proof: Proof::Seen,
        finding: None,
        coverage,
        reasons,
    }
}
