//! What a batch came to: yield, causes, resistances, groups.
//!
//! A *piece* is what carries one tag, checked once or more; a run without a tag is a piece of
//! its own, since nothing tells that two of them were the same lead.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::record::StepKept;
use crate::record::ledger::{Past, STOPPED, UNDONE};
use crate::signal::Tested;

/// The most bars of a histogram.
const MOST_BARS: usize = 12;
/// What fails without anything seen on the way failed at rest.
const AT_REST: &str = "at rest";
const PASS: &str = "pass";
const FAIL: &str = "fail";
const RETEST: &str = "retest";

/// What a batch came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BatchFigures {
    /// The whole of it.
    pub all: Group,
    /// Causes of what did not pass, the commonest first.
    pub causes: Vec<Cause>,
    /// The resistances of each step, from each piece's last run.
    pub histograms: Vec<Histogram>,
    /// By check, length and lot.
    pub groups: Vec<Group>,
    /// So many runs are no real ones (simulated).
    pub invented: u64,
    /// So many more runs were stopped by the operator; they are in no other figure.
    pub stopped: u64,
    /// So many more runs were undone; they are in no other figure.
    pub undone: u64,
}

/// A group of pieces.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Group {
    /// The check.
    pub kind: Option<String>,
    /// The length in metres.
    pub length_m: Option<f64>,
    /// The supplier's lot.
    pub lot: Option<String>,
    /// Runs.
    pub runs: u64,
    /// Runs that ended in retest.
    pub retests: u64,
    /// Pieces.
    pub pieces: u64,
    /// Pieces whose first run passed.
    pub passed_first: u64,
    /// Pieces whose last run passed.
    pub passed_last: u64,
    /// Pieces whose last run failed.
    pub failed_last: u64,
    /// Pieces that failed in any run, mended since or not.
    pub failed_ever: u64,
    /// Pieces that never failed and whose last run ended in retest.
    pub undecided: u64,
}

/// A cause of runs that did not pass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cause {
    /// The step and what was seen in it.
    pub seen: String,
    /// In so many runs.
    pub runs: u64,
    /// So many causes are of this kind or commoner.
    pub up_to_here: u64,
}

/// How a step's resistances are spread.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Histogram {
    /// The check.
    pub kind: String,
    /// The step.
    pub step: String,
    /// The middle one, in ohms.
    pub median_ohms: f64,
    /// The bars, from the lowest; each reaches from its foot up to, not including, its end; the
    /// last includes it.
    pub bars: Vec<Bar>,
}

/// One bar.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bar {
    /// Its foot, in ohms.
    pub from_ohms: f64,
    /// Its end, in ohms.
    pub to_ohms: f64,
    /// Pieces in it.
    pub pieces: u64,
}

impl BatchFigures {
    /// The figures of these runs, which stand in the order of time.
    pub fn of(all: &[Past]) -> Self {
        let pasts: Vec<&Past> = all.iter().filter(|p| !p.line.judges_nothing()).collect();
        let with = |word| count(all.iter().filter(|past| past.line.verdict == word));
        let pieces = pieces(&pasts);
        Self {
            stopped: with(STOPPED),
            undone: with(UNDONE),
            all: group(&pieces),
            causes: causes(&pasts),
            histograms: histograms(&pieces),
            groups: groups(&pieces),
            invented: count(pasts.iter().filter(|past| past.line.made_by.is_some())),
        }
    }

    /// What is left out of the figures, in a sentence; none if nothing is.
    pub fn left_out(&self) -> Option<String> {
        let told = |count: u64, how: &str| (count > 0).then(|| format!("{count} {how}"));
        let parts: Vec<String> = [
            told(self.stopped, "stopped by the operator"),
            told(self.undone, "undone"),
        ]
        .into_iter()
        .flatten()
        .collect();
        (!parts.is_empty()).then(|| {
            let runs = if self.stopped + self.undone == 1 {
                "run"
            } else {
                "runs"
            };
            format!("Left out of all figures: {} {runs}.", parts.join(" and "))
        })
    }
}

impl Group {
    /// A share of the pieces, from 0 to 1; none without pieces.
    pub fn share_of_pieces(&self, some: u64) -> Option<f64> {
        share(some, self.pieces)
    }

    /// The pieces as a sample of what was supplied: one that ever failed is a bad one, however
    /// it was mended; one that is undecided is not in it.
    pub fn tested(&self) -> Option<Tested> {
        let decided = self.pieces.saturating_sub(self.undecided);
        Tested::new(
            u32::try_from(decided).ok()?,
            u32::try_from(self.failed_ever).ok()?,
        )
    }

    /// The share of runs that ended in retest.
    pub fn retest_rate(&self) -> Option<f64> {
        share(self.retests, self.runs)
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts of runs are far below 2^53"
)]
fn share(some: u64, all: u64) -> Option<f64> {
    (all > 0).then(|| some as f64 / all as f64)
}

fn count<T>(some: impl Iterator<Item = T>) -> u64 {
    u64::try_from(some.count()).unwrap_or(u64::MAX)
}

/// The runs of each piece, in the order of time. A tag checked in two ways is two pieces.
fn pieces<'p>(pasts: &[&'p Past]) -> Vec<Vec<&'p Past>> {
    let mut tagged: BTreeMap<(&str, &str), Vec<&Past>> = BTreeMap::new();
    let mut single = Vec::new();
    for past in pasts.iter().copied() {
        match &past.line.tag {
            Some(tag) => tagged.entry((&past.line.kind, tag)).or_default().push(past),
            None => single.push(vec![past]),
        }
    }
    tagged.into_values().chain(single).collect()
}

fn group<'p>(pieces: impl IntoIterator<Item = &'p Vec<&'p Past>>) -> Group {
    let mut group = Group::default();
    for runs in pieces {
        let verdict = |past: Option<&&Past>| past.map(|past| past.line.verdict.clone());
        group.pieces += 1;
        group.runs += count(runs.iter());
        group.retests += count(runs.iter().filter(|past| past.line.verdict == RETEST));
        group.passed_first += u64::from(verdict(runs.first()).as_deref() == Some(PASS));
        group.passed_last += u64::from(verdict(runs.last()).as_deref() == Some(PASS));
        group.failed_last += u64::from(verdict(runs.last()).as_deref() == Some(FAIL));
        let ever = runs.iter().any(|past| past.line.verdict == FAIL);
        let retest = verdict(runs.last()).as_deref() == Some(RETEST);
        group.failed_ever += u64::from(ever);
        group.undecided += u64::from(retest && !ever);
    }
    group
}

/// The check, the bits of the length, and the lot.
type Alike = (String, Option<u64>, Option<String>);

/// The groups of alike pieces; a piece belongs where its last run does.
fn groups(pieces: &[Vec<&Past>]) -> Vec<Group> {
    let mut alike: BTreeMap<Alike, Vec<&Vec<&Past>>> = BTreeMap::new();
    for runs in pieces {
        let Some(line) = runs.last().map(|past| &past.line) else {
            continue;
        };
        // Lengths are positive, and so sort as their bits do.
        let length = line.length_m.map(f64::to_bits);
        let key = (line.kind.clone(), length, line.lot.clone());
        alike.entry(key).or_default().push(runs);
    }
    alike
        .into_iter()
        .map(|((kind, length, lot), pieces)| Group {
            kind: Some(kind),
            length_m: length.map(f64::from_bits),
            lot,
            ..group(pieces)
        })
        .collect()
}

/// Each run that did not pass counts once for each step of it that did not.
fn causes(pasts: &[&Past]) -> Vec<Cause> {
    let mut runs: BTreeMap<String, u64> = BTreeMap::new();
    for past in pasts.iter().filter(|past| past.line.verdict != PASS) {
        let steps = past.steps.iter().filter(|step| step.verdict != PASS);
        let mut named: Vec<String> = steps
            .map(|step| format!("{}: {}", step.step, wrong_in(past, step)))
            .collect();
        if named.is_empty() {
            let trouble = past.seen.iter().find(|seen| seen.step.is_none());
            named.push(trouble.map_or_else(
                || "not finished".to_owned(),
                |seen| format!("meter: {}", seen.what),
            ));
        }
        for cause in named {
            *runs.entry(cause).or_default() += 1;
        }
    }
    let mut causes: Vec<Cause> = runs
        .into_iter()
        .map(|(cause, runs)| Cause {
            seen: cause,
            runs,
            up_to_here: 0,
        })
        .collect();
    // The sort is stable: the alphabet decides between equals.
    causes.sort_by_key(|cause| std::cmp::Reverse(cause.runs));
    let mut sum = 0;
    for cause in &mut causes {
        sum += cause.runs;
        cause.up_to_here = sum;
    }
    causes
}

/// What is wrong in a step: what the check found, in its own words; of older runs what was seen
/// oftenest.
fn wrong_in(past: &Past, step: &StepKept) -> String {
    match &step.finding {
        Some(finding) => finding.replace('_', " "),
        None => seen_in(past, &step.step).to_owned(),
    }
}

/// What was seen oftenest in a step.
fn seen_in<'p>(past: &'p Past, step: &str) -> &'p str {
    let mut kinds: BTreeMap<&str, u64> = BTreeMap::new();
    for seen in &past.seen {
        if seen.step.as_deref() == Some(step) {
            *kinds.entry(&seen.what).or_default() += 1;
        }
    }
    kinds
        .into_iter()
        .max_by_key(|(_, times)| *times)
        .map_or(AT_REST, |(kind, _)| kind)
}

fn histograms(pieces: &[Vec<&Past>]) -> Vec<Histogram> {
    let mut values: BTreeMap<(&str, &str), Vec<f64>> = BTreeMap::new();
    let mut order = Vec::new();
    for past in pieces.iter().filter_map(|runs| runs.last()) {
        for step in &past.steps {
            let Some(ohms) = step.ohms else { continue };
            let key = (past.line.kind.as_str(), step.step.as_str());
            if !values.contains_key(&key) {
                order.push(key);
            }
            values.entry(key).or_default().push(ohms);
        }
    }
    order
        .into_iter()
        .filter_map(|key| histogram(key, values.remove(&key)?))
        .collect()
}

fn histogram((kind, step): (&str, &str), mut values: Vec<f64>) -> Option<Histogram> {
    values.sort_by(f64::total_cmp);
    let middle = (values.len() - 1) / 2;
    let median_ohms = f64::midpoint(*values.get(middle)?, *values.get(values.len() / 2)?);
    let (least, most) = (*values.first()?, *values.last()?);
    // As many bars as the square root of the number (common practice, no source).
    let wanted = values.len().isqrt().clamp(1, MOST_BARS);
    let width = bar_width(most - least, wanted)?;
    let foot = (least / width).floor();
    let mut bars: Vec<Bar> = Vec::new();
    let mut rest = values.as_slice();
    for number in 0..=u32::try_from(4 * MOST_BARS).ok()? {
        let from_ohms = (foot + f64::from(number)) * width;
        let to_ohms = (foot + f64::from(number) + 1.0) * width;
        let within = rest.partition_point(|value| *value < to_ohms);
        let (these, beyond) = rest.split_at_checked(within)?;
        bars.push(Bar {
            from_ohms,
            to_ohms,
            pieces: count(these.iter()),
        });
        rest = beyond;
        if rest.is_empty() {
            break;
        }
    }
    if let (Some(last), false) = (bars.last_mut(), rest.is_empty()) {
        // Rounding may leave the greatest value at the very end of the last bar.
        last.pieces += count(rest.iter());
    }
    Some(Histogram {
        kind: kind.to_owned(),
        step: step.to_owned(),
        median_ohms,
        bars,
    })
}

/// A width of 1, 2 or 5 times a power of ten that covers the span with at most so many bars,
/// give or take one.
fn bar_width(span: f64, bars: usize) -> Option<f64> {
    let bars = f64::from(u32::try_from(bars).ok()?);
    let least = (span / bars).max(1e-3);
    if !least.is_finite() {
        return None;
    }
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * power)
        .find(|width| *width >= least * (1.0 - 1e-9))
}
