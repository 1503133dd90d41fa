//! Noisy zones, dips, jumps and flat spots of one pass.

use crate::signal::median;
use crate::signal::sweep::event::{Event, EventKind, Grade};
use crate::signal::sweep::place::Located;
use crate::signal::sweep::{SweepReading, SweepSettings, Zone, span};

/// How many clean readings between two noisy ones still belong to one zone.
const BRIDGED: usize = 2;

/// A step must be this many times the usual one nearby to be a jump.
const JUMP_RATIO: f64 = 5.0;

/// A hand that turns back does so at most this many times as fast as it was turning, give and
/// take what one reading adds to the next.
const HAND: f64 = 3.0;

/// How many steps on each side are nearby.
const NEARBY: usize = 8;

/// A step below this part of the track is no movement.
const STILL: f64 = 0.002;

/// The reading stands still within this part of the track.
const FLAT: f64 = 0.002;

/// For this part of the pass, before it counts as a flat spot. An audio track at 5 % of its
/// resistance still goes on by three tenths of what the turn does: it passes this much of the
/// turn while the reading moves by twice [`FLAT`].
const FLAT_TIME: f64 = 0.015;

/// Where the display alone may make this much of the track, its digits stand still by themselves.
const COARSE: f64 = 0.01;

/// One pass as the finders need it.
#[derive(Debug, Clone, Copy)]
pub(super) struct View<'a> {
    pub(super) readings: &'a [SweepReading],
    pub(super) points: &'a [Located],
    pub(super) settings: &'a SweepSettings,
    pub(super) pass: usize,
}

impl View<'_> {
    /// What is wrong in the pass, breaks left out.
    pub(super) fn events(&self) -> Vec<Event> {
        let noisy = |point: &Located| {
            point.residual < self.settings.open
                && point.residual > self.settings.clean.max(point.floor)
        };
        let low = |point: &Located| -point.residual > self.settings.clean.max(point.floor);
        let mut events = self.runs(noisy, EventKind::NoisyZone);
        events.extend(self.runs(low, EventKind::Dip));
        events.extend(self.jumps());
        events.extend(self.flats());
        events
    }

    /// Whether a point is off the ends, where noise is judged.
    pub(super) fn off_the_ends(&self, point: &Located) -> bool {
        let mask = self.settings.mask;
        point.position >= mask && point.position <= 1.0 - mask
    }

    /// Stretches of readings beyond the limit.
    fn runs(&self, beyond: impl Fn(&Located) -> bool, kind: EventKind) -> Vec<Event> {
        let mut events = Vec::new();
        let mut run: Option<(usize, usize)> = None;
        for (place, point) in self.points.iter().enumerate() {
            if !(self.off_the_ends(point) && beyond(point)) {
                continue;
            }
            run = match run {
                Some((from, to)) if place - to <= BRIDGED + 1 => Some((from, place)),
                Some((from, to)) => {
                    events.extend(self.event(from, to, kind));
                    Some((place, place))
                }
                None => Some((place, place)),
            };
        }
        if let Some((from, to)) = run {
            events.extend(self.event(from, to, kind));
        }
        events
    }

    fn event(&self, from: usize, to: usize, kind: EventKind) -> Option<Event> {
        let points = self.points.get(from..=to)?;
        let height = points
            .iter()
            .map(|point| point.residual.abs())
            .filter(|height| *height < self.settings.open || kind == EventKind::Dip)
            .fold(0.0, f64::max);
        let bad = kind == EventKind::NoisyZone && height > self.settings.fail;
        let (first, last) = (points.first()?, points.last()?);
        let at = |place: usize| {
            let point = self.points.get(place)?;
            self.readings.get(point.index).map(|reading| reading.at)
        };
        let zone = points.iter().fold(
            Zone::between(first.position, last.position),
            |zone, point| zone.with(&Zone::between(point.position, point.position)),
        );
        Some(Event {
            kind,
            grade: if bad { Grade::Bad } else { Grade::Noisy },
            zone,
            from: at(from)?,
            to: at(to)?,
            at_least: span(at(from)?, at(to)?),
            at_most: span(
                at(from.saturating_sub(1))?,
                at((to + 1).min(self.points.len().saturating_sub(1)))?,
            ),
            height: Some(height),
            ohms: points.iter().map(|point| point.ohms).reduce(f64::max),
            readings: u32::try_from(points.len()).unwrap_or(u32::MAX),
            smooth: self.is_smooth(from, to),
            pass: self.pass,
        })
    }

    /// Whether a hand could have done it, by turning back about as fast as it was turning:
    /// no step of the residual is more than a few times the usual step of the hand.
    fn is_smooth(&self, from: usize, to: usize) -> bool {
        let part = |from: usize, to: usize| {
            let end = to.min(self.points.len().saturating_sub(1));
            self.points.get(from..=end).unwrap_or_default()
        };
        let steepest = part(from.saturating_sub(1), to + 1)
            .windows(2)
            .map(|pair| match pair {
                [one, other] => (other.residual - one.residual).abs(),
                _ => 0.0,
            })
            .fold(0.0, f64::max);
        let steps: Vec<f64> = part(from.saturating_sub(2 * NEARBY), to + 2 * NEARBY)
            .windows(2)
            .map(|pair| match pair {
                [one, other] => (other.position - one.position).abs(),
                _ => 0.0,
            })
            .filter(|step| *step > STILL / 4.0)
            .collect();
        median(&steps).is_some_and(|usual| steepest <= HAND * usual)
    }

    /// Sudden steps that stay.
    fn jumps(&self) -> Vec<Event> {
        let steps: Vec<f64> = self
            .points
            .windows(2)
            .map(|pair| match pair {
                [one, other] if other.index == one.index + 1 => {
                    (other.position - one.position).abs()
                }
                _ => 0.0,
            })
            .collect();
        let mut events = Vec::new();
        for (place, step) in steps.iter().enumerate() {
            if *step < self.settings.jump {
                continue;
            }
            let nearby: Vec<f64> = steps
                .iter()
                .enumerate()
                .take(place + NEARBY + 1)
                .skip(place.saturating_sub(NEARBY))
                .filter(|(other, size)| *other != place && **size > STILL)
                .map(|(_other, size)| *size)
                .collect();
            let usual = median(&nearby).filter(|_usual| nearby.len() >= NEARBY / 2);
            let inside = [place, place + 1]
                .iter()
                .filter_map(|place| self.points.get(*place))
                .all(|point| self.off_the_ends(point));
            if inside && usual.is_some_and(|usual| *step > JUMP_RATIO * usual) {
                events.extend(self.event(place, place + 1, EventKind::Jump).map(|event| {
                    Event {
                        height: Some(*step),
                        smooth: false,
                        ..event
                    }
                }));
            }
        }
        events
    }

    /// Where the reading stood still. A rest of the hand looks the same: only what comes again
    /// at the same place is kept later.
    fn flats(&self) -> Vec<Event> {
        let at = |place: usize| {
            let point = self.points.get(place)?;
            self.readings.get(point.index).map(|reading| reading.at)
        };
        let whole = at(0)
            .zip(at(self.points.len().saturating_sub(1)))
            .map_or(0.0, |(from, to)| span(from, to).0);
        let mut events = Vec::new();
        let mut from = 0;
        for place in 1..=self.points.len() {
            let still = self
                .points
                .get(place)
                .zip(self.points.get(from))
                .is_some_and(|(point, first)| (point.position - first.position).abs() <= FLAT);
            if still {
                continue;
            }
            let to = place - 1;
            let time = at(from)
                .zip(at(to))
                .map_or(0.0, |(from, to)| span(from, to).0);
            let inside = self
                .points
                .get(from)
                .is_some_and(|point| self.off_the_ends(point) && point.floor < COARSE);
            if inside && to > from && time >= FLAT_TIME * whole {
                events.extend(self.event(from, to, EventKind::Flat).map(|event| Event {
                    height: None,
                    ..event
                }));
            }
            from = place;
        }
        events
    }
}
