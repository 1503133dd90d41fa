//! What a first open says when it fails: one sentence, with what to do.

use std::path::{Path, PathBuf};
use std::process::Command;

use steadyohm::protocol::SerialSettings;
use steadyohm::source::{LinkSettings, Pseudo, SourceError, Where, group_of, open, ports};
use tokio::net::TcpListener;

use super::{expect_open, link_to, refusal, settings, within};

#[tokio::test]
async fn a_port_that_cannot_be_opened_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("notes.txt");
    std::fs::write(&file, "0.32\n").unwrap();
    let absent = folder.path().join("ttyUSB0");
    for (path, reason) in [
        (absent.as_path(), "there is no port at"),
        (folder.path(), "is a folder, not a port"),
        (file.as_path(), "is not a serial port"),
        (Path::new("/dev/null"), "is not a serial port"),
    ] {
        let (_, sentence) = refusal(&Where::Serial(path.to_owned())).await;
        assert!(sentence.contains(reason), "{sentence}");
        assert!(sentence.contains(&*path.to_string_lossy()), "{sentence}");
        assert!(sentence.contains("`steadyohm ports`"), "{sentence}");
    }
}

#[tokio::test]
async fn a_port_in_use_is_not_called_unplugged() {
    let meter = Pseudo::new().unwrap();
    let mut link = link_to(meter.path()).await;
    expect_open(&mut link).await;
    let (fault, sentence) = refusal(&Where::Serial(meter.path().to_owned())).await;
    let path = meter.path().to_owned();
    let by = "this very program".to_owned();
    assert_eq!(fault, SourceError::Busy { path, by });
    assert!(
        sentence.contains("in use by this very program"),
        "{sentence}"
    );
}

#[tokio::test]
async fn settings_no_port_can_have_are_named() {
    let meter = Pseudo::new().unwrap();
    let serial = SerialSettings {
        baud: 2400,
        data_bits: 9,
        ..SerialSettings::default()
    };
    let place = Where::Serial(meter.path().to_owned());
    let settings = LinkSettings {
        serial,
        ..settings()
    };
    let sentence = within(open(&place, settings))
        .await
        .unwrap_err()
        .to_string();
    assert!(sentence.contains("does not take 2400 9N1"), "{sentence}");
}

#[tokio::test]
async fn a_socket_that_cannot_be_reached_says_why() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    drop(listener);
    let host = "127.0.0.1".to_owned();
    let (fault, sentence) = refusal(&Where::Tcp { host, port }).await;
    assert!(matches!(fault, SourceError::Refused { .. }), "{fault:?}");
    assert!(sentence.contains("remote control"), "{sentence}");
    // A label is at most 63 octets long (RFC 1035, section 2.3.4), so nobody has this name.
    let host = "x".repeat(64);
    let (fault, sentence) = refusal(&Where::Tcp { host, port: 5025 }).await;
    assert!(
        matches!(fault, SourceError::UnknownHost { .. }),
        "{fault:?}"
    );
    assert!(sentence.contains("check the spelling"), "{sentence}");
}

#[tokio::test]
async fn a_recording_is_not_opened_as_a_port() {
    let place = Where::Recording(PathBuf::from("lead.csv"));
    let (_, sentence) = refusal(&place).await;
    assert!(sentence.contains("`steadyohm replay`"), "{sentence}");
}

#[test]
fn the_owning_group_is_what_stat_says() {
    // GNU coreutils' stat is the outside here.
    for path in ["/dev/null", "/dev/tty", "/etc/passwd"] {
        let told = Command::new("stat").args(["-L", "-c", "%G", path]).output();
        let told = String::from_utf8(told.unwrap().stdout).unwrap();
        assert_eq!(
            group_of(Path::new(path)).as_deref(),
            Some(told.trim()),
            "{path}"
        );
    }
    assert_eq!(group_of(Path::new("/nowhere/at/all")), None);
}

#[test]
fn ports_are_listed_usb_first_and_exist() {
    let listed = ports().unwrap();
    assert!(listed.is_sorted_by_key(|port| port.kind));
    for port in &listed {
        assert!(
            port.path.exists() && !port.description.is_empty(),
            "{port:?}"
        );
    }
}
