//! Breaks of a sweep, told from the meter's own range changes.

use crate::signal::median;
use crate::signal::sweep::event::{Event, EventKind, Grade};
use crate::signal::sweep::place::Stretch;
use crate::signal::sweep::{Direction, Level, SweepReading, SweepSettings, Track, Zone, span};

/// Readings without contact, or without a value, between two good ones.
#[derive(Debug, Clone, Copy)]
struct Gap {
    /// The last good reading before, the first and last of the gap, the first good one after.
    before: usize,
    first: usize,
    last: usize,
    after: usize,
    /// Over-range on a range that shows the whole control, or on one that is not told.
    over: bool,
    /// Over-range on a lower range.
    low_over: bool,
    /// The largest number in it.
    number: Option<f64>,
}

/// What all the gaps of a sweep come to.
#[derive(Debug, Clone, Default)]
pub(super) struct Gaps {
    pub(super) breaks: Vec<Event>,
    /// Stretches hidden by range changes, with their pass.
    pub(super) hidden: Vec<(usize, Zone)>,
    pub(super) range_changes: u32,
    pub(super) range_readings: u32,
    /// Where contact was last seen, if the sweep ended without it.
    pub(super) ended_open: Option<f64>,
}

/// What is known of each reading.
struct Known {
    /// Pass, position and residual of readings on a pass.
    on_pass: Vec<Option<(usize, f64, f64)>>,
    /// The position of every reading, rests taking that of the nearest pass.
    position: Vec<f64>,
    /// The pass of every reading, rests taking that of the one before.
    pass: Vec<usize>,
    /// The same, rests taking that of the one after.
    next_pass: Vec<usize>,
}

/// Finds the gaps of a sweep.
pub(super) fn find<T: Track + ?Sized>(
    readings: &[SweepReading],
    stretches: &[Stretch],
    track: &T,
    settings: &SweepSettings,
) -> Gaps {
    let known = Known::of(readings.len(), stretches);
    let limits = Limits {
        counts: display_counts(readings, settings),
        // Where the reading turns by itself, it may have been up and be down again.
        turns_at: (track.peak() > 0.0 && track.peak() < 1.0).then(|| track.highest().0),
        peak: Some(track.peak()).filter(|peak| *peak > 0.0 && *peak < 1.0),
    };
    let mut gaps = Gaps::default();
    if stretches.is_empty() {
        return gaps;
    }
    let mut before: Option<usize> = None;
    let mut open: Option<Gap> = None;
    for (index, reading) in readings.iter().enumerate() {
        match standing(index, reading, &known, track, settings) {
            Standing::Good => {
                if let Some(gap) = open.take() {
                    let gap = Gap {
                        after: index,
                        ..gap
                    };
                    gaps.close(&gap, readings, &known, (stretches, settings, limits));
                }
                before = Some(index);
            }
            Standing::Lost { over, number } => {
                let low = over && is_low_range(reading, limits, track.highest().0);
                let Some(before) = before else { continue };
                let gap = open.get_or_insert(Gap {
                    before,
                    first: index,
                    last: index,
                    after: index,
                    over: false,
                    low_over: false,
                    number: None,
                });
                gap.last = index;
                gap.over |= over && !low;
                gap.low_over |= low;
                gap.number = match (gap.number, number) {
                    (Some(one), Some(other)) => Some(one.max(other)),
                    (one, other) => one.or(other),
                };
            }
        }
    }
    gaps.ended_open = open
        .filter(|gap| gap.over || gap.low_over || gap.number.is_some())
        .and_then(|gap| known.position.get(gap.before).copied());
    gaps
}

/// What the meter and the circuit can show.
#[derive(Debug, Clone, Copy)]
struct Limits {
    counts: Option<f64>,
    turns_at: Option<f64>,
    /// Where it does.
    peak: Option<f64>,
}

enum Standing {
    Good,
    Lost { over: bool, number: Option<f64> },
}

fn standing<T: Track + ?Sized>(
    index: usize,
    reading: &SweepReading,
    known: &Known,
    track: &T,
    settings: &SweepSettings,
) -> Standing {
    let Some(ohms) = reading.ohms() else {
        return Standing::Lost {
            over: reading.is_over(),
            number: None,
        };
    };
    let on_pass = known.on_pass.get(index).copied().flatten();
    let lost = match (on_pass, track.open_reading()) {
        (Some((_, position, residual)), open) => {
            let reads_open = open.is_some_and(|open| {
                // An open wiper reads the whole track: near the end that reads so anyway,
                // nothing can be told.
                ohms >= 0.97 * open.0 && track.reading(position).0 < 0.9 * open.0
            });
            residual >= settings.open || reads_open
        }
        (None, _) => ohms > track.highest().0 + settings.open * track.total().0,
    };
    if lost {
        Standing::Lost {
            over: false,
            number: Some(ohms),
        }
    } else {
        Standing::Good
    }
}

impl Known {
    fn of(count: usize, stretches: &[Stretch]) -> Self {
        let mut on_pass = vec![None; count];
        for (pass, stretch) in stretches.iter().enumerate() {
            for point in &stretch.points {
                if let Some(place) = on_pass.get_mut(point.index) {
                    *place = Some((pass, point.position, point.residual));
                }
            }
        }
        let first = on_pass.iter().flatten().next().copied();
        let mut last = first.unwrap_or((0, 0.0, 0.0));
        let mut position = Vec::with_capacity(count);
        let mut pass = Vec::with_capacity(count);
        for known in &on_pass {
            last = known.unwrap_or(last);
            pass.push(last.0);
            position.push(last.1);
        }
        let mut following = pass.last().copied().unwrap_or(0);
        let mut next_pass: Vec<usize> = on_pass
            .iter()
            .rev()
            .map(|known| {
                following = known.map_or(following, |(pass, ..)| pass);
                following
            })
            .collect();
        next_pass.reverse();
        Self {
            on_pass,
            position,
            pass,
            next_pass,
        }
    }

    fn place(&self, index: usize) -> f64 {
        self.position.get(index).copied().unwrap_or(0.0)
    }
}

impl Gaps {
    fn close(
        &mut self,
        gap: &Gap,
        readings: &[SweepReading],
        known: &Known,
        (stretches, settings, limits): (&[Stretch], &SweepSettings, Limits),
    ) {
        let (from, to) = (known.place(gap.before), known.place(gap.after));
        let pass_before = known.pass.get(gap.before).copied().unwrap_or(0);
        let pass_after = known.next_pass.get(gap.after).copied().unwrap_or(0);
        let way = |pass: usize| stretches.get(pass).map(|stretch| stretch.direction);
        let mut gap = *gap;
        // Through the peak the reading may have been up there and be down again.
        let one_side = limits.peak.is_none_or(|peak| (from < peak) == (to < peak));
        gap.over |= gap.low_over && one_side && stays_on_range(&gap, readings);
        let gap = &gap;
        let ranged = gap.number.is_none()
            && ((gap.low_over && !gap.over)
                || is_range_change(gap, readings, settings, limits));
        let readings_lost = u32::try_from(gap.last - gap.first + 1).unwrap_or(u32::MAX);
        if ranged {
            self.range_changes = self.range_changes.saturating_add(1);
            self.range_readings = self.range_readings.saturating_add(readings_lost);
        }
        if ranged || !(gap.over || gap.number.is_some()) {
            self.hidden.push((pass_before, Zone::between(from, to)));
            return;
        }
        let zone = if pass_before == pass_after || way(pass_before) == way(pass_after) {
            Zone::between(from, to)
        } else {
            // The hand turned round while there was no contact: nothing was seen beyond.
            match way(pass_before) {
                Some(Direction::Up) => Zone::between(from.min(to), 1.0),
                _ => Zone::between(0.0, from.max(to)),
            }
        };
        let at = |index: usize| readings.get(index).map(|reading| reading.at);
        let (Some(first), Some(last), Some(before), Some(after)) =
            (at(gap.first), at(gap.last), at(gap.before), at(gap.after))
        else {
            return;
        };
        self.breaks.push(Event {
            kind: EventKind::Break,
            grade: Grade::Bad,
            zone,
            from: first,
            to: last,
            at_least: span(first, last),
            at_most: span(before, after),
            height: None,
            ohms: gap.number.filter(|_ohms| !gap.over),
            readings: readings_lost,
            pass: pass_before,
            smooth: false,
        });
    }
}

/// Whether an over-range reading is on a range below what the control reads: it proves only that
/// there is more than that range, and a meter on its way up its ranges shows it.
fn is_low_range(reading: &SweepReading, limits: Limits, highest: f64) -> bool {
    let told = match reading.level {
        Level::Over(scale) => scale,
        _ => None,
    };
    let scale = told.or_else(|| Some(limits.counts? * reading.resolution?));
    scale.is_some_and(|scale| scale < 0.98 * highest)
}

/// Whether the range is the same before, in and after a gap: then it was not the meter's.
fn stays_on_range(gap: &Gap, readings: &[SweepReading]) -> bool {
    let resolution = |index: usize| readings.get(index).and_then(|reading| reading.resolution);
    let before = resolution(gap.before);
    before.is_some()
        && before == resolution(gap.after)
        && (gap.first..=gap.last)
            .all(|index| resolution(index).is_none_or(|r| Some(r) == before))
}

/// Whether the meter was only changing its range: the last good reading stood near the end of
/// its range, the next one is on another, and the gap is no longer than the meter needs.
fn is_range_change(
    gap: &Gap,
    readings: &[SweepReading],
    settings: &SweepSettings,
    limits: Limits,
) -> bool {
    let (Some(before), Some(after)) = (readings.get(gap.before), readings.get(gap.after))
    else {
        return false;
    };
    let (Some(last), Some(next)) = (before.ohms(), after.ohms()) else {
        return false;
    };
    if span(before.at, after.at).0 > settings.settling.0 {
        return false;
    }
    let told = readings
        .get(gap.first)
        .and_then(|reading| match reading.level {
            Level::Over(scale) => scale,
            _ => None,
        });
    let (was, is) = (before.resolution, after.resolution);
    let scale = told.or_else(|| Some(limits.counts? * was?));
    let Some(scale) = scale else { return false };
    // Near the end of the range is what the hand passes between two readings, or a third.
    let intervals = f64::from(u32::try_from(gap.after - gap.before).unwrap_or(u32::MAX));
    let reach = (1.5 * (next - last) / intervals).max(0.3 * scale);
    let coarser = was.zip(is).is_none_or(|(was, is)| is > 1.5 * was);
    let finer = was.zip(is).is_some_and(|(was, is)| is < 0.7 * was);
    let up = next > last && coarser && next >= 0.98 * scale && last + reach >= scale;
    // On the way down a meter shows blanks; over-range there is none of its doing.
    let down = next < last && finer && !gap.over && last <= 0.2 * scale;
    let turned = limits.turns_at.is_some_and(|top| top >= 0.98 * scale)
        && coarser
        && last + (1.5 * usual_step(readings, gap.before)).max(0.1 * scale) >= scale;
    up || down || turned
}

/// The median step between the readings before a place, in ohms.
fn usual_step(readings: &[SweepReading], before: usize) -> f64 {
    let recent: Vec<f64> = readings
        .iter()
        .take(before.saturating_add(1))
        .skip(before.saturating_sub(5))
        .filter_map(SweepReading::ohms)
        .collect();
    let steps: Vec<f64> = recent
        .windows(2)
        .map(|pair| match pair {
            [one, other] => (other - one).abs(),
            _ => 0.0,
        })
        .collect();
    median(&steps).unwrap_or(0.0)
}

/// How many counts the display has: told, or the most it has shown.
fn display_counts(readings: &[SweepReading], settings: &SweepSettings) -> Option<f64> {
    settings.display_counts.or_else(|| {
        readings
            .iter()
            .filter_map(|reading| Some(reading.ohms()? / reading.resolution?))
            .filter(|counts| counts.is_finite())
            .reduce(f64::max)
    })
}
