//! A sweep cut into legs: stretches over which the reading goes one way.
//!
//! A turning point counts when the reading has gone back from it by a good part of the whole
//! travel, so noise, quantisation and rests make none. What poor contact adds for a moment is
//! set aside before, and a leg that is one sudden step in mid-track is contact as well, not a
//! hand.

use crate::signal::sweep::fit::ratio;
use crate::signal::sweep::{SweepReading, Track};

/// A stretch of readings that goes one way, by places in the list of readings, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Leg {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) rising: bool,
}

/// A reading that may tell of a turning point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    pub(super) index: usize,
    pub(super) seconds: f64,
    pub(super) ohms: f64,
}

/// The tops and valleys of a sweep, before anything is known of the circuit: what the control
/// and the pickup are worked out from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Landmarks {
    /// The highest reading between two valleys, in ohms, in order of time.
    pub tops: Vec<f64>,
    /// The lowest reading between two tops, in ohms, in order of time; the first and the last
    /// reading of the sweep among them where they were low.
    pub valleys: Vec<f64>,
    /// Whether the first extreme is a top, and the last: the readings may have begun or ended in
    /// mid-track, so neither need be one.
    pub ends_at_tops: (bool, bool),
}

impl Landmarks {
    /// The tops the reading both rose to and fell from.
    pub fn inner_tops(&self) -> &[f64] {
        let (first, last) = self.ends_at_tops;
        let end = self.tops.len().saturating_sub(usize::from(last));
        self.tops.get(usize::from(first)..end).unwrap_or_default()
    }
}

/// How sudden, as a part of the highest reading, a step up and back down must be for what is
/// between to be set aside.
const SPIKE: f64 = 0.15;

/// How long such a moment may last, in seconds; three readings are always allowed.
const SPIKE_SECONDS: f64 = 1.0;

/// How sudden a step to the highest reading must be, and away from it, for what is between to be
/// poor contact and no rest at the end, however long it lasts; and how many times a large
/// step of the hand, since a fast hand on a slow meter makes steps as well.
const TOP_STEP: f64 = 0.025;
const TOP_STEPS: f64 = 1.5;

/// How far the reading of a loaded control must move to turn, as a part of the way from its
/// higher end to its peak.
const PEAKED: f64 = 0.5;

/// How near, as a part of it, a reading is to the highest.
const AT_TOP: f64 = 0.015;

/// A leg of which one step makes up this part is sudden.
const SUDDEN: f64 = 0.5;

/// How near to what an end reads counts as at that end, as a part of the highest reading.
const NEAR_END: f64 = 0.06;

/// How far a reading may be from the extreme and still be at rest there, as a part of the
/// highest reading.
const REST: f64 = 0.005;

/// Finds the tops and valleys: a movement counts from `turn` times the largest reading. A number
/// next to over-range is left out: the meter may have lifted it part of the way.
pub fn landmarks(readings: &[SweepReading], turn: f64) -> Landmarks {
    let readings: &[SweepReading] = &beside_numbers(readings);
    let mut sane: Vec<f64> = readings.iter().filter_map(SweepReading::ohms).collect();
    sane.sort_unstable_by(f64::total_cmp);
    // A hundredth of the readings may be spikes.
    let rank = sane.len().saturating_sub(1 + sane.len() / 100);
    let Some(highest) = sane.get(rank).copied() else {
        return Landmarks::default();
    };
    let points = despiked(&points(readings, 1.05 * highest), highest, None);
    let turns = zigzag(&points, turn * highest);
    let is_top = |turn: Option<&(usize, bool)>| turn.is_some_and(|(_, top)| *top);
    let mut found = Landmarks {
        ends_at_tops: (is_top(turns.first()), is_top(turns.last())),
        ..Landmarks::default()
    };
    for (place, top) in turns {
        if let Some(point) = points.get(place) {
            let list = if top {
                &mut found.tops
            } else {
                &mut found.valleys
            };
            list.push(point.ohms);
        }
    }
    found
}

/// The readings without the numbers next to an over-range one.
pub fn beside_numbers(readings: &[SweepReading]) -> Vec<SweepReading> {
    let over = |index: Option<usize>| {
        index
            .and_then(|index| readings.get(index))
            .is_some_and(SweepReading::is_over)
    };
    readings
        .iter()
        .enumerate()
        .filter(|(index, _)| !over(index.checked_sub(1)) && !over(index.checked_add(1)))
        .map(|(_, reading)| *reading)
        .collect()
}

/// The legs of a sweep.
pub(super) fn legs<T: Track + ?Sized>(
    readings: &[SweepReading],
    track: &T,
    turn: f64,
) -> Vec<Leg> {
    let highest = track.highest().0;
    let peaked = track.peak() > 0.0 && track.peak() < 1.0;
    let points = points(readings, 1.02 * highest);
    // A hand goes through the peak of a loaded control and rests at the others' highest.
    let sudden = (!peaked).then(|| (TOP_STEP * highest).max(TOP_STEPS * large_step(&points)));
    let points = despiked(&points, highest, sudden);
    let ends = [track.reading(0.0).0, track.reading(1.0).0];
    // Both ends of a loaded control lie far below its peak, and what dirt adds is large beside it.
    let least = if peaked {
        (PEAKED * (highest - ends[0].max(ends[1]))).max(turn * highest)
    } else {
        turn * highest
    };
    let turns = zigzag(&points, least);
    let mut legs: Vec<Leg> = turns
        .windows(2)
        .filter_map(|pair| match pair {
            [(from, top), (to, _)] => Some(Leg {
                from: *from,
                to: *to,
                rising: !top,
            }),
            _ => None,
        })
        .collect();
    join_sudden(&mut legs, &points, ends, highest);
    legs.iter()
        .map(|leg| trim(*leg, &points, highest, peaked))
        .filter_map(|leg| {
            Some(Leg {
                from: points.get(leg.from)?.index,
                to: points.get(leg.to)?.index,
                rising: leg.rising,
            })
        })
        .collect()
}

fn points(readings: &[SweepReading], ceiling: f64) -> Vec<Point> {
    readings
        .iter()
        .enumerate()
        .filter_map(|(index, reading)| {
            let ohms = reading.ohms().filter(|ohms| *ohms <= ceiling)?;
            Some(Point {
                index,
                seconds: reading.at.seconds(),
                ohms,
            })
        })
        .collect()
}

/// The step that nine in ten do not exceed: that of a moving hand, faults being fewer.
fn large_step(points: &[Point]) -> f64 {
    let mut steps: Vec<f64> = points
        .windows(2)
        .map(|pair| match pair {
            [one, other] => (other.ohms - one.ohms).abs(),
            _ => 0.0,
        })
        .collect();
    steps.sort_unstable_by(f64::total_cmp);
    let rank = steps.len().saturating_sub(1 + steps.len() / 10);
    steps.get(rank).copied().unwrap_or(0.0)
}

/// Without the moments that go up and come back at a step; with `sudden`, also without stays
/// at the highest reading that begin and end with such a step.
fn despiked(points: &[Point], highest: f64, sudden: Option<f64>) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    let mut rest = points;
    while let Some((point, after)) = rest.split_first() {
        let length = kept.last().and_then(|before| {
            let earlier = kept.len().checked_sub(2).and_then(|place| kept.get(place));
            sudden
                .and_then(|step| top_length((earlier, before), point, after, (highest, step)))
                .or_else(|| spike_length(before, point, after, highest))
        });
        if let Some(length) = length {
            rest = after.get(length..).unwrap_or_default();
        } else {
            kept.push(*point);
            rest = after;
        }
    }
    kept
}

/// How many readings after `point` belong to a step up that comes back to where it was.
fn spike_length(before: &Point, point: &Point, after: &[Point], highest: f64) -> Option<usize> {
    let height = point.ohms - before.ohms;
    if height < SPIKE * highest {
        return None;
    }
    let length = after.iter().enumerate().position(|(index, later)| {
        point.ohms - later.ohms >= 0.5 * height
            && (index < 3 || later.seconds - point.seconds <= SPIKE_SECONDS)
    })?;
    let back = after.get(length)?;
    let stays_up = after
        .iter()
        .take(length)
        .all(|between| between.ohms - before.ohms > 0.3 * height);
    ((back.ohms - before.ohms).abs() < 0.5 * height && stays_up).then_some(length)
}

/// How many readings after `point` stand with it at the highest reading, if they came there
/// and leave there by a step. One reading on each side may be part of both; over two readings a
/// hand goes twice as far.
fn top_length(
    (earlier, before): (Option<&Point>, &Point),
    point: &Point,
    after: &[Point],
    (highest, step): (f64, f64),
) -> Option<usize> {
    let at_top = |point: &Point| point.ohms >= (1.0 - AT_TOP) * highest;
    let away = |point: &Point, steps: f64| highest - point.ohms >= steps * step;
    let stepped = |near: &Point, far: Option<&Point>| {
        away(near, 1.0) || (!at_top(near) && far.is_some_and(|far| away(far, 2.0)))
    };
    if !(at_top(point) && stepped(before, earlier)) {
        return None;
    }
    let length = after.iter().position(|later| !at_top(later))?;
    let leaving = after.get(length)?;
    stepped(leaving, after.get(length + 1)).then_some(length)
}

/// The turning points by place, and whether each is a top; the first and last extreme among
/// them. None if the reading never goes as far as `least`.
fn zigzag(points: &[Point], least: f64) -> Vec<(usize, bool)> {
    let mut turns = Vec::new();
    let Some(first) = points.first() else {
        return turns;
    };
    let (mut low, mut high) = ((0, first.ohms), (0, first.ohms));
    let mut rising = None;
    for (place, point) in points.iter().enumerate() {
        if point.ohms < low.1 {
            low = (place, point.ohms);
        }
        if point.ohms > high.1 {
            high = (place, point.ohms);
        }
        if rising != Some(true) && point.ohms - low.1 >= least {
            turns.push((low.0, false));
            rising = Some(true);
            high = (place, point.ohms);
        } else if rising != Some(false) && high.1 - point.ohms >= least {
            turns.push((high.0, true));
            rising = Some(false);
            low = (place, point.ohms);
        }
    }
    match rising {
        Some(true) => turns.push((high.0, true)),
        Some(false) => turns.push((low.0, false)),
        None => {}
    }
    turns
}

/// Joins a leg that is one sudden step, its low end in mid-track, with both its neighbours.
fn join_sudden(legs: &mut Vec<Leg>, points: &[Point], ends: [f64; 2], highest: f64) {
    let ohms = |place: usize| points.get(place).map_or(0.0, |point| point.ohms);
    let mut place = 1;
    while place + 1 < legs.len() {
        let (Some(before), Some(leg), Some(after)) = (
            legs.get(place - 1).copied(),
            legs.get(place).copied(),
            legs.get(place + 1).copied(),
        ) else {
            break;
        };
        let valley = ohms(leg.from).min(ohms(leg.to));
        let in_mid_track = ends
            .iter()
            .all(|end| (valley - end).abs() > NEAR_END * highest);
        let inside = points.get(leg.from..=leg.to).unwrap_or_default();
        let steepest = inside
            .windows(2)
            .map(|pair| match pair {
                [one, other] => (other.ohms - one.ohms).abs(),
                _ => 0.0,
            })
            .fold(0.0, f64::max);
        let sudden = steepest >= SUDDEN * (ohms(leg.to) - ohms(leg.from)).abs();
        if in_mid_track && sudden {
            let joined = Leg {
                from: before.from,
                to: after.to,
                rising: before.rising,
            };
            legs.splice(place - 1..=place + 1, [joined]);
            place = place.saturating_sub(1).max(1);
        } else {
            place += 1;
        }
    }
}

/// Without the rest at its ends; but the peak of a circuit that has one is passed, not rested
/// at.
fn trim(leg: Leg, points: &[Point], highest: f64, peaked: bool) -> Leg {
    let ohms = |place: usize| points.get(place).map_or(0.0, |point| point.ohms);
    let slack = REST * highest;
    let near = |place: usize, end: f64| (ohms(place) - end).abs() <= slack;
    let (start, end) = (ohms(leg.from), ohms(leg.to));
    let keep_start = peaked && !leg.rising;
    let keep_end = peaked && leg.rising;
    let from = if keep_start {
        leg.from
    } else {
        (leg.from..leg.to)
            .rev()
            .find(|place| near(*place, start))
            .unwrap_or(leg.from)
    };
    let to = if keep_end {
        leg.to
    } else {
        (from + 1..=leg.to)
            .find(|place| near(*place, end))
            .unwrap_or(leg.to)
    };
    Leg { from, to, ..leg }
}

/// The place of an item between two others.
pub(super) fn between(from: usize, to: usize, item: usize) -> f64 {
    ratio(item.saturating_sub(from), to.saturating_sub(from))
}
