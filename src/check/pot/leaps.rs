//! Contact lost where an open wiper reads a number: in independent wiring the whole track, as at
//! zero.
//!
//! A knob flicked to zero leaps as well, but not twice from one place and back to it.

use crate::check::pot::circuit::Circuit;
use crate::reading::Ohms;
use crate::signal::sweep::{Cause, Finding, SweepReading, Zone};
use crate::signal::{Branch, Track, median};

/// At least this part of what an open wiper reads is open.
const OPEN: f64 = 0.97;

/// At most this part of it is far from open: a fast hand on a slow meter goes a step of a third.
const AWAY: f64 = 0.6;

/// Places this near are the same.
const SAME: f64 = 0.05;

/// A knob may be flicked from its upper stop.
const STOP: f64 = 0.985;

/// Out to the open reading and back, as positions of the wiper.
#[derive(Debug, Clone, Copy)]
struct Leap {
    out: f64,
    back: f64,
    rising: bool,
}

/// Where contact is lost again and again, from the leaps to the open reading and back.
pub(super) fn lost(readings: &[SweepReading], circuit: &Circuit) -> Option<Finding> {
    let track = circuit.track()?;
    let leaps = leaps(readings, track.open_reading()?, track);
    let middle = |of: fn(&Leap) -> f64| median(&leaps.iter().map(of).collect::<Vec<f64>>());
    let (out, back) = (middle(|leap| leap.out)?, middle(|leap| leap.back)?);
    let same: Vec<&Leap> = leaps
        .iter()
        .filter(|leap| (leap.out - out).abs() <= SAME && (leap.back - back).abs() <= SAME)
        .collect();
    if same.len() < 2 || out.min(back) >= STOP {
        return None;
    }
    // Back where it left, the hand was beyond that place.
    let zone = if (out - back).abs() > SAME {
        Zone::between(out, back)
    } else if 2 * same.iter().filter(|leap| leap.rising).count() > same.len() {
        Zone::between(out.min(back), 1.0)
    } else {
        Zone::between(0.0, out.max(back))
    };
    let cause = if zone.to >= 1.0 {
        Cause::HighEnd
    } else {
        Cause::Track
    };
    Some(Finding::lost(zone, cause, same.len()))
}

fn leaps(readings: &[SweepReading], open: Ohms, track: &dyn Track) -> Vec<Leap> {
    let numbers: Vec<f64> = readings.iter().filter_map(SweepReading::ohms).collect();
    let at = |index: usize| numbers.get(index).copied();
    let is_open = |index: usize| at(index).is_some_and(|ohms| ohms >= OPEN * open.0);
    let away = |index: usize| at(index).filter(|ohms| *ohms <= AWAY * open.0);
    let place = |ohms: f64| track.position(Ohms(ohms), Branch::Falling);
    let mut leaps = Vec::new();
    let mut index = 1;
    while index < numbers.len() {
        if !is_open(index) || is_open(index - 1) {
            index += 1;
            continue;
        }
        let end = (index..numbers.len())
            .find(|after| !is_open(*after))
            .unwrap_or(numbers.len());
        // One reading may be part of both.
        let out = away(index - 1).or_else(|| away(index.checked_sub(2)?));
        let back = away(end).or_else(|| away(end + 1));
        if let (Some(out), Some(back)) = (out, back) {
            let before = index.checked_sub(4).and_then(at).unwrap_or(out);
            leaps.push(Leap {
                out: place(out),
                back: place(back),
                rising: before > out,
            });
        }
        index = end.max(index + 1);
    }
    leaps
}
