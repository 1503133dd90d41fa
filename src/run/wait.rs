//! What the loop waits for besides its channels.

use std::time::Instant;

use tokio::time::sleep_until;

use crate::run::Companion;
use crate::session::Command;

/// Waits for a moment, or for ever.
pub(super) async fn at(moment: Option<Instant>) {
    match moment {
        Some(moment) => sleep_until(moment.into()).await,
        None => std::future::pending().await,
    }
}

pub(super) async fn next_command(companion: Option<&mut Companion>) -> Command {
    match companion {
        Some(companion) => companion.next_command().await,
        None => std::future::pending().await,
    }
}

/// Listens from now on for the program being asked to stop from outside; the future waits for
/// it.
pub(super) fn stopped() -> impl Future<Output = ()> {
    use tokio::signal::unix::{SignalKind, signal};
    let asked = |kind| {
        let listening = signal(kind);
        async move {
            match listening {
                Ok(mut signal) => {
                    signal.recv().await;
                }
                // Without the handler the signal ends the process, as anywhere else.
                Err(_unavailable) => std::future::pending().await,
            }
        }
    };
    let interrupt = asked(SignalKind::interrupt());
    let terminate = asked(SignalKind::terminate());
    let hangup = asked(SignalKind::hangup());
    async move {
        tokio::select! {
            () = interrupt => {}
            () = terminate => {}
            () = hangup => {}
        }
    }
}
