//! What happened on single passes, put together by place: what comes again at the same place is
//! the track, what wanders is the wiper or the probes.

use crate::signal::sweep::event::{Cause, Event, EventKind, Finding, Grade};
use crate::signal::sweep::{Direction, Pass, SweepSettings, Zone, bins};

/// A flat spot must come again this near, as a part of the track.
const SAME_FLAT: f64 = 0.004;

/// What a hand could have done must come on every pass, and on so many at least.
const EVERY_PASS: usize = 4;

/// The findings of all passes, worst first.
pub(super) fn findings(passes: &[Pass], settings: &SweepSettings) -> Vec<Finding> {
    let mut clusters: Vec<Vec<Event>> = Vec::new();
    let mut events: Vec<Event> = passes
        .iter()
        .flat_map(|pass| pass.events.iter().copied())
        .collect();
    // Narrow events first, so that a wide one joins them and does not swallow two.
    events.sort_by(|one, other| one.zone.width().total_cmp(&other.zone.width()));
    for event in events {
        let home = clusters.iter_mut().find(|cluster| {
            cluster.iter().any(|member| {
                family(member.kind) == family(event.kind)
                    && member.zone.meets(&event.zone, slack(event.kind, settings))
            })
        });
        match home {
            Some(cluster) => cluster.push(event),
            None => clusters.push(vec![event]),
        }
    }
    let mut found: Vec<Finding> = clusters
        .into_iter()
        .filter_map(|events| finding(events, passes, settings))
        .collect();
    tell_moving(&mut found);
    found.retain(|finding| {
        finding.kind != EventKind::Flat || (finding.confirmed && finding.cause == Cause::Track)
    });
    found.sort_by(|one, other| {
        let rank = |finding: &Finding| (finding.grade, finding.confirmed);
        rank(other)
            .cmp(&rank(one))
            .then(one.zone.from.total_cmp(&other.zone.from))
    });
    found
}

/// Kinds that may be one fault.
const fn family(kind: EventKind) -> u8 {
    match kind {
        EventKind::Break | EventKind::Flicker | EventKind::NoisyZone => 0,
        EventKind::Jump => 1,
        EventKind::Dip => 2,
        EventKind::Flat => 3,
    }
}

const fn slack(kind: EventKind, settings: &SweepSettings) -> f64 {
    match kind {
        EventKind::Flat => SAME_FLAT,
        _ => settings.same_place,
    }
}

fn finding(
    mut events: Vec<Event>,
    passes: &[Pass],
    settings: &SweepSettings,
) -> Option<Finding> {
    events.sort_by_key(|event| (event.pass, event.from));
    let worst = events
        .iter()
        .copied()
        .min_by_key(|event| (std::cmp::Reverse(event.grade), event.kind))?;
    let zone = common(&events)?;
    let mut seen: Vec<usize> = events.iter().map(|event| event.pass).collect();
    seen.dedup();
    let watched: Vec<usize> = (0..passes.len())
        .filter(|index| seen.contains(index) || reads(passes.get(*index), &zone, settings))
        .collect();
    let mut bad: Vec<usize> = events
        .iter()
        .filter(|event| event.grade == Grade::Bad)
        .map(|event| event.pass)
        .collect();
    bad.dedup();
    let came_again = seen.len() >= 2;
    // A hand that turns back a little now and then is not seen at one place on every pass.
    let beyond_the_hand = events.iter().filter(|event| !event.smooth);
    let mut sharp: Vec<usize> = beyond_the_hand.map(|event| event.pass).collect();
    sharp.dedup();
    let steady = sharp.len() >= 2
        || (worst.kind == EventKind::Flat && stands_again(&seen, &watched))
        || (seen.len() >= EVERY_PASS
            && seen.len() == watched.len()
            && shared(&events).is_some());
    Some(Finding {
        kind: worst.kind,
        grade: worst.grade,
        zone,
        cause: cause(&zone, (&seen, &watched), passes, settings),
        confirmed: came_again && steady,
        seen: seen.len(),
        bad: bad.len(),
        watched: watched.len(),
        height: events
            .iter()
            .filter_map(|event| event.height)
            .reduce(f64::max),
        events,
    })
}

/// Whether the reading stood at one level, to within [`SAME_FLAT`], on so many passes that no
/// hand rests there by chance: three, and two in three.
fn stands_again(seen: &[usize], watched: &[usize]) -> bool {
    seen.len() >= 3 && 3 * seen.len() >= 2 * watched.len()
}

/// The stretch all events share.
fn shared(events: &[Event]) -> Option<Zone> {
    events
        .iter()
        .map(|event| event.zone)
        .reduce(|one, other| Zone {
            from: one.from.max(other.from),
            to: one.to.min(other.to),
        })
        .filter(|zone| zone.from <= zone.to)
}

/// The stretch all events share, or else the one that holds them all.
fn common(events: &[Event]) -> Option<Zone> {
    shared(events).or_else(|| {
        events
            .iter()
            .map(|event| event.zone)
            .reduce(|one, other| one.with(&other))
    })
}

/// Whether a pass has a reading there.
fn reads(pass: Option<&Pass>, zone: &Zone, settings: &SweepSettings) -> bool {
    let (from, to) = (
        bins::index(zone.from, settings.bins),
        bins::index(zone.to, settings.bins),
    );
    pass.is_some_and(|pass| {
        pass.bins
            .iter()
            .take(to + 1)
            .skip(from)
            .any(|bin| bin.readings > 0)
    })
}

fn cause(
    zone: &Zone,
    (seen, watched): (&[usize], &[usize]),
    passes: &[Pass],
    settings: &SweepSettings,
) -> Cause {
    let has = |list: &[usize], direction: Direction| {
        list.iter()
            .filter_map(|index| passes.get(*index))
            .any(|pass| pass.direction == direction)
    };
    let both = |list: &[usize]| has(list, Direction::Up) && has(list, Direction::Down);
    if zone.to <= settings.mask {
        Cause::LowEnd
    } else if zone.from >= 1.0 - settings.mask {
        Cause::HighEnd
    } else if seen.len() < 2 {
        Cause::Once
    } else if both(seen) || !both(watched) {
        Cause::Track
    } else {
        Cause::OneWay
    }
}

/// Single faults on several passes, each at a place of its own, are one fault that moves.
fn tell_moving(found: &mut [Finding]) {
    for family_of in 0..2 {
        let mut passes: Vec<usize> = found
            .iter()
            .filter(|finding| finding.cause == Cause::Once && family(finding.kind) == family_of)
            .flat_map(|finding| finding.events.iter().map(|event| event.pass))
            .collect();
        passes.sort_unstable();
        passes.dedup();
        if passes.len() < 2 {
            continue;
        }
        for finding in found.iter_mut() {
            if finding.cause == Cause::Once && family(finding.kind) == family_of {
                finding.cause = Cause::Moving;
            }
        }
    }
}
