//! One value: wait until it is set, let it settle, read it at rest.
//!
//! It goes by the reading: one that came to rest within the band is taken. One that came to
//! rest elsewhere may be a control half turned, so it is asked for again, and counts as twice
//! seen only when it comes out the same after the operator's Enter.

use crate::check::Outbox;
use crate::check::meter::MeterFacts;
use crate::check::notice::{Notice, Phase, Proof, StepBegins, Wants};
use crate::check::rewire::plan::{ValuePlan, agree};
use crate::circuit::diagnosis::reasons::read;
use crate::circuit::diagnosis::standing::Lies;
use crate::circuit::diagnosis::{Meter, Observation, Seen};
use crate::reading::{Magnitude, Measured, Ohms, Reading, Seconds, Stamp};
use crate::signal::Baseline;

/// So many readings over so long a time are at rest.
const AT_REST: (usize, Seconds) = (4, Seconds(0.8));
/// A value that was said to be set and does not come to rest in this time is unsteady.
const RESTLESS: Seconds = Seconds(12.0);
/// A key that is held down repeats itself.
const REPEATS: Seconds = Seconds(1.0);
/// So often a value outside its band is asked for again.
const MOST_ASKED: u8 = 3;
/// A reading that left its band so often, and nobody moved anything, does not hold.
const DEPARTURES: u8 = 3;

/// What judging a reading needs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Aim<'a> {
    pub(super) facts: &'a MeterFacts,
    pub(super) meter: &'a Meter,
    pub(super) tare: f64,
    pub(super) wait: Seconds,
}

/// What came of a step.
#[derive(Debug, Clone, Copy)]
pub(super) enum End {
    /// This was read.
    Read(Observation),
    /// Nothing was: nobody said that it was set. Whether something stood there all the same.
    Unsaid(Option<Observation>),
    /// Nothing was: no value came after the operator's word.
    NoValue,
}

impl End {
    fn of(seen: Option<Observation>) -> Self {
        seen.map_or(Self::NoValue, Self::Read)
    }

    pub(super) const fn seen(self) -> Option<Observation> {
        match self {
            Self::Read(seen) => Some(seen),
            Self::Unsaid(_) | Self::NoValue => None,
        }
    }
}

/// One value under way.
#[derive(Debug, Clone)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each tells of one thing that happened once and stays so"
)]
pub struct ValueStep {
    plan: ValuePlan,
    phase: Phase,
    since: Stamp,
    suspended: bool,
    window: Vec<Reading>,
    /// What was taken last before it: what still reads so has not moved.
    before: Option<Observation>,
    /// Read outside the band, and asked for again.
    odd: Option<Observation>,
    asked: u8,
    /// Whether the last reading lay in the band, and how often one left it.
    within: bool,
    departures: u8,
    entered: Option<Stamp>,
    /// It was said that it reads as before.
    hinted: bool,
    proof: Proof,
    ended: Option<End>,
}

impl ValueStep {
    pub(super) fn begin(
        plan: ValuePlan,
        before: Option<Observation>,
        now: Stamp,
        out: &mut Outbox,
    ) -> Self {
        let phase = if plan.alike {
            Phase::Confirm
        } else {
            Phase::Waiting
        };
        let mut step = Self {
            phase,
            plan,
            since: now,
            suspended: false,
            window: Vec::new(),
            before,
            odd: None,
            asked: 0,
            within: false,
            departures: 0,
            entered: None,
            hinted: false,
            proof: Proof::Seen,
            ended: None,
        };
        step.ask(step.plan.prompt.clone(), phase, now, out);
        step
    }

    /// What is measured.
    pub const fn plan(&self) -> &ValuePlan {
        &self.plan
    }

    /// Where it is.
    pub const fn phase(&self) -> Phase {
        self.phase
    }

    /// How it is known that it was set.
    pub const fn proof(&self) -> Proof {
        self.proof
    }

    /// What came of it, once it is over.
    pub(super) const fn ended(&self) -> Option<End> {
        self.ended
    }

    fn ask(&mut self, prompt: String, phase: Phase, now: Stamp, out: &mut Outbox) {
        out.say(Notice::Step(StepBegins {
            step: self.plan.name.clone(),
            wants: Wants::Value,
            prompt,
        }));
        self.go_to(phase, now, out);
    }

    fn go_to(&mut self, phase: Phase, now: Stamp, out: &mut Outbox) {
        self.phase = phase;
        self.since = now;
        self.window.clear();
        out.say(Notice::Phase {
            step: self.plan.name.clone(),
            phase,
        });
    }

    pub(super) fn suspend(&mut self) {
        self.suspended = true;
        self.window.clear();
    }

    pub(super) fn resume(&mut self, now: Stamp) {
        self.suspended = false;
        self.since = now;
    }

    pub(super) fn missed(&mut self) {
        self.window.clear();
    }

    pub(super) fn due(&self, wait: Seconds) -> Option<Stamp> {
        if self.suspended || self.ended.is_some() {
            return None;
        }
        Some(match self.phase {
            Phase::Settling => self.since + RESTLESS,
            _ => self.since + wait,
        })
    }

    pub(super) fn reading(&mut self, reading: &Reading, aim: Aim<'_>, out: &mut Outbox) {
        let blank = reading.measured.magnitude == Magnitude::Blank;
        if self.suspended || blank || self.ended.is_some() {
            return;
        }
        self.window.push(*reading);
        if self.does_not_hold(&reading.measured, aim) {
            let seen = Observation::of(&reading.measured, aim.tare);
            self.ended = Some(End::of(seen.map(Observation::moving)));
            return;
        }
        let Some(seen) = self.at_rest(reading.at, aim) else {
            return;
        };
        let lies = self.lies(&seen, aim);
        match self.phase {
            Phase::Settling => self.settled(seen, lies, reading.at, out),
            _ if self.plan.alike => {}
            _ if lies == Lies::Within && !self.has_not_moved(&seen) => {
                self.ended = Some(End::Read(seen));
            }
            // It may be set already, or not yet: nobody can tell from the reading.
            Phase::Waiting if lies == Lies::Within && !self.hinted => self.hint(&seen, out),
            Phase::Waiting if self.asks_about(&seen) => {
                self.odd = Some(seen);
                self.ask_again(&seen, reading.at, aim, out);
            }
            _ => {}
        }
    }

    /// The operator pressed Enter: it is set.
    pub(super) fn confirm(&mut self, now: Stamp, out: &mut Outbox) {
        let repeated = self.entered.is_some_and(|last| now.since(last) < REPEATS);
        self.entered = Some(now);
        let asking = matches!(self.phase, Phase::Waiting | Phase::Confirm);
        if asking && !repeated && !self.suspended && self.ended.is_none() {
            self.proof = Proof::Operator;
            self.go_to(Phase::Settling, now, out);
        }
    }

    pub(super) fn time(&mut self, now: Stamp, aim: Aim<'_>, out: &mut Outbox) {
        if self.due(aim.wait).is_none_or(|due| due > now) {
            return;
        }
        match self.phase {
            Phase::Settling => {
                let moving = self.observed(aim).map(Observation::moving);
                self.ended = Some(End::of(moving));
            }
            Phase::Waiting => {
                let why =
                    "Nothing new came to rest where it ought to: press Enter when it is set.";
                let prompt = format!("{} {why}", self.plan.prompt);
                self.ask(prompt, Phase::Confirm, now, out);
            }
            _ => self.ended = Some(End::Unsaid(self.odd)),
        }
    }

    /// It came into its band and left it again and again: no hand turns a knob so.
    fn does_not_hold(&mut self, measured: &Measured, aim: Aim<'_>) -> bool {
        if self.plan.alike && self.phase != Phase::Settling {
            return false;
        }
        let seen = Observation::of(measured, aim.tare);
        let within = seen.is_some_and(|seen| self.lies(&seen, aim) == Lies::Within);
        if self.within && !within {
            self.departures += 1;
        }
        self.within = within;
        self.departures >= DEPARTURES
    }

    fn lies(&self, seen: &Observation, aim: Aim<'_>) -> Lies {
        self.plan.band(aim.meter, seen.resolution).lies(seen)
    }

    /// It reads as what was taken before.
    fn has_not_moved(&self, seen: &Observation) -> bool {
        self.before.is_some_and(|before| agree(&before, seen))
    }

    /// Something conducts or moved: it is not just the probes in the air.
    fn asks_about(&self, seen: &Observation) -> bool {
        match self.before {
            Some(_) => !self.has_not_moved(seen),
            None => matches!(seen.seen, Seen::Ohms(_)),
        }
    }

    /// At rest after the operator's word.
    fn settled(&mut self, seen: Observation, lies: Lies, now: Stamp, out: &mut Outbox) {
        if lies == Lies::Within {
            self.ended = Some(End::Read(seen));
        } else if self.odd.is_some_and(|odd| agree(&odd, &seen)) {
            self.ended = Some(End::Read(seen.again(2)));
        } else if self.asked >= MOST_ASKED {
            self.ended = Some(End::Read(seen));
        } else {
            self.odd = Some(seen);
            self.repeat(&seen, now, out);
        }
    }

    fn ask_again(&mut self, seen: &Observation, now: Stamp, aim: Aim<'_>, out: &mut Outbox) {
        let band = self.plan.told_band(aim.meter, Some(seen));
        let prompt = format!(
            "{}, {band} expected. Set it again and lift the probes between: {} Press Enter when \
             it is set.",
            read(seen),
            self.plan.prompt
        );
        self.asked += 1;
        self.ask(prompt, Phase::Confirm, now, out);
    }

    /// It reads within its band, and so did what was taken before: only a word can tell.
    fn hint(&mut self, seen: &Observation, out: &mut Outbox) {
        self.hinted = true;
        out.say(Notice::Step(StepBegins {
            step: self.plan.name.clone(),
            wants: Wants::Value,
            prompt: format!(
                "{} {} as before: press Enter if it is set.",
                self.plan.prompt,
                read(seen)
            ),
        }));
    }

    fn repeat(&mut self, seen: &Observation, now: Stamp, out: &mut Outbox) {
        let prompt = format!(
            "{}. Once more, the probes lifted between: {} Press Enter when it is set.",
            read(seen),
            self.plan.prompt
        );
        self.asked += 1;
        self.ask(prompt, Phase::Confirm, now, out);
    }

    /// What the last readings show, if they have come to rest.
    fn at_rest(&mut self, now: Stamp, aim: Aim<'_>) -> Option<Observation> {
        let (count, time) = AT_REST;
        // As many as rest needs and no more, so that what went before is forgotten.
        while self.window.len() > count
            && self
                .window
                .get(1)
                .is_some_and(|second| now.since(second.at) >= time)
        {
            self.window.remove(0);
        }
        let first = self.window.first()?;
        if self.window.len() < count || now.since(first.at) < time {
            return None;
        }
        is_still(&self.window).then(|| self.observed(aim))?
    }

    /// The median of the window; over-range if it mostly was.
    fn observed(&self, aim: Aim<'_>) -> Option<Observation> {
        let all = self.window.iter().map(|reading| &reading.measured);
        let numbers: Vec<f64> = all.clone().filter_map(|m| Some(m.ohms()?.0)).collect();
        let step = all
            .clone()
            .filter_map(Measured::resolution_value)
            .reduce(f64::max);
        if numbers.len() * 2 > self.window.len() {
            let median = Baseline::of(&numbers, step)?.median;
            return Some(Observation {
                resolution: step.unwrap_or(0.0),
                ..Observation::once(Seen::Ohms(median.0 - aim.tare))
            });
        }
        let last = all
            .rev()
            .find(|m| matches!(m.magnitude, Magnitude::Over { .. }))?;
        let beyond = aim.facts.full_scale(last).map(|Ohms(ohms)| ohms);
        Some(Observation::once(Seen::Over { beyond }))
    }
}

/// Whether readings stand still: within three digits, half a percent or a tenth of an ohm.
fn is_still(window: &[Reading]) -> bool {
    let numbers: Vec<f64> = window
        .iter()
        .filter_map(|reading| Some(reading.measured.ohms()?.0))
        .collect();
    if numbers.len() != window.len() {
        let mut steps = window.iter().map(|reading| reading.measured.resolution);
        let first = steps.next();
        return numbers.is_empty() && steps.all(|step| Some(step) == first);
    }
    let low = numbers.iter().copied().fold(f64::INFINITY, f64::min);
    let high = numbers.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let step = window
        .iter()
        .filter_map(|reading| reading.measured.resolution_value())
        .fold(0.0, f64::max);
    high - low <= (3.0 * step).max(0.005 * high.abs()).max(0.1)
}
