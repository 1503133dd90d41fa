//! The continuity tone: sounds as long as the reading is closed.
//!
//! A player reads the tone from its standard input as fast as it plays it. When the reading
//! opens the player is ended, and what it has in store with it: the tone stops at once, however
//! much a player likes to store, at the price of an end that is cut off.
#![expect(
    clippy::disallowed_methods,
    reason = "the tone has a task and a clock of its own"
)]

use std::collections::VecDeque;
use std::process::Stdio;
use std::time::Duration;

use tokio::io::AsyncWriteExt as _;
use tokio::process::{Child, ChildStdin};
use tokio::sync::{oneshot, watch};
use tokio::task::JoinHandle;
use tokio::time::{Instant, sleep_until, timeout};

use crate::run::sound::player::Player;
use crate::run::sound::tone::{bytes, soften, steady};

/// The tone's pitch in hertz: none of the tunes', and not tiring.
const PITCH: u32 = 587;
/// Its height, as a part of the greatest: the tunes must be heard over it.
const LEVEL: f64 = 0.3;
/// The shortest time from one start of a player to the next: contact that chatters must not
/// start a flood of them.
const AGAIN: Duration = Duration::from_millis(150);
/// How long its last player may take to go.
const PARTING: Duration = Duration::from_millis(500);

/// A continuity tone.
#[derive(Debug)]
pub(super) struct Hum {
    closed: watch::Sender<bool>,
    /// Told once, when no player is left.
    silenced: Option<oneshot::Receiver<String>>,
    task: JoinHandle<()>,
}

impl Hum {
    /// Starts it, silent.
    pub(super) fn start(players: Vec<Player>) -> Self {
        let (closed, listening) = watch::channel(false);
        let (tell, silenced) = oneshot::channel();
        let task = tokio::spawn(async move {
            if let Err(why) = attend(listening, players.into()).await {
                // The run may be over.
                drop(tell.send(why));
            }
        });
        Self {
            closed,
            silenced: Some(silenced),
            task,
        }
    }

    /// What the reading shows now.
    pub(super) fn show(&self, closed: bool) {
        self.closed.send_if_modified(|was| {
            let changed = *was != closed;
            *was = closed;
            changed
        });
    }

    /// Waits for the last player to fail, and tells why. May be dropped and called again.
    pub(super) async fn silenced(&mut self) -> String {
        if let Some(told) = &mut self.silenced {
            let told = told.await;
            self.silenced = None;
            if let Ok(why) = told {
                return why;
            }
        }
        std::future::pending().await
    }

    /// Ends it.
    pub(super) async fn end(self) {
        let Self {
            closed, mut task, ..
        } = self;
        drop(closed);
        if timeout(PARTING, &mut task).await.is_err() {
            task.abort();
        }
    }
}

/// Sounds whenever closed, until the run ends; an error when no player is left.
async fn attend(
    mut closed: watch::Receiver<bool>,
    mut players: VecDeque<Player>,
) -> Result<(), String> {
    let mut failures = Vec::new();
    let mut earliest = Instant::now();
    while let Some(player) = players.front() {
        sleep_until(earliest).await;
        let in_vain = closed.wait_for(|closed| *closed).await.is_err();
        // The run may have ended on a closed reading, which then still stands.
        if in_vain || closed.has_changed().is_err() {
            return Ok(());
        }
        earliest = Instant::now() + AGAIN;
        if let Err(why) = sound(player, &mut closed).await {
            failures.push(format!("{}: {why}", player.name));
            players.pop_front();
        }
    }
    Err(failures.join("; "))
}

/// Sounds until the reading opens or the run ends; an error if the player does not play.
async fn sound(player: &Player, closed: &mut watch::Receiver<bool>) -> Result<(), String> {
    let mut child = player
        .command()
        .stdin(Stdio::piped())
        .spawn()
        .map_err(|error| error.to_string())?;
    let input = child.stdin.take();
    let sounded = tokio::select! {
        biased;
        _ = closed.wait_for(|closed| !*closed) => Ok(()),
        why = refused(&mut child, input) => Err(why),
    };
    end(child).await;
    sounded
}

/// Feeds a player until it takes no more; tells how it ended.
async fn refused(child: &mut Child, input: Option<ChildStdin>) -> String {
    feed(input).await;
    // Most have ended, or are about to.
    match timeout(PARTING, child.wait()).await {
        Ok(Ok(status)) => status.to_string(),
        Ok(Err(error)) => error.to_string(),
        Err(_still_there) => "it takes no more samples".to_owned(),
    }
}

/// Writes the tone until nobody takes it any more; a full pipe is waited for.
async fn feed(input: Option<ChildStdin>) {
    let Some(mut input) = input else { return };
    let tone = steady(PITCH, LEVEL);
    let mut begun = tone.clone();
    soften(&mut begun);
    let mut next: Vec<u8> = bytes(&begun).collect();
    let again: Vec<u8> = bytes(&tone).collect();
    while input.write_all(&next).await.is_ok() {
        next.clone_from(&again);
    }
}

/// Ends a player and waits for it, so that none is left behind.
async fn end(mut child: Child) {
    // It may have ended already.
    drop(child.start_kill());
    drop(child.wait().await);
}
