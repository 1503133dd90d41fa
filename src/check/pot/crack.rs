//! A cracked track at the jack, told from the readings before any curve is laid through them.
//!
//! In standard wiring the reading leaps from one straight line to the other at the same two
//! levels on every pass, and is highest there; or, cracked near the middle, it turns at a corner
//! where a sound control's peak is round. The two levels and the one full up give total and place.

use crate::circuit::control::CrackedJack;
use crate::reading::Ohms;
use crate::signal::median;
use crate::signal::sweep::{
    Cause, Finding, Level, SweepReading, SweepSettings, Zone, landmarks,
};

/// A leap is at least this part of the highest reading.
const LEAP: f64 = 0.05;

/// A leap is this many times the usual step around it.
const SUDDEN: f64 = 3.0;

/// How many steps on each side are around it.
const AROUND: usize = 8;

/// Leaps in a row that make a crack: there, back and there again.
const LEAPS: usize = 3;

/// The low end reads at most this part of what full up reads.
const NOTHING: f64 = 0.5;

/// So many readings between the crack and each end must show that the hand went on by small steps.
const MOVING: usize = 4;

/// A range change may lie within a leap, for so many seconds.
const RANGING: f64 = 1.5;

/// One reading with a number.
#[derive(Debug, Clone, Copy)]
struct Number {
    seconds: f64,
    ohms: f64,
    resolution: Option<f64>,
    /// Something without a number came before it.
    after_gap: bool,
}

/// A leap from one line to the other, by places in the list of numbers.
#[derive(Debug, Clone, Copy)]
struct Leap {
    before: usize,
    after: usize,
}

/// A crack, and on how many passes it was met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Crack {
    pub(super) track: CrackedJack,
    /// Between which places it lies, as far as the steps of the hand tell.
    pub(super) zone: Zone,
    pub(super) passes: usize,
}

impl Crack {
    /// As a finding of the sweep.
    pub(super) const fn finding(&self) -> Finding {
        Finding::lost(self.zone, Cause::Track, self.passes)
    }
}

/// The crack of a sweep in standard wiring; with the total known, its place is held between the
/// last readings on both sides.
pub(super) fn at_jack(readings: &[SweepReading], total: Option<Ohms>) -> Option<Crack> {
    let numbers = numbers(readings);
    let top = numbers.iter().map(|number| number.ohms).reduce(f64::max)?;
    let leaps = leaps(&numbers, top);
    if leaps.len() < LEAPS {
        return None;
    }
    let sides = Sides::of(&numbers, &leaps, top)?;
    let track = CrackedJack::of(Ohms(sides.below), Ohms(sides.above), Ohms(sides.full))?;
    let whole = total.map_or(track.total.0, |total| total.0);
    let from = sides.below / whole;
    let to = 1.0 - (sides.above - sides.full) / whole;
    // A total that the two sides do not fit into is not this control's.
    let (from, to) = if from <= to && total.is_some() {
        (from, to)
    } else {
        (track.at, track.at)
    };
    let step = 0.5 * sides.step / whole;
    Some(Crack {
        track: CrackedJack {
            total: Ohms(whole.max(track.total.0)),
            at: f64::midpoint(from, to).clamp(0.0, 1.0),
            ..track
        },
        zone: Zone::between(from - step, to + step),
        passes: leaps.len(),
    })
}

/// A crack so near the middle that both sides read alike: with the total known, a peak of half of
/// it where a sound control shows a quarter.
pub(super) fn at_the_middle(
    readings: &[SweepReading],
    total: Ohms,
    full: Ohms,
) -> Option<Crack> {
    /// As near as that the total is met, and for the place's zone a part of it.
    const NEAR: f64 = 0.15;
    let tops = landmarks(readings, SweepSettings::DEFAULT.turn).tops;
    let top = tops.iter().copied().reduce(f64::min)?;
    let found = 2.0 * top - full.0;
    if tops.len() < 2 || (found / total.0 - 1.0).abs() > NEAR {
        return None;
    }
    let zone = Zone::between(top / total.0, 1.0 - (top - full.0) / total.0);
    Some(Crack {
        track: CrackedJack {
            total,
            pickup: full,
            at: zone.middle(),
        },
        zone,
        passes: tops.len().saturating_mul(2),
    })
}

fn numbers(readings: &[SweepReading]) -> Vec<Number> {
    let mut after_gap = false;
    let mut numbers = Vec::new();
    for reading in readings {
        match reading.level {
            Level::Ohms(ohms) if ohms.is_finite() => numbers.push(Number {
                seconds: reading.at.seconds(),
                ohms,
                resolution: reading.resolution,
                after_gap: std::mem::take(&mut after_gap),
            }),
            _ => after_gap = true,
        }
    }
    numbers
}

/// All leaps: far more than the hand's steps around them.
fn leaps(numbers: &[Number], top: f64) -> Vec<Leap> {
    let steps: Vec<f64> = numbers
        .windows(2)
        .map(|pair| match pair {
            [one, other] => other.ohms - one.ohms,
            _ => 0.0,
        })
        .collect();
    let spans: Vec<f64> = numbers
        .windows(2)
        .map(|pair| match pair {
            [one, other] => other.seconds - one.seconds,
            _ => 0.0,
        })
        .collect();
    let interval = median(&spans).unwrap_or(0.0);
    let mut leaps: Vec<Leap> = Vec::new();
    for (place, step) in steps.iter().enumerate() {
        let nearby = |other: &usize| {
            let far = *other + 1 < place || *other > place + 1;
            far && steps
                .get(*other)
                .is_some_and(|step| step.abs() > 0.001 * top)
        };
        let around: Vec<f64> = (place.saturating_sub(AROUND)..=place + AROUND)
            .filter(nearby)
            .filter_map(|other| steps.get(other).map(|step| step.abs()))
            .collect();
        let usual = median(&around).unwrap_or(0.0);
        let (Some(before), Some(after)) = (numbers.get(place), numbers.get(place + 1)) else {
            continue;
        };
        let sudden = SUDDEN * usual * intervals_between(before, after, interval);
        if step.abs() < sudden.max(0.5 * LEAP * top) || !may_leap(before, after) {
            continue;
        }
        match leaps.last_mut() {
            // One reading in the midst of it.
            Some(last) if last.after == place && same_way(&steps, last.before, place) => {
                last.after = place + 1;
            }
            _ => leaps.push(Leap {
                before: place,
                after: place + 1,
            }),
        }
    }
    let height = |leap: &Leap| {
        let of = |place: usize| numbers.get(place).map_or(0.0, |number| number.ohms);
        (of(leap.after) - of(leap.before)).abs()
    };
    leaps.retain(|leap| height(leap) >= LEAP * top);
    leaps
}

fn same_way(steps: &[f64], one: usize, other: usize) -> bool {
    let step = |place: usize| steps.get(place).copied().unwrap_or(0.0);
    step(one) * step(other) > 0.0
}

/// How many times the usual the hand went on between two readings: while the meter looks for
/// another range it does not stand still.
fn intervals_between(before: &Number, after: &Number, interval: f64) -> f64 {
    if after.after_gap && interval > 0.0 {
        ((after.seconds - before.seconds) / interval).max(1.0)
    } else {
        1.0
    }
}

/// Nothing lies between the two, or only the meter looking for another range.
fn may_leap(before: &Number, after: &Number) -> bool {
    !after.after_gap
        || (before.resolution != after.resolution && after.seconds - before.seconds <= RANGING)
}

/// What is read on both sides of the crack.
#[derive(Debug, Clone, Copy)]
struct Sides {
    below: f64,
    above: f64,
    full: f64,
    /// The step of the hand.
    step: f64,
}

/// The stretch between two leaps.
#[derive(Debug, Clone, Copy)]
struct Stay {
    least: f64,
    most: f64,
    /// Readings on the way, off the valley and no leap.
    moving: usize,
    /// The levels at the leaps that bound it.
    edges: [Option<f64>; 2],
}

impl Sides {
    /// Between the leaps the wiper is below the crack and above it in turn; none if the readings
    /// are not highest at the leaps.
    fn of(numbers: &[Number], leaps: &[Leap], top: f64) -> Option<Self> {
        let stays = stays(numbers, leaps);
        let lows = |parity: usize| stays.iter().skip(parity).step_by(2);
        // The first and the last may not have gone to their end.
        let ends = stays.len().checked_sub(1)?;
        let least = |parity: usize| {
            let inner = lows(parity).enumerate();
            inner
                .filter(|(place, _)| (1..ends).contains(&(2 * place + parity)))
                .map(|(_, stay)| stay.least)
                .reduce(f64::min)
        };
        let (even, odd) = (least(0)?, least(1)?);
        let (low, high) = if even < NOTHING * odd {
            (0, 1)
        } else if odd < NOTHING * even {
            (1, 0)
        } else {
            return None;
        };
        let step = steps_at(numbers, leaps);
        let slack = 4.0 * step + 0.03 * top;
        let level = |parity: usize| {
            let edges: Vec<f64> = lows(parity).flat_map(|stay| stay.edges).flatten().collect();
            let most = edges.iter().copied().reduce(f64::max)?;
            let fine = lows(parity).filter(|stay| stay.edges.iter().all(Option::is_some));
            let fine = fine
                .map(|stay| stay.moving)
                .min()
                .is_none_or(|least| least >= 2 * MOVING);
            let alike = edges.iter().all(|edge| most - edge <= slack);
            let highest = lows(parity).all(|stay| stay.most <= most + slack);
            (fine && alike && highest).then_some(most)
        };
        Some(Self {
            below: level(low)?,
            above: level(high)?,
            full: least(high)?,
            step,
        })
    }
}

fn stays(numbers: &[Number], leaps: &[Leap]) -> Vec<Stay> {
    let ohms = |place: usize| numbers.get(place).map(|number| number.ohms);
    let starts = std::iter::once(None).chain(leaps.iter().map(|leap| Some(leap.after)));
    let ends = leaps.iter().map(|leap| Some(leap.before)).chain([None]);
    starts
        .zip(ends)
        .map(|(start, end)| {
            let from = start.unwrap_or(0);
            let to = end.unwrap_or_else(|| numbers.len().saturating_sub(1));
            let inside = numbers.get(from..=to).unwrap_or_default();
            let inside = || inside.iter().map(|number| number.ohms);
            let least = inside().fold(f64::INFINITY, f64::min);
            let most = inside().fold(0.0, f64::max);
            Stay {
                least,
                most,
                moving: inside()
                    .filter(|ohms| *ohms > least + 0.05 * (most - least))
                    .count(),
                edges: [start.and_then(ohms), end.and_then(ohms)],
            }
        })
        .collect()
}

/// The hand's usual step next to the leaps.
fn steps_at(numbers: &[Number], leaps: &[Leap]) -> f64 {
    let step = |one: usize, other: usize| {
        let (one, other) = (numbers.get(one)?, numbers.get(other)?);
        Some((one.ohms - other.ohms).abs())
    };
    let steps: Vec<f64> = leaps
        .iter()
        .flat_map(|leap| {
            [
                leap.before
                    .checked_sub(1)
                    .and_then(|before| step(before, leap.before)),
                step(leap.after, leap.after + 1),
            ]
        })
        .flatten()
        .collect();
    median(&steps).unwrap_or(0.0)
}

/// How round the highest of a loaded control is: the time above 96 % of it as a part of the time
/// above 64 %. A parabola gives a third, two straight lines that meet a ninth, whatever the speed
/// of the hand and the law of the track; `None` below so many readings.
pub(super) fn roundness(readings: &[SweepReading], highest: Ohms) -> Option<f64> {
    const ENOUGH: u32 = 24;
    let above = |part: f64| {
        let count = readings
            .iter()
            .filter_map(SweepReading::ohms)
            .filter(|ohms| *ohms >= part * highest.0)
            .count();
        u32::try_from(count).unwrap_or(u32::MAX)
    };
    let (near, around) = (above(0.96), above(0.64));
    (around >= ENOUGH).then(|| f64::from(near) / f64::from(around))
}

/// Below this the highest reading is a corner: between a ninth and a third.
pub(super) const CORNER: f64 = 0.19;
