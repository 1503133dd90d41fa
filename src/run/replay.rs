//! A recording through the same session that a live run drives.

use crate::check::notice::Notice;
use crate::reading::Stamp;
use crate::record::{Mark, RawChunk, Row};
use crate::run::{RunError, Voice, quietly};
use crate::session::{Command, Effect, Event, Outcome, Session, Setup};

/// What is replayed.
#[derive(Debug)]
pub enum Source {
    /// The readings as they were understood.
    Rows(Vec<Row>),
    /// The raw bytes, understood anew, with the marks of the table.
    Raw(Vec<RawChunk>, Vec<Row>),
}

/// Replays a recording; tells the same as the live run did.
pub fn replay(
    setup: Setup,
    source: Source,
    voice: Voice,
    recording: Option<&str>,
) -> Result<Outcome, RunError> {
    let mut session = Session::new(setup);
    let mut last = Stamp::START;
    for event in events(source) {
        last = event.at();
        if let Some(outcome) = take(&mut session, event, voice, recording)? {
            return Ok(outcome);
        }
    }
    let ended = Event::Ended { at: last };
    Ok(take(&mut session, ended, voice, recording)?.unwrap_or(Outcome::Watched))
}

fn take(
    session: &mut Session,
    event: Event,
    voice: Voice,
    recording: Option<&str>,
) -> Result<Option<Outcome>, RunError> {
    for effect in session.update(event) {
        match effect {
            Effect::Emit(notice) => {
                let named = recording.filter(|_| matches!(notice, Notice::Verdict(_)));
                quietly(voice.say(&notice, named))?;
            }
            Effect::Finish(outcome) => {
                if outcome == Outcome::Watched {
                    quietly(voice.sum_up(session))?;
                }
                return Ok(Some(outcome));
            }
            Effect::Send(_) | Effect::Record(_) | Effect::Cue(_) => {}
        }
    }
    Ok(None)
}

/// The events of a recording in order.
pub(super) fn events(source: Source) -> Vec<Event> {
    match source {
        Source::Rows(rows) => rows.into_iter().map(row_event).collect(),
        Source::Raw(chunks, rows) => {
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
