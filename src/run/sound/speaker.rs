//! The loudspeaker: one tune at a time through a player of the system.
//!
//! Nothing here waits: a player is started and looked after from the loop. One that cannot be
//! started, fails or does not end in time gives way to the next, which plays the cue again;
//! when none is left, that is told once and the bell has to do.

use std::collections::VecDeque;
use std::fs::{self, DirBuilder};
use std::io;
use std::os::unix::fs::DirBuilderExt as _;
use std::path::PathBuf;
use std::process::ExitStatus;
use std::time::{Duration, Instant};

use tokio::process::Child;

use crate::check::notice::Verdict;
use crate::run::sound::player::Player;
use crate::run::sound::tone::wave_file;
use crate::run::sound::tune::{CUES, notes, tune};
use crate::run::sound::waiting::Waiting;
use crate::run::wait::at;
use crate::session::Cue;

/// How much longer than its tune a player may take.
const GRACE: Duration = Duration::from_secs(2);

/// What a player did with its tune.
#[derive(Debug)]
pub(super) struct Played(Result<ExitStatus, String>);

/// What is to be done when no player is left.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Silenced {
    /// What went wrong, in words.
    pub(super) why: String,
    /// The cue that was not heard.
    pub(super) cue: Cue,
}

/// Plays cues.
#[derive(Debug)]
pub(super) struct Speaker {
    /// The one in use first.
    players: VecDeque<Player>,
    tunes: Tunes,
    waiting: Waiting,
    playing: Option<Playing>,
    /// What went wrong with the players before.
    failures: Vec<String>,
}

#[derive(Debug)]
struct Playing {
    cue: Cue,
    child: Child,
    /// When it must have ended.
    deadline: Instant,
}

impl Speaker {
    /// Makes the tunes ready.
    pub(super) fn new(players: Vec<Player>) -> io::Result<Self> {
        Ok(Self {
            players: players.into(),
            tunes: Tunes::write()?,
            waiting: Waiting::default(),
            playing: None,
            failures: Vec::new(),
        })
    }

    /// Lets a cue be heard, at once or as soon as may be.
    pub(super) fn cue(&mut self, cue: Cue, now: Instant) -> Result<(), Silenced> {
        self.waiting.push(cue, now);
        self.go_on(now)
    }

    /// Whether nothing is heard and nothing waits.
    pub(super) fn is_idle(&self) -> bool {
        self.playing.is_none() && self.waiting.is_empty()
    }

    /// Waits until the player has ended, or should have. May be dropped and called again.
    pub(super) async fn played(&mut self) -> Played {
        let Some(playing) = &mut self.playing else {
            return std::future::pending().await;
        };
        tokio::select! {
            ended = playing.child.wait() => Played(ended.map_err(|error| error.to_string())),
            () = at(Some(playing.deadline)) => {
                // It is reaped by the runtime once it is gone.
                drop(playing.child.start_kill());
                Played(Err("it does not end".to_owned()))
            }
        }
    }

    /// Goes on after a player has ended.
    pub(super) fn take(&mut self, played: Played, now: Instant) -> Result<(), Silenced> {
        let Some(playing) = self.playing.take() else {
            return Ok(());
        };
        let Played(outcome) = played;
        match outcome {
            Ok(status) if status.success() => {}
            Ok(status) => self.failed(playing.cue, &status.to_string(), now)?,
            Err(why) => self.failed(playing.cue, &why, now)?,
        }
        self.go_on(now)
    }

    /// Starts the next tune, if there is one and it is quiet.
    fn go_on(&mut self, now: Instant) -> Result<(), Silenced> {
        while self.playing.is_none() {
            let Some(player) = self.players.front() else {
                return Ok(());
            };
            let Some(cue) = self.waiting.next(now) else {
                return Ok(());
            };
            match player.command().arg(self.tunes.file(cue)).spawn() {
                Ok(child) => {
                    let deadline = now + length(cue) + GRACE;
                    self.playing = Some(Playing {
                        cue,
                        child,
                        deadline,
                    });
                }
                Err(error) => self.failed(cue, &error.to_string(), now)?,
            }
        }
        Ok(())
    }

    /// Gives the player up; the next one plays the cue, unless a newer one of its kind waits.
    fn failed(&mut self, cue: Cue, why: &str, now: Instant) -> Result<(), Silenced> {
        if let Some(player) = self.players.pop_front() {
            self.failures.push(format!("{}: {why}", player.name));
        }
        if self.players.is_empty() {
            let why = self.failures.join("; ");
            return Err(Silenced { why, cue });
        }
        self.waiting.retry(cue, now);
        Ok(())
    }
}

/// How long a cue is heard.
fn length(cue: Cue) -> Duration {
    let end = notes(cue).iter().map(|note| note.at + note.length).max();
    Duration::from_millis(end.unwrap_or(0).into())
}

/// The tunes as files, in a folder of this run's own that goes with it.
#[derive(Debug)]
struct Tunes {
    folder: PathBuf,
}

impl Tunes {
    fn write() -> io::Result<Self> {
        let folder = std::env::temp_dir().join(format!(
            "steadyohm-{}-{}",
            std::process::id(),
            uuid::Uuid::now_v7().simple()
        ));
        // Fails if there is one already, so nobody else's files are met.
        DirBuilder::new().mode(0o700).create(&folder)?;
        let tunes = Self { folder };
        for cue in CUES {
            fs::write(tunes.file(cue), wave_file(&tune(cue)))?;
        }
        Ok(tunes)
    }

    fn file(&self, cue: Cue) -> PathBuf {
        self.folder.join(match cue {
            Cue::Tick => "tick.wav",
            Cue::Ask => "ask.wav",
            Cue::StepDone => "step-done.wav",
            Cue::Break => "break.wav",
            Cue::Trouble => "trouble.wav",
            Cue::Verdict(Verdict::Pass) => "pass.wav",
            Cue::Verdict(Verdict::Fail) => "fail.wav",
            Cue::Verdict(Verdict::Retest) => "retest.wav",
        })
    }
}

impl Drop for Tunes {
    fn drop(&mut self) {
        // What cannot be removed, the system's own sweep of that place takes.
        drop(fs::remove_dir_all(&self.folder));
    }
}
