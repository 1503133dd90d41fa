//! Breaks of one pass: flicker among them, and the bins they concern.

use crate::signal::sweep::event::{Event, EventKind};
use crate::signal::sweep::{BinState, Pass, SweepSettings, Zone, bins, span};

/// How many breaks make a flicker.
const ENTRIES: usize = 3;

/// The breaks of a pass, those that follow one another within the window put together.
pub(super) fn with_flicker(breaks: &[Event], settings: &SweepSettings) -> Vec<Event> {
    let mut events = Vec::new();
    let mut run: Vec<Event> = Vec::new();
    let mut finish = |run: &mut Vec<Event>| {
        let merged = run.iter().copied().reduce(|one, other| Event {
            kind: EventKind::Flicker,
            zone: one.zone.with(&other.zone),
            to: other.to,
            at_least: span(one.from, other.to),
            at_most: span(one.from, other.to).max(one.at_most),
            ohms: match (one.ohms, other.ohms) {
                (Some(one), Some(other)) => Some(one.max(other)),
                _ => None,
            },
            readings: one.readings.saturating_add(other.readings),
            ..one
        });
        match merged {
            Some(event) if run.len() >= ENTRIES => events.push(event),
            _ => events.extend(run.iter().copied()),
        }
        run.clear();
    };
    for event in breaks {
        let apart = run
            .last()
            .is_some_and(|last| span(last.to, event.from).0 > settings.flicker.0 / 2.0);
        if apart {
            finish(&mut run);
        }
        run.push(*event);
    }
    finish(&mut run);
    events
}

/// Marks the bins where contact was lost.
pub(super) fn mark_open(pass: &mut Pass, breaks: &[Event], settings: &SweepSettings) {
    for event in breaks {
        for state in states_of(&mut pass.bins, &event.zone, settings) {
            state.open = true;
        }
    }
}

/// The bins of a stretch.
pub(super) fn states_of<'a>(
    states: &'a mut [BinState],
    zone: &Zone,
    settings: &SweepSettings,
) -> impl Iterator<Item = &'a mut BinState> {
    let from = bins::index(zone.from, settings.bins);
    let to = bins::index(zone.to, settings.bins);
    states.iter_mut().take(to + 1).skip(from)
}
