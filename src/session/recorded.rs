//! A recording as the events that made it.

use crate::record::{Mark, RawChunk, Row};
use crate::session::{Command, Event};

/// What is replayed.
#[derive(Debug)]
pub enum Recording {
    /// The readings as they were understood.
    Rows(Vec<Row>),
    /// The raw bytes, understood anew, with the marks of the table.
    Raw(Vec<RawChunk>, Vec<Row>),
}

/// The events of a recording in order.
pub fn events(recording: Recording) -> Vec<Event> {
    match recording {
        Recording::Rows(rows) => rows.into_iter().map(row_event).collect(),
        Recording::Raw(chunks, rows) => {
            let marks = rows.into_iter().filter(|row| matches!(row, Row::Mark(..)));
            let bytes = chunks
                .into_iter()
                .map(|RawChunk { at, bytes }| Event::Bytes { at, chunk: bytes });
            let mut events: Vec<Event> = marks.map(row_event).chain(bytes).collect();
            events.sort_by_key(|event| (event.at(), place_of(event)));
            events
        }
    }
}

/// Where an event stands among those of the same moment: a port opens before its bytes, and is
/// lost or at its end after them.
const fn place_of(event: &Event) -> u8 {
    match event {
        Event::Opened { .. }
        | Event::Command {
            command: Command::Confirm,
            ..
        } => 0,
        Event::Bytes { .. } | Event::Item { .. } => 1,
        Event::Lost { .. }
        | Event::Ended { .. }
        | Event::Tick { .. }
        | Event::Command {
            command: Command::Quit,
            ..
        } => 2,
    }
}

fn row_event(row: Row) -> Event {
    match row {
        Row::Item(at, item) => Event::Item { at, item },
        Row::Mark(at, Mark::Opened { mid_stream }) => Event::Opened {
            at,
            mid_stream,
            caution: None,
        },
        Row::Mark(at, Mark::Lost(why)) => Event::Lost { at, why },
        Row::Mark(at, Mark::Confirm) => Event::Command {
            at,
            command: Command::Confirm,
        },
        Row::Mark(at, Mark::Stopped) => Event::Command {
            at,
            command: Command::Quit,
        },
        Row::Mark(at, Mark::Ended) => Event::Ended { at },
        Row::Mark(at, Mark::Finished) => Event::Tick { at },
    }
}
