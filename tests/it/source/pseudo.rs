//! The simulated port: what is written is read, or it is told.

use std::time::Duration;

use steadyohm::source::{Pseudo, SourceError};

use super::{LIMIT, bytes, expect_lost, expect_open, link_to, within};

/// Long enough for any write that does not wait for a reader.
const SHORT: Duration = Duration::from_millis(50);

#[tokio::test]
async fn the_last_bytes_before_closing_are_read() {
    let mut meter = Pseudo::new().unwrap();
    let path = meter.path().to_owned();
    meter.write(b"last reading", LIMIT).await.unwrap();
    let closing = tokio::spawn(meter.close(LIMIT));
    let mut link = link_to(&path).await;
    expect_open(&mut link).await;
    assert_eq!(bytes(&mut link, 12).await, b"last reading");
    expect_lost(&mut link).await;
    within(closing).await.unwrap().unwrap();
}

#[tokio::test]
async fn closing_tells_what_nobody_read() {
    let mut meter = Pseudo::new().unwrap();
    let path = meter.path().to_owned();
    meter.write(b"last reading", LIMIT).await.unwrap();
    let fault = meter.close(SHORT).await.unwrap_err();
    assert_eq!(fault, SourceError::Stalled { path, unread: 12 });
}

#[tokio::test]
async fn a_meter_nobody_reads_stalls_without_tearing_a_frame() {
    let frame = |number: usize| format!("frame {number:05}\r\n").into_bytes();
    let mut meter = Pseudo::new().unwrap();
    let mut taken = 0;
    let fault = loop {
        match meter.write(&frame(taken), SHORT).await {
            Ok(()) => taken += 1,
            Err(fault) => break fault,
        }
    };
    assert!(
        matches!(fault, SourceError::Stalled { unread: 1.., .. }),
        "{fault:?}"
    );
    assert!(
        fault.to_string().contains("nobody reads /dev/pts/"),
        "{fault}"
    );
    // Again, on top of a frame that may have been begun.
    meter.write(b"never sent\r\n", SHORT).await.unwrap_err();

    let mut link = link_to(meter.path()).await;
    expect_open(&mut link).await;
    let whole: Vec<u8> = (0..taken).flat_map(frame).collect();
    let mut got = bytes(&mut link, whole.len()).await;
    meter.write(b"the end\r\n", LIMIT).await.unwrap();
    while !got.ends_with(b"the end\r\n") {
        got.extend(bytes(&mut link, 1).await);
    }
    let rest = got
        .strip_prefix(&whole[..])
        .expect("every frame taken is read");
    let begun = [&frame(taken)[..], b"the end\r\n"].concat();
    assert!(rest == begun || rest == b"the end\r\n", "{rest:?}");
}

#[tokio::test]
async fn stale_readings_can_be_thrown_away() {
    let mut meter = Pseudo::new().unwrap();
    meter.write(b"stale\r\n", LIMIT).await.unwrap();
    assert_eq!(meter.unread(), 7);
    meter.discard_unread().unwrap();
    assert_eq!(meter.unread(), 0);
    let mut link = link_to(meter.path()).await;
    expect_open(&mut link).await;
    meter.write(b"fresh\r\n", LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 7).await, b"fresh\r\n");
}
