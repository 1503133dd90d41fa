//! All that a sweep shows, from its readings and the circuit they were taken in.

use crate::reading::{Ohms, Seconds};
use crate::signal::sweep::gaps::Gaps;
use crate::signal::sweep::place::{Located, Stretch};
use crate::signal::sweep::zones::View;
use crate::signal::sweep::{
    BinState, Event, Finding, Pass, Residual, SweepReading, SweepSettings, Track, TrackBin,
    Zone, bins, cut, faults, gaps, group, place, span,
};

/// What a sweep showed, and what it could not have shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// The passes, in order of time.
    pub passes: Vec<Pass>,
    /// The track from the low end, over all passes.
    pub bins: Vec<TrackBin>,
    /// Faults, worst first.
    pub findings: Vec<Finding>,
    /// The mean time between readings; `None` below two readings.
    pub interval: Option<Seconds>,
    /// Over-range or blank moments that were the meter's own range changes.
    pub range_changes: u32,
    /// Readings lost in them.
    pub range_readings: u32,
    /// Contact lost and not found again before the readings ended: where it was last seen.
    /// A lifted probe looks the same.
    pub ended_open: Option<f64>,
    /// The largest reading of a sound sweep, by the circuit.
    pub highest: Ohms,
    /// Readings beyond the capacity, which were not looked at.
    pub dropped: usize,
}

impl Analysis {
    /// The part of the track read on at least so many passes.
    pub fn coverage(&self, passes: usize) -> f64 {
        bins::covered(&self.bins, passes)
    }

    /// Stretches without a reading on at least so many passes: they are not passed.
    pub fn unread(&self, passes: usize) -> Vec<Zone> {
        let mut zones: Vec<Zone> = Vec::new();
        for bin in self.bins.iter().filter(|bin| bin.passes < passes) {
            match zones.last_mut() {
                Some(last) if (last.to - bin.zone.from).abs() < 1e-9 => last.to = bin.zone.to,
                _ => zones.push(bin.zone),
            }
        }
        zones
    }

    /// The largest track residual off the ends, in parts of the total, over all passes.
    pub fn residual(&self) -> Option<f64> {
        self.passes
            .iter()
            .filter_map(|pass| pass.residual)
            .map(|residual| residual.part)
            .reduce(f64::max)
    }

    /// Whether a locked range would help, in a sentence.
    pub fn range_advice(&self) -> Option<String> {
        (self.range_readings >= 2).then(|| {
            format!(
                "{} readings were lost while the meter changed its range: lock the range that \
                 shows {}",
                self.range_readings, self.highest
            )
        })
    }
}

/// Looks at a whole sweep. Never fails: readings that make no sweep give an analysis without
/// passes.
pub fn analyse<T: Track + ?Sized>(
    readings: &[SweepReading],
    track: &T,
    settings: &SweepSettings,
) -> Analysis {
    let legs = cut::legs(readings, track, settings.turn);
    let stretches = place::stretches(readings, &legs, track, settings);
    let gaps = gaps::find(readings, &stretches, track, settings);
    let mut passes: Vec<Pass> = stretches
        .iter()
        .enumerate()
        .filter_map(|(index, stretch)| {
            let view = View {
                readings,
                points: &stretch.points,
                settings,
                pass: index,
            };
            pass(&view, stretch, &gaps)
        })
        .collect();
    for (index, pass) in passes.iter_mut().enumerate() {
        let breaks = gaps.breaks.iter().filter(|event| event.pass == index);
        let breaks: Vec<Event> = breaks.copied().collect();
        faults::mark_open(pass, &breaks, settings);
        pass.events.extend(faults::with_flicker(&breaks, settings));
        pass.events.sort_by_key(|event| event.from);
    }
    Analysis {
        bins: bins::over(&passes, settings.bins),
        findings: group::findings(&passes, settings),
        interval: interval(readings),
        range_changes: gaps.range_changes,
        range_readings: gaps.range_readings,
        ended_open: gaps.ended_open,
        highest: track.highest(),
        dropped: 0,
        passes,
    }
}

fn pass(view: &View<'_>, stretch: &Stretch, gaps: &Gaps) -> Option<Pass> {
    let (first, last) = (stretch.points.first()?, stretch.points.last()?);
    let at = |point: &Located| view.readings.get(point.index).map(|reading| reading.at);
    let good = |point: &&Located| point.residual < view.settings.open;
    let seen = stretch.points.iter().filter(good);
    let mut states = vec![BinState::default(); usize::from(view.settings.bins)];
    for point in seen.clone() {
        if let Some(state) = states.get_mut(bins::index(point.position, view.settings.bins)) {
            state.readings = state.readings.saturating_add(1);
            if view.off_the_ends(point) {
                state.residual = state.residual.max(point.residual);
            }
        }
    }
    let hidden: Vec<Zone> = gaps
        .hidden
        .iter()
        .filter(|(pass, _zone)| *pass == view.pass)
        .map(|(_pass, zone)| *zone)
        .collect();
    for zone in &hidden {
        for state in faults::states_of(&mut states, zone, view.settings) {
            state.hidden = true;
        }
    }
    let residual = seen
        .clone()
        .filter(|point| view.off_the_ends(point))
        .max_by(|one, other| one.residual.total_cmp(&other.residual))
        .and_then(|point| {
            Some(Residual {
                part: point.residual.max(0.0),
                position: point.position,
                at: at(point)?,
            })
        });
    let zone = seen.clone().fold(
        Zone::between(first.position, last.position),
        |zone, point| zone.with(&Zone::between(point.position, point.position)),
    );
    Some(Pass {
        direction: stretch.direction,
        from: at(first)?,
        to: at(last)?,
        zone,
        start: Ohms(first.ohms),
        end: Ohms(last.ohms),
        readings: u32::try_from(seen.clone().count()).unwrap_or(u32::MAX),
        bins: states,
        residual,
        widest_step: widest_step(view),
        hidden,
        events: view.events(),
    })
}

/// The largest step between good readings that followed one another on the pass, lost readings
/// between them included: what lay there was not seen.
fn widest_step(view: &View<'_>) -> Option<Residual> {
    let good: Vec<&Located> = view
        .points
        .iter()
        .filter(|point| point.residual < view.settings.open)
        .collect();
    good.windows(2)
        .filter_map(|pair| match pair {
            [one, other] => Some(Residual {
                part: (other.position - one.position).abs(),
                position: f64::midpoint(one.position, other.position),
                at: view.readings.get(other.index)?.at,
            }),
            _ => None,
        })
        .max_by(|one, other| one.part.total_cmp(&other.part))
}

fn interval(readings: &[SweepReading]) -> Option<Seconds> {
    let (first, last) = (readings.first()?, readings.last()?);
    let steps = u32::try_from(readings.len() - 1).ok().filter(|n| *n > 0)?;
    Some(Seconds(span(first.at, last.at).0 / f64::from(steps)))
}
