//! A recording through the same session that a live run drives.

use crate::check::notice::Notice;
use crate::reading::Stamp;
use crate::run::{RunError, Voice, quietly};
use crate::session::{Effect, Event, Outcome, Recording, Session, events};

/// Replays a recording through a fresh session; tells the same as the live run did.
pub fn replay(
    mut session: Session,
    recorded: Recording,
    voice: Voice,
    recording: Option<&str>,
) -> Result<Outcome, RunError> {
    let mut last = Stamp::START;
    for event in events(recorded) {
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
                if outcome.is_watch() {
                    quietly(voice.sum_up(session))?;
                }
                return Ok(Some(outcome));
            }
            Effect::Send(_) | Effect::Record(_) | Effect::Cue(_) => {}
        }
    }
    Ok(None)
}
