//! The edge, with real parts: pseudo-terminals opened by path, TCP sockets, files.

#![expect(
    clippy::disallowed_methods,
    reason = "the edge is tested with the clock it runs by"
)]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a helper of a test fails as the test does"
)]

mod instrument; // an instrument's node, stood in for by a pseudo-terminal
mod place; // places as they are written
mod pseudo; // the simulated port
mod refusals; // what a first open says when it fails
mod serial; // serial ports, lost and found
mod tcp; // sockets, lost and found

use std::future::Future;
use std::path::Path;
use std::time::{Duration, Instant};

use steadyohm::protocol::SerialSettings;
use steadyohm::source::{
    Link, LinkSettings, PortEvent, Pseudo, SourceError, Stamped, Where, open,
};

/// Far beyond what any of this takes: it only turns a hang into a failure.
const LIMIT: Duration = Duration::from_secs(20);

/// The settings of a link that is looked for often.
fn settings() -> LinkSettings {
    LinkSettings {
        reopen_every: Duration::from_millis(5),
        ..LinkSettings::new(SerialSettings::default(), Instant::now())
    }
}

async fn within<T>(work: impl Future<Output = T>) -> T {
    tokio::time::timeout(LIMIT, work).await.expect("it hangs")
}

/// A link to a serial port that opens.
async fn link_to(path: &Path) -> Link {
    let place = Where::Serial(path.to_owned());
    within(open(&place, settings())).await.unwrap()
}

/// The sentence of a first open that fails.
async fn refusal(place: &Where) -> (SourceError, String) {
    let fault = within(open(place, settings())).await.unwrap_err();
    let sentence = fault.to_string();
    (fault, sentence)
}

async fn next(link: &mut Link) -> PortEvent {
    next_stamped(link).await.event
}

async fn next_stamped(link: &mut Link) -> Stamped {
    within(link.events.recv())
        .await
        .expect("the link has ended")
}

/// Takes `count` bytes; anything else that happens before is a failure.
async fn bytes(link: &mut Link, count: usize) -> Vec<u8> {
    let mut got = Vec::new();
    while got.len() < count {
        match next(link).await {
            PortEvent::Bytes(more) => got.extend(more),
            other => panic!("{other:?} after {got:?}"),
        }
    }
    got
}

async fn expect_open(link: &mut Link) -> Option<String> {
    match next(link).await {
        PortEvent::Opened {
            mid_stream: true,
            caution,
        } => caution,
        other => panic!("{other:?}"),
    }
}

async fn expect_lost(link: &mut Link) -> String {
    match next(link).await {
        PortEvent::Lost { why } => why,
        other => panic!("{other:?}"),
    }
}

/// Takes `count` bytes that the program sent.
async fn sent(meter: &mut Pseudo, count: usize) -> Vec<u8> {
    let mut got = Vec::new();
    while got.len() < count {
        got.extend(within(meter.read()).await.unwrap());
    }
    got
}
