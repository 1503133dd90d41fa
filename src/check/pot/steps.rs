//! How the steps of a control's check begin, wait and end.

use crate::check::Outbox;
use crate::check::meter::MeterView;
use crate::check::notice::{
    Disturbance, DisturbanceKind, Finding, Notice, Phase, Proof, StepResult, Verdict,
};
use crate::check::pot::circuit::Circuit;
use crate::check::pot::judge::{self, Judgement, Known};
use crate::check::pot::marks::Marks;
use crate::check::pot::options::{Place, ToldLaw};
use crate::check::pot::stage::{Kind, Stage};
use crate::check::pot::sweeping::{Demand, Sweeping};
use crate::check::pot::total::AtRest;
use crate::check::pot::view::{Swept, TrackView, curve};
use crate::check::pot::{Doing, Now, Pot, longer, words};
use crate::circuit::control::{Tolerance, candidates};
use crate::reading::{Magnitude, Ohms, Reading, Seconds, Stamp};
use crate::signal::Track;
use crate::signal::sweep::{Event, EventKind};

impl Pot {
    /// What a step begins with; none if nothing is known to reckon with.
    pub(super) fn doing(&self, stage: &Stage, at: Stamp) -> Option<(Doing, Phase)> {
        let demand = Demand {
            passes: self.options.passes,
            zone: self.options.zone,
            tare: self.options.tare,
        };
        let circuit = match (stage.kind, self.options.place) {
            (Kind::Total, _) => {
                let rest = if self.results.is_empty() || self.apart {
                    AtRest::default()
                } else {
                    AtRest::after_lifting()
                };
                return Some((Doing::Total(rest), Phase::Waiting));
            }
            (Kind::Law, _) => return Some((Doing::Law(Marks::default()), Phase::Confirm)),
            (Kind::Sweep(lug), _) => {
                let nominal = self.options.nominal.map(|control| control.nominal);
                let gang = stage.gang.map_or(0, |gang| gang.saturating_sub(1));
                let at = usize::try_from(gang).unwrap_or(0);
                Circuit::lugs(self.totals.get(at).copied().or(nominal)?, lug)
            }
            (
                Kind::Jack,
                Place::Jack {
                    wiring,
                    total,
                    pickup,
                },
            ) => Circuit::jack(wiring, total, pickup),
            (Kind::Jack, Place::Bench(_)) => return None,
        };
        let sweep = Sweeping::new(circuit, demand, at);
        Some((Doing::Sweep(Box::new(sweep)), Phase::Waiting))
    }

    /// When the step last showed life.
    pub(super) fn last_sign(&self, now: &Now) -> Stamp {
        match &now.doing {
            Doing::Sweep(sweep) if sweep.moving => {
                let contact = sweep.last_contact.unwrap_or(now.since);
                let stood = sweep.stands_for(contact);
                let moved = contact.micros().saturating_sub(stood.micros());
                Stamp::from_micros(moved)
                    + Seconds(longer(self.options.wait).0 - self.options.wait.0)
            }
            _ => now.since,
        }
    }

    /// Nothing came in the time a step waits.
    pub(super) fn waited(&mut self, at: Stamp, out: &mut Outbox) {
        let wiring = self.wiring();
        let passes = self.options.passes;
        let Some(now) = &mut self.now else { return };
        now.since = at;
        let again = std::mem::replace(&mut now.asked_again, true);
        if !again {
            if let Some(stage) = self.stage() {
                let ask = words::ask(stage, passes, wiring);
                self.prompt(ask, out);
            }
            return;
        }
        match &mut now.doing {
            Doing::Total(rest) if !rest.in_contact() => self.total_open(at, out),
            Doing::Total(_) => {
                let why = "the reading never came to rest: hold the probes still on the lugs";
                self.give_up(why, at, out);
            }
            Doing::Law(_) => self.give_up("the marks were not confirmed", at, out),
            Doing::Sweep(sweep) => {
                let mut said = Vec::new();
                sweep.finish(at, &mut said);
                self.obey(said, at, out);
            }
        }
    }

    fn give_up(&mut self, why: &str, at: Stamp, out: &mut Outbox) {
        let mut judgement = Judgement::new();
        judgement.because(Verdict::Retest, why.to_owned());
        self.done(judgement, (None, Proof::Seen, 0.0, None), at, out);
    }

    /// Files the result of the step under way and begins the next.
    fn done(
        &mut self,
        judgement: Judgement,
        (ohms, proof, coverage, finding): (Option<Ohms>, Proof, f64, Option<Finding>),
        at: Stamp,
        out: &mut Outbox,
    ) {
        let Some(step) = self.stage().map(|stage| stage.name.clone()) else {
            return;
        };
        let result = StepResult {
            step,
            verdict: judgement.verdict,
            ohms,
            proof,
            finding,
            coverage,
            reasons: judgement.reasons,
        };
        self.findings.extend(judgement.findings);
        self.results.push(result.clone());
        out.say(Notice::StepDone(result));
        self.next_step(at, out);
    }

    /// The total came to rest.
    pub(super) fn total_over(&mut self, total: Ohms, at: Stamp, out: &mut Outbox) {
        let mut judgement = Judgement::new();
        match self.options.nominal {
            Some(control) => {
                let band = control.band();
                let off = 100.0 * control.deviation(total);
                let said = format!(
                    "total {total}, {off:+.1} % off {}, {} to {} allowed",
                    control.nominal, band.from, band.to
                );
                if band.holds(total) {
                    judgement.reasons.push(said);
                } else {
                    judgement.findings.push(said.clone());
                    judgement.because(Verdict::Fail, said);
                }
            }
            None => judgement.reasons.push(unmarked(total)),
        }
        self.totals.push(total);
        self.done(judgement, (Some(total), Proof::Seen, 1.0, None), at, out);
    }

    /// Nothing connects the outer lugs, on the operator's word or after waiting twice.
    pub(super) fn total_open(&mut self, at: Stamp, out: &mut Outbox) {
        let mut judgement = Judgement::new();
        let low_scale = match &self.now {
            Some(Now {
                doing: Doing::Total(rest),
                ..
            }) => rest.low_scale,
            _ => None,
        };
        if let (Some(scale), Some(control)) = (low_scale, self.options.nominal) {
            let why = words::range_too_low(scale, control.band().to);
            judgement.because(Verdict::Retest, why);
            return self.done(judgement, (None, Proof::Operator, 0.0, None), at, out);
        }
        let said = "open from outer lug to outer lug: the track is cracked, or a lug is loose";
        judgement.findings.push(said.to_owned());
        judgement.because(Verdict::Fail, said.to_owned());
        let open = (None, Proof::Operator, 0.0, Some(Finding::Open));
        self.done(judgement, open, at, out);
    }

    /// Over-range while the total is wanted: the range may be too low for it.
    pub(super) fn range_for_total(
        &mut self,
        reading: &Reading,
        meter: &MeterView,
        out: &mut Outbox,
    ) {
        /// An open probe reads over-range too; this long it is worth a word.
        const LONG: Seconds = Seconds(6.0);
        let Some(control) = self.options.nominal else {
            return;
        };
        let scale = meter.facts.full_scale(&reading.measured);
        let over = matches!(reading.measured.magnitude, Magnitude::Over { .. });
        let Some(scale) = scale.filter(|scale| over && *scale < control.band().to) else {
            return;
        };
        let Some(Now {
            doing: Doing::Total(rest),
            asked_again,
            ..
        }) = &mut self.now
        else {
            return;
        };
        rest.low_scale = Some(scale);
        if !*asked_again && rest.over_for(reading.at).is_some_and(|long| long >= LONG) {
            *asked_again = true;
            self.prompt(words::range_too_low(scale, control.band().to), out);
        }
    }

    /// All marks are confirmed.
    pub(super) fn law_over(&mut self, at: Stamp, out: &mut Outbox) {
        let told = match &self.now {
            Some(Now {
                doing: Doing::Law(marks),
                ..
            }) if marks.complete() => marks.told(),
            _ => None,
        };
        let mut judgement = Judgement::new();
        match told {
            Some(ToldLaw { at_half, reading }) => judgement.reasons.push(format!(
                "{:.0} % of the total at half the turn: {}",
                100.0 * at_half,
                reading.words()
            )),
            None => judgement.because(
                Verdict::Retest,
                "the marks do not rise from zero to full: the probes belong on the wiper and on \
                 the lug it reaches when turned down"
                    .to_owned(),
            ),
        }
        self.halves.extend(told.map(|told| told.at_half));
        self.law = told;
        self.done(judgement, (None, Proof::Operator, 1.0, None), at, out);
    }

    fn judged(
        &self,
        sweep: &Sweeping,
    ) -> (Judgement, (Option<Ohms>, Proof, f64, Option<Finding>)) {
        if sweep.last_contact.is_none() && sweep.range_trouble.is_none() {
            let mut judgement = Judgement::new();
            let said =
                "no contact from wiper to lug anywhere: the wiper is open, or a probe was off";
            judgement.findings.push(said.to_owned());
            judgement.because(Verdict::Fail, said.to_owned());
            return (judgement, (None, Proof::Operator, 0.0, Some(Finding::Open)));
        }
        let known = Known {
            law: self.law.as_ref().and_then(ToldLaw::law),
            detents: self.options.detents,
        };
        let judgement = judge::judge(sweep, known);
        let ohms = sweep.circuit.track().map(Track::total);
        let coverage = judge::coverage(sweep.analysis.as_ref());
        (judgement, (ohms, Proof::Seen, coverage, None))
    }

    /// A sweep has ended.
    pub(super) fn sweep_over(&mut self, at: Stamp, out: &mut Outbox) {
        let Some(Now {
            doing: Doing::Sweep(sweep),
            ..
        }) = self.now.take()
        else {
            return;
        };
        let (judgement, found) = self.judged(&sweep);
        if let Some(stage) = self.stage() {
            self.swept.push((stage.name.clone(), sweep));
        }
        self.done(judgement, found, at, out);
    }

    /// The step under way, as far as it got.
    pub(super) fn unfinished(&self) -> Option<StepResult> {
        let Doing::Sweep(sweep) = &self.now.as_ref()?.doing else {
            return None;
        };
        let step = self.stage()?.name.clone();
        let analysis = sweep.analysis.as_ref()?;
        let verdict = Verdict::Retest;
        Some(StepResult {
            step,
            verdict,
            ohms: sweep.circuit.track().map(Track::total),
            proof: Proof::Seen,
            finding: None,
            coverage: judge::coverage(Some(analysis)),
            reasons: vec![format!("ended early: {}", judge::headline(analysis))],
        })
    }

    /// What a screen shows.
    pub(super) fn track_view(&self) -> TrackView<'_> {
        let under_way = self.now.as_ref();
        let sweep = match under_way.map(|now| &now.doing) {
            Some(Doing::Sweep(sweep)) => Some(sweep.as_ref()),
            Some(_) => None,
            None => self.swept.last().map(|(_, sweep)| sweep.as_ref()),
        };
        let phase = under_way.map_or(Phase::Waiting, |now| now.phase);
        let headline = match under_way.map(|now| (&now.doing, now.phase)) {
            Some((Doing::Total(_), Phase::Waiting)) => "OUTER LUGS",
            Some((Doing::Total(_), _)) => "HOLD STILL",
            Some((Doing::Law(_), _)) => "PRESS ENTER",
            Some((Doing::Sweep(sweep), Phase::Sweeping)) if sweep.advice.is_some() => "SLOWER",
            Some((Doing::Sweep(sweep), Phase::Sweeping)) => {
                let (up, down) = sweep.asked;
                if up <= down { "TURN UP" } else { "TURN DOWN" }
            }
            Some((Doing::Sweep(_), Phase::Settling)) => "TURN IT DOWN",
            Some((Doing::Sweep(_), _)) => "PROBES ON",
            None => "DONE",
        };
        TrackView {
            step: under_way.map(|_| self.results.len()),
            phase,
            headline,
            position: sweep.and_then(|sweep| sweep.position),
            advice: sweep.and_then(|sweep| sweep.advice.as_deref()),
            analysis: sweep.and_then(|sweep| sweep.analysis.as_ref()),
            curve: curve(sweep.and_then(|sweep| sweep.circuit.track())),
            needed: sweep.map_or(self.options.passes, |sweep| sweep.needed),
            swept: self.swept_views(),
        }
    }

    fn swept_views(&self) -> Vec<Swept<'_>> {
        self.swept
            .iter()
            .filter_map(|(step, sweep)| {
                Some(Swept {
                    step: step.as_str(),
                    analysis: sweep.analysis.as_ref()?,
                    total: sweep.circuit.track()?.total(),
                })
            })
            .collect()
    }
}

/// A total with nothing marked to compare it with.
fn unmarked(total: Ohms) -> String {
    let usual: Vec<String> = candidates(total, Tolerance::USUAL)
        .iter()
        .map(ToString::to_string)
        .collect();
    let fits = match usual.as_slice() {
        [] => "no usual control reads so".to_owned(),
        some => format!("within 20 % of {}", some.join(" and ")),
    };
    format!("total {total}: {fits}; give --value to have it judged")
}

/// An event of the sweep as the contract tells it.
pub(super) fn disturbance(stage: &Stage, event: &Event) -> Disturbance {
    Disturbance {
        kind: match event.kind {
            EventKind::Break => DisturbanceKind::Break,
            EventKind::Flicker => DisturbanceKind::Flicker,
            EventKind::Jump => DisturbanceKind::Jump,
            EventKind::NoisyZone | EventKind::Dip | EventKind::Flat => {
                DisturbanceKind::NoisyZone
            }
        },
        step: stage.name.clone(),
        from: event.from,
        to: event.to,
        at_least: event.at_least,
        at_most: event.at_most,
        ohms: event.ohms.map(Ohms),
    }
}
