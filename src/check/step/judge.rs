//! What the evidence of one step amounts to, and the words for it.

use crate::check::notice::{Proof, Verdict};
use crate::check::step::plan::{Limit, Reach, StepPlan};
use crate::check::step::rest::{OpenLevel, Rest, shows_contact};
use crate::check::step::{Context, Found};
use crate::reading::{Measured, Ohms, Seconds};
use crate::signal::{rate_bound, shown_chance};

/// More separate breaks than this in one step end it at once.
pub(super) const MANY: usize = 2;
/// Times a go begins again because contact was lost or the level moved, before the step ends.
pub(super) const MOST_RESTARTS: u32 = 2;
/// A tared value further below zero than this many counts means the tare no longer holds.
const BELOW_ZERO_COUNTS: f64 = 2.0;

/// A verdict with its reasons.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judgement {
    pub(super) verdict: Verdict,
    pub(super) coverage: f64,
    pub(super) reasons: Vec<String>,
}

impl Judgement {
    fn of(verdict: Verdict, reason: String) -> Self {
        Self {
            verdict,
            coverage: 0.0,
            reasons: vec![reason],
        }
    }

    fn worsen(&mut self, verdict: Verdict, reason: String) {
        self.verdict = self.verdict.max(verdict);
        self.reasons.push(reason);
    }
}

/// What a step has seen so far.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    pub(super) proof: Proof,
    pub(super) rest: Option<Rest>,
    pub(super) value: Option<Judgement>,
    pub(super) gaps: Vec<Found>,
    pub(super) gos: u32,
    pub(super) second_go: bool,
    pub(super) held: u32,
    pub(super) needed: u32,
    pub(super) lowest: Option<Ohms>,
    /// Times contact was lost for longer than a bend.
    pub(super) lifts: u32,
    /// Times the level changed and stayed so while bent.
    pub(super) jumps: u32,
    /// Times contact was lost while reading at rest.
    pub(super) bounces: u32,
    pub(super) flags: Flags,
}

/// What spoiled a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flags(u8);

impl Flags {
    /// The reading never came to rest.
    pub(super) const RESTLESS: u8 = 1;
    /// Too many bends could not be watched.
    pub(super) const UNWATCHED: u8 = 2;
    /// The probes were not lifted when asked.
    pub(super) const LEFT_ON: u8 = 4;

    pub(super) const fn set(&mut self, flag: u8) {
        self.0 |= flag;
    }

    pub(super) const fn has(self, flag: u8) -> bool {
        self.0 & flag != 0
    }
}

impl Default for Evidence {
    fn default() -> Self {
        Self {
            proof: Proof::Seen,
            rest: None,
            value: None,
            gaps: Vec::new(),
            gos: 0,
            second_go: false,
            held: 0,
            needed: 0,
            lowest: None,
            lifts: 0,
            jumps: 0,
            bounces: 0,
            flags: Flags::default(),
        }
    }
}

impl Evidence {
    /// Separate occurrences: gaps in the same bend are one.
    pub(super) fn occurrences(&self) -> usize {
        let mut bends: Vec<(u32, u32)> = self.gaps.iter().map(|f| (f.go, f.bend)).collect();
        bends.dedup();
        bends.len()
    }

    /// Times a go of flexing had to begin again.
    pub(super) const fn restarts(&self) -> u32 {
        self.lifts.saturating_add(self.jumps)
    }

    /// Whether a single occurrence should now be given the chance to come again.
    pub(super) const fn second_go_due(&self) -> bool {
        !self.second_go
    }

    /// The resistance at rest, tare taken off; none if there was no number.
    pub(super) fn ohms(&self, tare: Option<Ohms>) -> Option<Ohms> {
        match self.rest.as_ref()? {
            Rest::Closed(rest) => Some(Ohms(rest.raw.0 - tare.unwrap_or_default().0)),
            Rest::Open(rest) => match rest.level {
                OpenLevel::Reads(ohms) => Some(ohms),
                OpenLevel::MoreThan(_) => None,
            },
        }
    }

    /// The verdict on everything seen.
    pub(super) fn judge(&self, plan: &StepPlan, context: Context<'_>) -> Judgement {
        let mut judgement = self.value.clone().unwrap_or_else(|| {
            Judgement::of(Verdict::Retest, "nothing was read at rest".to_owned())
        });
        if self.flags.has(Flags::RESTLESS) {
            judgement.worsen(Verdict::Retest, "the reading never came to rest".to_owned());
        }
        if let Some(Rest::Closed(rest)) = &self.rest
            && rest.is_too_noisy()
        {
            let text = format!(
                "the reading at rest wanders by {}: a poor contact would drown in it; fix the \
                 meter's range or find what it picks up",
                rest.spread
            );
            judgement.worsen(Verdict::Retest, text);
        }
        if plan.flexed && judgement.verdict != Verdict::Fail {
            self.judge_gaps(plan, &mut judgement);
            self.judge_lowest(plan, &mut judgement);
            self.judge_coverage(plan, context, &mut judgement);
        }
        judgement
    }

    fn judge_gaps(&self, plan: &StepPlan, judgement: &mut Judgement) {
        let (opening, opened) = match plan.limit {
            Limit::Closed { .. } => ("opening", "opened"),
            Limit::Open { .. } => ("touch", "touched"),
        };
        let longest = self.longest_gap();
        let again = self.occurrences() + usize::from(self.restarts() > 0);
        match self.occurrences() {
            0 => {}
            1 if again > 1 => judgement.worsen(
                Verdict::Fail,
                format!("{opened} at a bend ({longest}), and was lost for longer in another"),
            ),
            1 if self.second_go => judgement.worsen(
                Verdict::Retest,
                format!("{opened} once ({longest}) and not again in a second go"),
            ),
            1 => judgement.worsen(
                Verdict::Retest,
                format!("a single {opening} ({longest}), not repeated"),
            ),
            times => judgement.worsen(
                Verdict::Fail,
                format!("{opened} at {times} separate bends, the longest {longest}"),
            ),
        }
        self.judge_restarts(judgement);
    }

    /// Losses that outlasted the bends. One or two may be the operator's hand; one more, each
    /// time while bent and never at rest, is the work.
    fn judge_restarts(&self, judgement: &mut Judgement) {
        let verdict = if self.restarts() > MOST_RESTARTS {
            Verdict::Fail
        } else {
            Verdict::Retest
        };
        if self.lifts > 0 {
            let times = counted(self.lifts);
            let reason = if verdict == Verdict::Fail {
                format!(
                    "contact was lost {times} while bent, each time for longer than the bend, and \
                     held each time at rest"
                )
            } else {
                format!(
                    "contact was lost {times} for longer than a bend: a lifted probe or a parted \
                     conductor, which readings cannot tell apart"
                )
            };
            judgement.worsen(verdict, reason);
        }
        if self.jumps > 0 {
            judgement.worsen(
                verdict,
                format!(
                    "the level moved {} while bent and stayed there: a joint or the probes' hold",
                    counted(self.jumps)
                ),
            );
        }
    }

    fn longest_gap(&self) -> String {
        self.gaps
            .iter()
            .map(|found| found.gap)
            .max_by(|a, b| a.at_most().0.total_cmp(&b.at_most().0))
            .map_or_else(String::new, |gap| {
                format!("{} to {}", gap.at_least(), gap.at_most())
            })
    }

    fn judge_lowest(&self, plan: &StepPlan, judgement: &mut Judgement) {
        if let (Limit::Open { pass, fail }, Some(lowest)) = (&plan.limit, self.lowest)
            && lowest < *pass
            && lowest >= *fail
            && judgement.verdict == Verdict::Pass
        {
            judgement.worsen(
                Verdict::Retest,
                format!("fell to {lowest} while bent, below the {pass} wanted"),
            );
        }
    }

    fn judge_coverage(&self, plan: &StepPlan, context: Context<'_>, judgement: &mut Judgement) {
        let Context { meter, pace, .. } = context;
        let fraction = self.rest.as_ref().and_then(Rest::fraction);
        let Some(spot) = meter.blind_spot(fraction) else {
            judgement.worsen(
                Verdict::Retest,
                "the time between readings is not known yet".to_owned(),
            );
            return;
        };
        let goal = pace.goal;
        let chance = spot.chance(goal.momentary);
        judgement.coverage = shown_chance(chance, self.held);
        if self.flags.has(Flags::UNWATCHED) {
            judgement.worsen(
                Verdict::Retest,
                format!(
                    "only {} of {} bends were watched to the end: readings were missing",
                    self.held, self.needed
                ),
            );
            return;
        }
        match goal.flexes(chance) {
            None => judgement.worsen(
                Verdict::Retest,
                format!(
                    "an opening of {} cannot show on this meter at all: no number of bends helps",
                    goal.momentary
                ),
            ),
            Some(needed) if judgement.verdict < Verdict::Fail => {
                if self.held < needed {
                    judgement.worsen(
                        Verdict::Retest,
                        format!("{} bends held, {needed} needed at this meter's rate", self.held),
                    );
                } else if self.gaps.is_empty() && self.restarts() == 0 {
                    judgement.reasons.push(clean(plan, self.held, chance, goal.momentary));
                }
            }
            Some(_) => {}
        }
    }
}

/// Once, twice, 3 times.
fn counted(times: u32) -> String {
    match times {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        times => format!("{times} times"),
    }
}

/// The sentence for a clean go.
fn clean(plan: &StepPlan, held: u32, chance: f64, gap: Seconds) -> String {
    let (what, seen) = match plan.limit {
        Limit::Closed { .. } => ("steady", "opens"),
        Limit::Open { .. } => ("apart", "touches"),
    };
    let bound = rate_bound(chance, held, 0.95);
    format!(
        "{what} through {held} bends; if it {seen} for {gap} at a bend, it does so at fewer than \
         {:.0} in 100 (95 %)",
        (bound * 100.0).ceil()
    )
}

/// The verdict on the value at rest alone.
pub(super) fn value(plan: &StepPlan, rest: &Rest, tare: Option<Ohms>) -> Judgement {
    match (&plan.limit, rest) {
        (Limit::Closed { pass, fail, basis }, Rest::Closed(rest)) => {
            let ohms = Ohms(rest.raw.0 - tare.unwrap_or_default().0);
            let slack = rest
                .step
                .map_or(0.0, |step| step.0 * BELOW_ZERO_COUNTS)
                .max(0.05);
            if ohms.0 < -slack {
                Judgement::of(
                    Verdict::Retest,
                    format!("reads {ohms} after tare, below zero: take the tare again"),
                )
            } else if ohms > *fail {
                Judgement::of(
                    Verdict::Fail,
                    format!("reads {ohms} where at most {pass} is right ({basis})"),
                )
            } else if ohms > *pass {
                Judgement::of(
                    Verdict::Retest,
                    format!(
                        "reads {ohms}, above the {pass} wanted ({basis}) but not above {fail}: \
                         clean the contacts and measure again"
                    ),
                )
            } else {
                Judgement::of(
                    Verdict::Pass,
                    format!("closed at {ohms}, at most {pass} wanted ({basis})"),
                )
            }
        }
        (Limit::Open { pass, fail }, Rest::Open(rest)) => open_value(*pass, *fail, rest.level),
        _ => Judgement::of(Verdict::Retest, "nothing was read at rest".to_owned()),
    }
}

fn open_value(pass: Ohms, fail: Ohms, level: OpenLevel) -> Judgement {
    /// Below this two conductors are simply joined (common practice, no source).
    const SHORT: Ohms = Ohms(10.0);
    match level {
        OpenLevel::MoreThan(Some(scale)) if scale >= pass => Judgement::of(
            Verdict::Pass,
            format!("open: more than {scale}, at least {pass} wanted"),
        ),
        OpenLevel::MoreThan(Some(scale)) => Judgement::of(
            Verdict::Retest,
            format!(
                "over-range on a range of {scale} proves only more than that, and {pass} is \
                 wanted: set the meter to its highest ohms range or to auto"
            ),
        ),
        OpenLevel::MoreThan(None) => Judgement::of(
            Verdict::Retest,
            "over-range proves only more than the selected range, and the range is not known: \
             give it with --range"
                .to_owned(),
        ),
        OpenLevel::Reads(ohms) if ohms >= pass => Judgement::of(
            Verdict::Pass,
            format!("apart: reads {ohms}, at least {pass} wanted"),
        ),
        OpenLevel::Reads(ohms) if ohms >= fail => Judgement::of(
            Verdict::Retest,
            format!(
                "leakage: reads {ohms} where {pass} is wanted; keep fingers off the probe tips, \
                 dry and clean the plugs, and measure again"
            ),
        ),
        OpenLevel::Reads(ohms) if ohms < SHORT => Judgement::of(
            Verdict::Fail,
            format!("shorted: reads {ohms} where nothing should connect"),
        ),
        OpenLevel::Reads(ohms) => Judgement::of(
            Verdict::Fail,
            format!("reads {ohms} where at least {pass} is wanted"),
        ),
    }
}

/// The verdict on a step whose contact never came, was never lifted, or was never confirmed.
pub(super) fn never_came(
    plan: &StepPlan,
    loop_seen: bool,
    last: Option<&Measured>,
) -> Judgement {
    let shown = last
        .and_then(Measured::ohms)
        .map_or_else(|| "over-range".to_owned(), |ohms| ohms.to_string());
    match plan.reach {
        Reach::Touch if last.is_some() => Judgement::of(
            Verdict::Fail,
            format!("open: {shown} where a closed conductor is wanted"),
        ),
        Reach::Touch => Judgement::of(Verdict::Retest, "no reading came".to_owned()),
        Reach::PullShort if loop_seen && last.is_some_and(shows_contact) => Judgement::of(
            Verdict::Fail,
            format!("still closed at {shown} with the far-end plug out"),
        ),
        Reach::PullShort => Judgement::of(
            Verdict::Retest,
            "the closed loop was not seen first, so nothing proves that the probes were on"
                .to_owned(),
        ),
        Reach::Confirm => Judgement::of(
            Verdict::Retest,
            "nobody confirmed that the probes were on, and probes in the air read open as well"
                .to_owned(),
        ),
    }
}

/// The verdict on a contact that is lost again and again with nothing being bent.
pub(super) fn will_not_hold() -> Judgement {
    Judgement::of(
        Verdict::Retest,
        "contact would not hold long enough to read at rest: clip the probes on".to_owned(),
    )
}

/// The prompt when a step asks a second time.
pub(super) fn ask_again(plan: &StepPlan, loop_seen: bool) -> String {
    match plan.reach {
        Reach::Touch => {
            format!(
                "No contact yet. {} If the probes are on, press Enter.",
                plan.prompt
            )
        }
        Reach::PullShort if loop_seen => {
            format!("Still closed. {} If it is out, press Enter.", plan.prompt)
        }
        Reach::PullShort => {
            "Put the shorting plug back and touch tip and sleeve again.".to_owned()
        }
        Reach::Confirm => format!("Waiting for Enter. {}", plan.prompt),
    }
}

/// The prompt after contact was lost for longer than a bend.
pub(super) fn contact_lost(plan: &StepPlan) -> String {
    format!(
        "Contact lost: lifted probe or parted conductor? {} If the probes are still on, press \
         Enter.",
        plan.prompt
    )
}
