//! All that is heard of a run: the terminal's bell, a tune for each cue, the continuity tone.

mod hum;
mod player;
mod speaker;
mod tone;
mod tune;
mod waiting;

use std::io::{self, IsTerminal as _};
use std::time::{Duration, Instant};

use crate::check::notice::{Notice, Trouble};
use crate::reading::{Annunciator, Measured, Ohms};
use crate::run::bell::Bell;
use crate::run::voice;
use crate::run::wait::at;
use crate::session::Cue;
use hum::Hum;
use player::Player;
use speaker::{Silenced, Speaker};

/// What is to be heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Loudness {
    /// Bell and tunes, at a terminal; nothing into a pipe.
    #[default]
    Auto,
    /// The terminal's bell alone.
    Bell,
    /// Tunes, also without a terminal; the bell where no player plays them.
    Tones,
    /// Nothing.
    Off,
}

/// How a run is heard.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hearing {
    /// What is to be heard.
    pub loudness: Loudness,
    /// A tone sounds as long as the reading is at most this.
    pub continuity: Option<Ohms>,
}

impl Hearing {
    /// Nothing is heard.
    pub const SILENT: Self = Self {
        loudness: Loudness::Off,
        continuity: None,
    };
}

/// What is heard.
#[derive(Debug)]
pub(super) struct Sound {
    bell: Bell,
    /// Whether the bell is rung.
    rings: bool,
    at_terminal: bool,
    speaker: Option<Speaker>,
    hum: Option<Hum>,
    /// A reading up to this is closed.
    closed: Ohms,
    /// What is to be told, latest first.
    cautions: Vec<String>,
}

impl Sound {
    /// The longest time that the last tune is waited for.
    const LAST: Duration = Duration::from_secs(4);

    /// Nothing is heard.
    pub(super) fn silent() -> Self {
        Self {
            bell: Bell::default(),
            rings: false,
            at_terminal: false,
            speaker: None,
            hum: None,
            closed: Ohms(0.0),
            cautions: Vec::new(),
        }
    }

    /// Looks for what can be played with, once.
    pub(super) fn start(hearing: Hearing) -> Self {
        // The bell goes to the terminal, never into a pipe.
        let at_terminal = io::stderr().is_terminal();
        let mut sound = Self {
            at_terminal,
            rings: at_terminal && matches!(hearing.loudness, Loudness::Auto | Loudness::Bell),
            ..Self::silent()
        };
        match hearing.loudness {
            Loudness::Off => return sound,
            Loudness::Auto if at_terminal => sound.speak(false),
            Loudness::Tones => sound.speak(true),
            Loudness::Auto | Loudness::Bell => {}
        }
        if let Some(closed) = hearing.continuity {
            sound.closed = closed;
            sound.hum();
        }
        sound
    }

    /// Starts the speaker; that there is none is told only to who asked for it.
    fn speak(&mut self, asked: bool) {
        let players = Player::for_files();
        if players.is_empty() {
            if asked {
                self.silenced(&format!(
                    "no player is on this system's PATH (one of {})",
                    Player::file_names()
                ));
            }
            return;
        }
        match Speaker::new(players) {
            Ok(speaker) => self.speaker = Some(speaker),
            Err(error) => self.silenced(&format!("they cannot be kept as files: {error}")),
        }
    }

    fn hum(&mut self) {
        let players = Player::for_streams();
        if players.is_empty() {
            self.cautions.push(format!(
                "no continuity tone: no player that reads samples from its standard input is \
                 on this system's PATH (one of {})",
                Player::stream_names()
            ));
            return;
        }
        self.hum = Some(Hum::start(players));
    }

    /// Lets a cue be heard.
    pub(super) fn cue(&mut self, cue: Cue, now: Instant) {
        if self.rings {
            self.bell.cue(cue, now);
        }
        if let Some(speaker) = &mut self.speaker {
            let done = speaker.cue(cue, now);
            self.heard(done, now);
        }
    }

    /// Lets the continuity tone follow what is told of the meter.
    pub(super) fn follow(&self, notice: &Notice, muted: bool) {
        let Some(hum) = &self.hum else { return };
        match notice {
            Notice::Reading(reading) => {
                hum.show(!muted && is_closed(&reading.measured, self.closed));
            }
            // What the meter showed last is not what it would show now.
            Notice::Trouble {
                what: Trouble::Stalled | Trouble::Lost,
                ..
            }
            | Notice::Verdict(_) => hum.show(false),
            _ => {}
        }
    }

    /// Goes on with what is heard; gives what the operator should know. May be dropped and
    /// called again.
    pub(super) async fn go_on(&mut self) -> Option<String> {
        if let Some(caution) = self.cautions.pop() {
            return Some(caution);
        }
        let stroke = self.bell.next();
        tokio::select! {
            () = at(stroke) => {
                voice::ring();
                self.bell.rung();
            }
            played = played(self.speaker.as_mut()) => {
                let now = now();
                let done = match &mut self.speaker {
                    Some(speaker) => speaker.take(played, now),
                    None => Ok(()),
                };
                self.heard(done, now);
            }
            why = silenced(self.hum.as_mut()) => {
                self.hum = None;
                self.cautions.push(format!("no continuity tone: no player plays ({why})"));
            }
        }
        self.cautions.pop()
    }

    /// Lets what was begun be heard to its end, at the end of a run; gives what was to be told.
    pub(super) async fn finish(&mut self) -> Vec<String> {
        if let Some(hum) = self.hum.take() {
            hum.end().await;
        }
        let mut told = Vec::new();
        let last = tokio::time::sleep(Self::LAST);
        tokio::pin!(last);
        while self.is_heard() {
            tokio::select! {
                caution = self.go_on() => told.extend(caution),
                () = &mut last => break,
            }
        }
        told.append(&mut self.cautions);
        told
    }

    fn is_heard(&self) -> bool {
        let speaks = self
            .speaker
            .as_ref()
            .is_some_and(|speaker| !speaker.is_idle());
        speaks || self.bell.next().is_some()
    }

    /// Gives the speaker up when it has no player left.
    fn heard(&mut self, done: Result<(), Silenced>, now: Instant) {
        let Err(Silenced { why, cue }) = done else {
            return;
        };
        self.speaker = None;
        let rang = self.rings;
        self.silenced(&why);
        if self.rings && !rang {
            self.bell.cue(cue, now);
        }
    }

    /// Tells that there are no tunes, and lets the bell stand in.
    fn silenced(&mut self, why: &str) {
        self.rings = self.at_terminal;
        let instead = if self.rings {
            "the bell is heard instead"
        } else {
            "nothing is heard instead, since there is no terminal to ring"
        };
        self.cautions
            .push(format!("tones cannot be played: {why}; {instead}"));
    }
}

/// Whether a reading is one of a closed conductor, live and on ohms.
fn is_closed(measured: &Measured, most: Ohms) -> bool {
    let stored = [
        Annunciator::Hold,
        Annunciator::Minimum,
        Annunciator::Maximum,
    ];
    let live = !stored.iter().any(|mark| measured.annunciators.has(*mark));
    live && measured.ohms().is_some_and(|ohms| ohms <= most)
}

async fn played(speaker: Option<&mut Speaker>) -> speaker::Played {
    match speaker {
        Some(speaker) => speaker.played().await,
        None => std::future::pending().await,
    }
}

async fn silenced(hum: Option<&mut Hum>) -> String {
    match hum {
        Some(hum) => hum.silenced().await,
        None => std::future::pending().await,
    }
}

#[expect(clippy::disallowed_methods, reason = "the next tune is timed from now")]
fn now() -> Instant {
    Instant::now()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Annunciators, Decimal, Magnitude, Quantity};

    #[test]
    fn only_a_live_low_resistance_is_closed() {
        let half = |annunciators| Measured {
            quantity: Quantity::Resistance,
            magnitude: Magnitude::Number(Decimal {
                digits: 5,
                exponent: -1,
            }),
            resolution: Some(-1),
            annunciators,
        };
        let live = half(Annunciators::NONE);
        assert!(is_closed(&live, Ohms(10.0)));
        assert!(is_closed(&live, Ohms(0.5)));
        assert!(!is_closed(&live, Ohms(0.4)));
        for mark in [
            Annunciator::Hold,
            Annunciator::Minimum,
            Annunciator::Maximum,
        ] {
            let stored = half(Annunciators::NONE.with(mark));
            assert!(!is_closed(&stored, Ohms(10.0)), "{mark:?}");
        }
        let volts = Measured {
            quantity: Quantity::DirectVoltage,
            ..live
        };
        assert!(!is_closed(&volts, Ohms(10.0)));
        for magnitude in [Magnitude::Over { beyond: None }, Magnitude::Blank] {
            assert!(!is_closed(&Measured { magnitude, ..live }, Ohms(10.0)));
        }
    }
}
