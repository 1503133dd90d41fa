//! A control turned from end to end: its total, its track, its ends, and its law where the
//! operator marks the turn.
//!
//! The hands are on the probes and the knob, so a sweep begins when the reading moves, counts
//! its own passes and ends by itself; something seen once gets a second go.
//!
//! Where it lies: places are parts of the resistance, and parts of the turn only where the law
//! was marked; through the jack a tone control is invisible, an added resistor (a treble bleed)
//! bends the curve, and what the meter's rate did not show is not known to be good.

mod circuit;
mod crack;
mod judge;
mod leaps;
mod marks;
mod options;
mod rest;
mod stage;
mod steps;
mod sweeping;
mod total;
mod view;
mod words;

pub use judge::headline;
pub use options::{BenchPlan, Gangs, Place, PotOptions, ToldLaw};
pub use view::{Swept, TrackView};

use crate::check::meter::MeterView;
use crate::check::notice::{
    CheckResult, Notice, Phase, StepBegins, StepName, StepResult, Verdict,
};
use crate::check::{Check, CheckView, Outbox, StepView};
use crate::circuit::control::{Wiring, gang_mismatch, letter_sentence};
use crate::reading::{Magnitude, Ohms, Reading, Seconds, Stamp};
use crate::signal::sweep::Analysis;
use marks::Marks;
use stage::{Stage, stages};
use sweeping::{Said, Sweeping};
use total::AtRest;

/// The check's name in the command contract.
pub const NAME: &str = "pot";

/// A control under check.
#[derive(Debug)]
pub struct Pot {
    options: PotOptions,
    stages: Vec<Stage>,
    now: Option<Now>,
    results: Vec<StepResult>,
    findings: Vec<String>,
    totals: Vec<Ohms>,
    law: Option<ToldLaw>,
    /// The part of the total at half the turn, of each gang.
    halves: Vec<f64>,
    /// The sweeps that are over, by their steps.
    swept: Vec<(StepName, Box<Sweeping>)>,
    /// The last reading was over-range, or there was none.
    apart: bool,
    /// Why nothing after this counts.
    void: Option<String>,
}

/// The step under way.
#[derive(Debug)]
struct Now {
    phase: Phase,
    /// When the step was last asked for.
    since: Stamp,
    asked_again: bool,
    doing: Doing,
}

#[derive(Debug)]
enum Doing {
    Total(AtRest),
    Law(Marks),
    Sweep(Box<Sweeping>),
}

impl Pot {
    /// A check of one control.
    pub fn new(options: PotOptions) -> Self {
        Self {
            stages: stages(&options),
            options,
            now: None,
            results: Vec::new(),
            findings: Vec::new(),
            totals: Vec::new(),
            law: None,
            halves: Vec::new(),
            swept: Vec::new(),
            apart: true,
            void: None,
        }
    }

    /// What the last sweep showed.
    pub fn analysis(&self) -> Option<&Analysis> {
        let under_way = self.now.as_ref().and_then(|now| match &now.doing {
            Doing::Sweep(sweep) => sweep.analysis.as_ref(),
            Doing::Total(_) | Doing::Law(_) => None,
        });
        under_way.or_else(|| self.swept.last()?.1.analysis.as_ref())
    }

    fn stage(&self) -> Option<&Stage> {
        self.stages.get(self.results.len())
    }

    const fn wiring(&self) -> Option<Wiring> {
        match self.options.place {
            Place::Jack { wiring, .. } => Some(wiring),
            Place::Bench(_) => None,
        }
    }

    fn prompt(&self, prompt: String, out: &mut Outbox) {
        if let Some(stage) = self.stage() {
            out.say(Notice::Step(StepBegins {
                step: stage.name.clone(),
                wants: stage.wants(),
                prompt,
            }));
        }
    }

    fn phase(&mut self, phase: Phase, out: &mut Outbox) {
        let Some(step) = self.stage().map(|stage| stage.name.clone()) else {
            return;
        };
        if let Some(now) = &mut self.now
            && now.phase != phase
        {
            now.phase = phase;
            out.say(Notice::Phase { step, phase });
        }
    }

    /// Begins the step that is next, or ends the check.
    fn next_step(&mut self, at: Stamp, out: &mut Outbox) {
        self.now = None;
        let Some(stage) = self.stage().cloned().filter(|_| self.void.is_none()) else {
            return;
        };
        let Some((doing, phase)) = self.doing(&stage, at) else {
            self.void = Some(
                "nothing is known of the total, so no place on the track can be told: give \
                 --value to sweep it all the same"
                    .to_owned(),
            );
            return;
        };
        self.prompt(words::ask(&stage, self.options.passes, self.wiring()), out);
        out.say(Notice::Phase {
            step: stage.name,
            phase,
        });
        self.now = Some(Now {
            phase,
            since: at,
            asked_again: false,
            doing,
        });
    }

    fn so_far(&self, results: Vec<StepResult>, meter: &MeterView) -> CheckResult {
        let verdict = results
            .iter()
            .map(|result| result.verdict)
            .max()
            .unwrap_or(Verdict::Retest);
        let mut reasons: Vec<String> = results
            .iter()
            .filter(|result| result.verdict == verdict)
            .flat_map(|result| {
                let step = &result.step;
                result
                    .reasons
                    .iter()
                    .map(move |reason| format!("{step}: {reason}"))
            })
            .collect();
        if let [one, other] = self.totals.as_slice() {
            reasons.push(format!(
                "the gangs' totals are {:.1} % apart ({one} and {other})",
                100.0 * gang_mismatch(*one, *other)
            ));
        }
        if let [one, other] = self.halves.as_slice() {
            reasons.push(format!(
                "at half the turn the gangs stand at {:.1} % and {:.1} %, {:.1} % of the total apart",
                100.0 * one,
                100.0 * other,
                100.0 * (one - other).abs()
            ));
        }
        reasons.extend(self.options.letter.and_then(letter_sentence));
        reasons.extend(self.options.total_not_held());
        let mut verdict = verdict;
        if let Some(void) = &self.void {
            verdict = verdict.max(Verdict::Retest);
            reasons.push(void.clone());
        } else if results.len() < self.stages.len() {
            verdict = verdict.max(Verdict::Retest);
        }
        CheckResult {
            check: NAME,
            verdict,
            reasons,
            findings: self.findings.clone(),
            not_covered: Some(self.not_covered()),
            steps: results,
            blind_spot: meter.blind_spot(None),
            meter_heard: true,
        }
    }

    fn not_covered(&self) -> String {
        let at_jack = match self.options.place {
            Place::Jack {
                wiring: Wiring::Standard,
                ..
            } => {
                "; a dead spot near the peak, where the reading hardly moves; the tone control, \
                 invisible at the jack"
            }
            Place::Jack { .. } => "; the tone control, invisible at the jack",
            Place::Bench(_) => "",
        };
        format!(
            "noise faster than half the meter's rate, and contact resistance variation as the \
             standards measure it{at_jack}"
        )
    }

    /// Does what a live sweep says.
    fn obey(&mut self, said: Vec<Said>, at: Stamp, out: &mut Outbox) {
        for word in said {
            match word {
                Said::Begun => self.phase(Phase::Sweeping, out),
                Said::Prompt(prompt) => self.prompt(prompt, out),
                Said::Event(event) => {
                    if let Some(stage) = self.stage() {
                        out.say(Notice::Disturbance(steps::disturbance(stage, &event)));
                    }
                }
                Said::Over => self.sweep_over(at, out),
            }
        }
    }
}

impl Check for Pot {
    fn name(&self) -> &'static str {
        NAME
    }

    fn begin(&mut self, now: Stamp, out: &mut Outbox) {
        self.next_step(now, out);
    }

    fn reading(&mut self, reading: &Reading, meter: &MeterView, out: &mut Outbox) {
        let tare = self.options.tare;
        match reading.measured.magnitude {
            Magnitude::Over { .. } => self.apart = true,
            Magnitude::Number(_) => self.apart = false,
            Magnitude::Blank => {}
        }
        let Some(now) = &mut self.now else { return };
        match &mut now.doing {
            Doing::Total(rest) => {
                let level = rest.feed(reading, tare);
                let settling = rest.in_contact();
                match level {
                    Some(level) => self.total_over(level, reading.at, out),
                    None if settling => self.phase(Phase::Settling, out),
                    None => self.range_for_total(reading, meter, out),
                }
            }
            Doing::Law(marks) => {
                marks.rest.feed(reading, tare);
            }
            Doing::Sweep(sweep) => {
                let contact = sweep.last_contact.is_some();
                let said = sweep.reading(reading, meter);
                let made = !contact && sweep.last_contact.is_some();
                if made {
                    self.phase(Phase::Settling, out);
                }
                self.obey(said, reading.at, out);
            }
        }
    }

    fn confirm(&mut self, at: Stamp, _meter: &MeterView, out: &mut Outbox) {
        let Some(now) = &mut self.now else { return };
        now.since = at;
        match &mut now.doing {
            Doing::Total(rest) => match rest.latest() {
                Some(level) => self.total_over(level, at, out),
                None => self.total_open(at, out),
            },
            Doing::Law(marks) => match marks.take() {
                Some(ask) => self.prompt(ask.to_owned(), out),
                None => self.law_over(at, out),
            },
            Doing::Sweep(sweep) => {
                let mut said = Vec::new();
                sweep.finish(at, &mut said);
                self.obey(said, at, out);
            }
        }
    }

    fn suspend(&mut self, _now: Stamp, _out: &mut Outbox) {
        self.missed();
        if let Some(Now {
            doing: Doing::Total(rest),
            ..
        }) = &mut self.now
        {
            rest.restart();
        }
    }

    fn resume(&mut self, now: Stamp, _meter: &MeterView, _out: &mut Outbox) {
        if let Some(under_way) = &mut self.now {
            under_way.since = now;
        }
    }

    fn missed(&mut self) {
        if let Some(Now {
            doing: Doing::Sweep(sweep),
            ..
        }) = &mut self.now
        {
            sweep.missed();
        }
    }

    fn due(&self) -> Option<Stamp> {
        let now = self.now.as_ref()?;
        Some(now.since.max(self.last_sign(now)) + self.options.wait)
    }

    fn time(&mut self, at: Stamp, _meter: &MeterView, out: &mut Outbox) {
        if self.due().is_some_and(|due| due <= at) {
            self.waited(at, out);
        }
    }

    fn result(&self, meter: &MeterView) -> Option<CheckResult> {
        let over = self.now.is_none() && !self.results.is_empty();
        over.then(|| self.so_far(self.results.clone(), meter))
    }

    fn cut_short(&self, why: &str, meter: &MeterView) -> CheckResult {
        let unfinished = self.unfinished();
        let results = self.results.iter().cloned().chain(unfinished).collect();
        let mut outcome = self.so_far(results, meter);
        outcome.verdict = outcome.verdict.max(Verdict::Retest);
        outcome.reasons.push(why.to_owned());
        outcome
    }

    fn view(&self) -> CheckView<'_> {
        let steps = self
            .stages
            .iter()
            .enumerate()
            .map(|(index, stage)| StepView {
                name: stage.name.clone(),
                wants: stage.wants(),
                result: self.results.get(index),
            })
            .collect();
        CheckView {
            steps,
            now: None,
            tare: (self.options.tare.0 > 0.0).then_some(self.options.tare),
            track: Some(self.track_view()),
        }
    }
}

/// Later of two times a step may wait for: hands need longer for a slow pass than for a touch.
const fn longer(wait: Seconds) -> Seconds {
    Seconds(2.0 * wait.0)
}
