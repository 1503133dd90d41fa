//! Where the wiper stood at each reading, and how far the reading stood above a clean one.
//!
//! The fit is made over the readings, in ohms, and only the fitted level is turned into a
//! position. Near the highest reading of a loaded control the position hardly moves the
//! reading and a position worked out from one reading is worthless; the residual, in ohms, is
//! as good there as anywhere.

use crate::reading::Ohms;
use crate::signal::sweep::cut::{Leg, between};
use crate::signal::sweep::{Branch, Direction, SweepReading, SweepSettings, Track, robust_fit};

/// A reading on the track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Located {
    /// Its place in the list of readings.
    pub(super) index: usize,
    pub(super) ohms: f64,
    /// Where the wiper stood.
    pub(super) position: f64,
    /// Above the fit, in parts of the total, as contact resistance at the wiper.
    pub(super) residual: f64,
    /// What of that the display and its noise could make.
    pub(super) floor: f64,
}

/// The readings of one pass.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub(super) direction: Direction,
    pub(super) points: Vec<Located>,
}

/// How far around the peak of a loaded control positions are taken from the time.
const AROUND_PEAK: f64 = 0.05;

/// Below this part of itself, contact resistance hardly shows and is not scaled up further.
const LEAST_GAIN: f64 = 0.1;

/// A reading may stand from the fit by this part of the total and still take part in it.
const TAKES_PART: f64 = 0.003;

/// The passes: legs joined where the reading turned but the hand went on.
pub(super) fn stretches<T: Track + ?Sized>(
    readings: &[SweepReading],
    legs: &[Leg],
    track: &T,
    settings: &SweepSettings,
) -> Vec<Stretch> {
    let branches = branches(readings, legs, track);
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut last: Option<(Leg, Branch)> = None;
    for (leg, branch) in legs.iter().zip(branches) {
        let direction = match (leg.rising, branch) {
            (true, Branch::Rising) | (false, Branch::Falling) => Direction::Up,
            (false, Branch::Rising) | (true, Branch::Falling) => Direction::Down,
        };
        let mut points = located(readings, *leg, branch, track);
        match stretches.last_mut() {
            Some(stretch)
                if stretch.direction == direction
                    && last.is_some_and(|(before, was)| {
                        was != branch && before.rising && !leg.rising
                    }) =>
            {
                let shared = stretch.points.last().map(|point| point.index);
                points.retain(|point| Some(point.index) != shared);
                stretch.points.append(&mut points);
            }
            _ => stretches.push(Stretch { direction, points }),
        }
        last = Some((*leg, branch));
    }
    let peak = track.peak();
    if peak > 0.0 && peak < 1.0 {
        for stretch in &mut stretches {
            through_the_peak(&mut stretch.points, peak);
        }
    }
    stretches.retain(|stretch| {
        let range = stretch.points.iter().map(|point| point.position);
        let (low, high) = range.fold((1.0_f64, 0.0_f64), |(low, high), position| {
            (low.min(position), high.max(position))
        });
        high - low >= 0.5 * settings.turn
    });
    stretches
}

/// The readings of one leg, fitted and placed.
fn located<T: Track + ?Sized>(
    readings: &[SweepReading],
    leg: Leg,
    branch: Branch,
    track: &T,
) -> Vec<Located> {
    let total = track.total().0.max(f64::MIN_POSITIVE);
    let ceiling = 1.02 * track.highest().0;
    let mut good: Vec<(usize, f64, f64)> = readings
        .iter()
        .enumerate()
        .take(leg.to.saturating_add(1))
        .skip(leg.from)
        .filter_map(|(index, reading)| {
            let ohms = reading.ohms()?;
            let counts = reading.resolution.unwrap_or(0.0).abs();
            Some((index, ohms, 3.0 * counts + 0.001 * ohms.abs()))
        })
        .collect();
    // The fit rises; what fell is fitted backwards.
    if !leg.rising {
        good.reverse();
    }
    let values: Vec<f64> = good.iter().map(|(_, ohms, _)| *ohms).collect();
    let tolerances: Vec<f64> = good
        .iter()
        .map(|(_, _, floor)| floor.max(TAKES_PART * total))
        .collect();
    let fit = robust_fit(&values, &tolerances, ceiling);
    let mut points: Vec<Located> = good
        .iter()
        .zip(&fit.fitted)
        .map(|((index, ohms, floor), level)| {
            let position = track.position(Ohms(*level), branch);
            // A circuit of senseless numbers has no positions.
            let position = if position.is_nan() { 0.0 } else { position };
            let scale = total * track.contact_gain(position).max(LEAST_GAIN);
            Located {
                index: *index,
                ohms: *ohms,
                position,
                residual: (ohms - level) / scale,
                floor: floor / scale,
            }
        })
        .collect();
    if !leg.rising {
        points.reverse();
    }
    points
}

/// The branch of each leg. A valley below what full up reads can only be the low end; of the
/// others, one that follows a passed peak is at the other end than the valley before it.
fn branches<T: Track + ?Sized>(
    readings: &[SweepReading],
    legs: &[Leg],
    track: &T,
) -> Vec<Branch> {
    let peak = track.peak();
    if peak >= 1.0 {
        return vec![Branch::Rising; legs.len()];
    }
    if peak <= 0.0 {
        return vec![Branch::Falling; legs.len()];
    }
    let ohms = |index: usize| readings.get(index).and_then(SweepReading::ohms);
    let full = track.reading(1.0).0;
    let told = |valley: Option<f64>| match valley {
        Some(ohms) if ohms < 0.6 * full => Some(Branch::Rising),
        Some(ohms) if (ohms / full - 1.0).abs() < 0.03 => Some(Branch::Falling),
        _ => None,
    };
    let mut branch = legs.first().map_or(Branch::Rising, |leg| {
        let valley = if leg.rising { leg.from } else { leg.to };
        told(ohms(valley)).unwrap_or(Branch::Rising)
    });
    let mut branches = Vec::with_capacity(legs.len());
    let mut first = true;
    for leg in legs {
        if !leg.rising && !first {
            let top = ohms(leg.from).unwrap_or(0.0);
            let passed = top >= 0.97 * track.highest().0;
            let other = match branch {
                Branch::Rising if passed => Branch::Falling,
                Branch::Falling if passed => Branch::Rising,
                same => same,
            };
            branch = told(ohms(leg.to)).unwrap_or(other);
        }
        branches.push(branch);
        first = false;
    }
    branches
}

/// Around the peak the position follows the time, between where it was last known well and
/// where it is known well again.
fn through_the_peak(points: &mut [Located], peak: f64) {
    let far = |point: &Located| (point.position - peak).abs() >= AROUND_PEAK;
    let side = |point: &Located| point.position < peak;
    let mut from = None;
    for index in 0..points.len() {
        let Some(point) = points.get(index).copied() else {
            break;
        };
        if !far(&point) {
            continue;
        }
        if let Some((start, begun)) = from.replace((index, point))
            && index > start + 1
            && side(&begun) != side(&point)
        {
            for (place, between_them) in
                points.iter_mut().enumerate().take(index).skip(start + 1)
            {
                between_them.position = begun.position
                    + (point.position - begun.position) * between(start, index, place);
            }
        }
    }
}
