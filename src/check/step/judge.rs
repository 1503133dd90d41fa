//! What the evidence of one step amounts to, and the words for it.

use crate::check::notice::{Finding, Proof, Verdict, Wants};
use crate::check::step::evidence::{Evidence, Flags};
use crate::check::step::plan::{Limit, StepPlan};
use crate::check::step::rest::{OpenLevel, Rest};
use crate::check::step::{Context, Found};
use crate::reading::{Ohms, Seconds};
use crate::signal::{Basis, BlindSpot, rate_bound, shown_chance};

/// More separate breaks than this in one step end it at once.
pub(super) const MANY: usize = 2;
/// Times a go begins again because contact was lost or the level moved, before the step ends.
pub(super) const MOST_RESTARTS: usize = 2;

/// A verdict with its reasons.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judgement {
    pub(super) verdict: Verdict,
    pub(super) coverage: f64,
    pub(super) reasons: Vec<String>,
    pub(super) finding: Option<Finding>,
}

impl Judgement {
    pub(super) fn of(verdict: Verdict, reason: String) -> Self {
        Self {
            verdict,
            coverage: 0.0,
            reasons: vec![reason],
            finding: None,
        }
    }

    /// The same, with what is wrong; the first finding stands.
    pub(super) const fn finding(mut self, finding: Finding) -> Self {
        self.find(finding);
        self
    }

    const fn find(&mut self, finding: Finding) {
        if self.finding.is_none() {
            self.finding = Some(finding);
        }
    }

    fn worsen(&mut self, verdict: Verdict, reason: String) {
        self.verdict = self.verdict.max(verdict);
        self.reasons.push(reason);
    }
}

impl Evidence {
    /// Separate occurrences: gaps in the same bend are one.
    pub(super) fn occurrences(&self) -> usize {
        let mut bends: Vec<(u32, u32)> = self.gaps.iter().map(bend_of).collect();
        bends.dedup();
        bends.len()
    }

    /// Times a go of flexing had to begin again.
    pub(super) fn restarts(&self) -> usize {
        self.lifts.len() + self.jumps.len()
    }

    /// Whether nothing was seen against the work.
    pub(super) fn is_clean(&self) -> bool {
        self.gaps.is_empty() && self.restarts() == 0
    }

    /// Whether something outlasted the bends in another bend than those with gaps.
    fn lost_in_another_bend(&self) -> bool {
        let gaps: Vec<(u32, u32)> = self.gaps.iter().map(bend_of).collect();
        self.lifts
            .iter()
            .chain(&self.jumps)
            .any(|found| !gaps.contains(&bend_of(found)))
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
                OpenLevel::Reads(ohms, _) => Some(ohms),
                OpenLevel::MoreThan(_) => None,
            },
        }
    }

    /// The verdict on everything seen.
    pub(super) fn judge(&self, plan: &StepPlan, context: Context<'_>) -> Judgement {
        let mut judgement = self.value.clone().unwrap_or_else(|| {
            Judgement::of(Verdict::Retest, "nothing was read at rest".to_owned())
        });
        judge_lowest(plan, (self.lowest_at_rest, "at rest"), &mut judgement);
        if self.flags.has(Flags::RESTLESS) {
            judgement.worsen(Verdict::Retest, "the reading never came to rest".to_owned());
        }
        if let Some(Rest::Closed(rest)) = &self.rest
            && rest.is_too_noisy()
        {
            let text = format!(
                "at rest a break would only show from {} up, for noise or for coarse digits: fix \
                 the meter's lowest range, or find what it picks up",
                rest.enter
            );
            judgement.worsen(Verdict::Retest, text);
        }
        self.tell_of_bounces(&mut judgement);
        if !plan.bends.is_empty() && judgement.verdict != Verdict::Fail {
            self.judge_gaps(plan, &mut judgement);
            judge_lowest(plan, (self.lowest, "while bent"), &mut judgement);
            self.judge_coverage(plan, context, &mut judgement);
        }
        if plan.wants() == Wants::Open
            && judgement.verdict == Verdict::Pass
            && let Some(first) = judgement.reasons.first_mut()
        {
            first.push_str(match self.proof {
                Proof::Seen => {
                    "; closed until the plug came out, so the probes were on until then"
                }
                Proof::Operator => "; that the probes were on is the operator's word",
            });
        }
        let value_was_good = self
            .value
            .as_ref()
            .is_some_and(|v| v.verdict == Verdict::Pass);
        if judgement.verdict != Verdict::Pass && value_was_good {
            // What was right about it comes last.
            judgement.reasons.rotate_left(1);
        }
        judgement
    }

    /// The verdict on a step that ends before it could be judged: what was seen stays counted.
    pub(super) fn cut_off(&self, plan: &StepPlan, why: String) -> Judgement {
        let mut judgement = Judgement::of(Verdict::Retest, why);
        self.judge_gaps(plan, &mut judgement);
        judgement
    }

    fn judge_gaps(&self, plan: &StepPlan, judgement: &mut Judgement) {
        let (opening, opened, finding) = match plan.limit {
            Limit::Closed { .. } => ("opening", "opened", Finding::OpensWhenBent),
            Limit::Open { .. } => ("touch", "touched", Finding::TouchesWhenBent),
        };
        if !self.gaps.is_empty() {
            judgement.find(finding);
        }
        let longest = self.longest_gap();
        match self.occurrences() {
            0 => {}
            1 if self.lost_in_another_bend() => judgement.worsen(
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
        if !self.lifts.is_empty() {
            judgement.find(match verdict {
                Verdict::Fail => Finding::OpensWhenBent,
                Verdict::Pass | Verdict::Retest => Finding::ContactLost,
            });
            let times = counted(self.lifts.len());
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
        if !self.jumps.is_empty() {
            judgement.find(Finding::LevelMoves);
            judgement.worsen(
                verdict,
                format!(
                    "the level moved {} while bent, for longer than the bend: a joint or the \
                     probes' hold",
                    counted(self.jumps.len())
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

    /// Contact that was lost before anything was bent may have been the hand; it is told.
    fn tell_of_bounces(&self, judgement: &mut Judgement) {
        if self.bounces > 0 && judgement.verdict != Verdict::Fail {
            judgement.reasons.push(format!(
                "contact was lost {} at rest, before it held",
                counted(usize::try_from(self.bounces).unwrap_or(usize::MAX))
            ));
        }
    }

    fn judge_coverage(&self, plan: &StepPlan, context: Context<'_>, judgement: &mut Judgement) {
        let Context { meter, pace, .. } = context;
        let lift = self.rest.as_ref().map(Rest::lift);
        let Some(spot) = meter.blind_spot(lift) else {
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
                    "only {} of {} bends were watched to the end: readings were missing, blank or \
                     garbled",
                    self.held, self.needed
                ),
            );
            return;
        }
        // Bends are paced for two whole readings; one is the least that proves anything.
        let one_reading = Seconds(spot.interval.0 + spot.aperture.0);
        if self.held > 0 && one_reading > self.hold {
            judgement.worsen(
                Verdict::Retest,
                format!(
                    "readings came slower while bending: bends were held {}, and {} are needed",
                    self.hold, one_reading
                ),
            );
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
                } else if self.is_clean() {
                    judgement.reasons.push(clean(plan, self.held, &spot, goal.momentary));
                }
            }
            Some(_) => {}
        }
    }
}

/// Conductors apart whose lowest reading is below what is wanted do not pass.
fn judge_lowest(
    plan: &StepPlan,
    (lowest, when): (Option<Ohms>, &str),
    judgement: &mut Judgement,
) {
    if let (Limit::Open { pass, .. }, Some(lowest)) = (&plan.limit, lowest)
        && lowest < *pass
        && judgement.verdict == Verdict::Pass
    {
        judgement.worsen(
            Verdict::Retest,
            format!("fell to {lowest} {when}, below the {pass} wanted"),
        );
        judgement.find(Finding::Leakage);
    }
}

/// Which go, and which bend of it.
const fn bend_of(found: &Found) -> (u32, u32) {
    (found.go, found.bend)
}

/// Once, twice, 3 times.
fn counted(times: usize) -> String {
    match times {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        times => format!("{times} times"),
    }
}

/// The sentence for a clean go.
fn clean(plan: &StepPlan, held: u32, spot: &BlindSpot, gap: Seconds) -> String {
    let (what, seen) = match plan.limit {
        Limit::Closed { .. } => ("steady", "opens"),
        Limit::Open { .. } => ("apart", "touches"),
    };
    let bound = (rate_bound(spot.chance(gap), held, 0.95) * 100.0).ceil();
    if bound >= 100.0 {
        return format!(
            "{what} through {held} bends, too few to say how rarely it {seen} for {gap} at a bend"
        );
    }
    let assumed = match spot.basis {
        Basis::Assumed => ", assuming each reading is taken in an instant",
        Basis::Documented | Basis::Tried => "",
    };
    format!(
        "{what} through {held} bends; if it {seen} for {gap} at a bend, it does so at fewer than \
         {bound:.0} in 100 (95 %{assumed})"
    )
}
