//! Serial ports opened by path: bytes, modem lines, hang-up and return.

use std::os::unix::fs::symlink;
use std::path::PathBuf;
use std::sync::Mutex;
use std::time::Duration;

use serialport::{SerialPortInfo, SerialPortType, UsbPortInfo};
use steadyohm::protocol::{Parity, SerialSettings};
use steadyohm::source::{LinkSettings, PortEvent, Pseudo, Where, open};

use super::{
    LIMIT, bytes, expect_lost, expect_open, link_to, next, next_stamped, sent, settings, within,
};

#[tokio::test]
async fn bytes_go_both_ways_unchanged() {
    let mut meter = Pseudo::new().unwrap();
    let mut link = link_to(meter.path()).await;
    assert_eq!(expect_open(&mut link).await, None);
    let every: Vec<u8> = (0..=255).collect();
    meter.write(&every, LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 256).await, every);
    link.outgoing.send(every.clone()).await.unwrap();
    link.outgoing.send(b"READ?\n".to_vec()).await.unwrap();
    assert_eq!(
        sent(&mut meter, 262).await,
        [&every[..], b"READ?\n"].concat()
    );
}

#[tokio::test]
async fn a_port_without_modem_lines_is_cautioned_and_keeps_its_bytes() {
    let mut meter = Pseudo::new().unwrap();
    meter.write(b"before", LIMIT).await.unwrap();
    let lines_asked = SerialSettings {
        baud: 2400,
        data_bits: 7,
        parity: Parity::Odd,
        dtr: Some(true),
        rts: Some(false),
        // Were this waited for, the limit would pass.
        settle_ms: 60_000,
        ..SerialSettings::default()
    };
    let place = Where::Serial(meter.path().to_owned());
    let settings = LinkSettings {
        serial: lines_asked,
        ..settings()
    };
    let mut link = within(open(&place, settings)).await.unwrap();
    let caution = expect_open(&mut link).await.expect("a caution");
    assert!(caution.contains("no modem lines"), "{caution}");
    assert!(
        caution.contains(&*meter.path().to_string_lossy()),
        "{caution}"
    );
    // A pseudo-terminal strips nothing at 7 bits: what a decoder gets is what was written.
    meter.write(b"\xb1", LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 7).await, b"before\xb1");
}

#[tokio::test]
async fn a_port_that_hangs_up_is_lost_once_and_found_again() {
    let folder = tempfile::tempdir().unwrap();
    let port = folder.path().join("meter");
    let first = Pseudo::new().unwrap();
    symlink(first.path(), &port).unwrap();
    let mut link = link_to(&port).await;
    expect_open(&mut link).await;

    // The name goes with the device, as a device's node does.
    std::fs::remove_file(&port).unwrap();
    first.close(LIMIT).await.unwrap();
    let why = expect_lost(&mut link).await;
    assert!(why.contains("unplugged or hung up"), "{why}");
    // More than the queue holds: it must be taken and thrown away meanwhile.
    for _ in 0..40 {
        within(link.outgoing.send(b"too soon".to_vec()))
            .await
            .unwrap();
    }

    let mut second = Pseudo::new().unwrap();
    let new = folder.path().join("new");
    symlink(second.path(), &new).unwrap();
    std::fs::rename(&new, &port).unwrap();
    // The very next event: no second loss, no word of the tries between.
    expect_open(&mut link).await;
    second.write(b"0012.3\r\n", LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 8).await, b"0012.3\r\n");
    link.outgoing.send(b"now".to_vec()).await.unwrap();
    assert_eq!(sent(&mut second, 3).await, b"now");
}

/// Which adapters there are now, by node and serial number: what the system would list.
static PLUGGED: Mutex<Vec<(PathBuf, &str)>> = Mutex::new(Vec::new());

fn plugged() -> Vec<SerialPortInfo> {
    let adapter = |(node, number): &(PathBuf, &str)| SerialPortInfo {
        port_name: node.display().to_string(),
        port_type: SerialPortType::UsbPort(UsbPortInfo {
            vid: 0x1209,
            pid: 1,
            serial_number: Some((*number).to_owned()),
            manufacturer: None,
            product: None,
        }),
    };
    PLUGGED.lock().unwrap().iter().map(adapter).collect()
}

/// The list of adapters is made up, the ports are real: the meter comes back under another
/// node, while another adapter has taken its old one.
#[tokio::test]
async fn an_adapter_is_found_again_under_another_node() {
    let first = Pseudo::new().unwrap();
    let old = first.path().to_owned();
    let mut second = Pseudo::new().unwrap();
    *PLUGGED.lock().unwrap() = vec![(old.clone(), "A")];
    let settings = LinkSettings {
        listing: plugged,
        ..settings()
    };
    let mut link = within(open(&Where::Serial(old.clone()), settings))
        .await
        .unwrap();
    expect_open(&mut link).await;

    *PLUGGED.lock().unwrap() = Vec::new();
    first.close(LIMIT).await.unwrap();
    expect_lost(&mut link).await;
    // The system gives the lowest free number: the old node now is another adapter's.
    let _another = Pseudo::new().unwrap();
    *PLUGGED.lock().unwrap() = vec![(old.clone(), "B"), (second.path().to_owned(), "A")];
    expect_open(&mut link).await;
    second.write(b"0012.3\r\n", LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 8).await, b"0012.3\r\n");
}

#[tokio::test]
async fn stamps_never_run_backwards() {
    let mut meter = Pseudo::new().unwrap();
    let mut link = link_to(meter.path()).await;
    let mut last = next_stamped(&mut link).await.at;
    for _ in 0..50 {
        meter.write(b"x", LIMIT).await.unwrap();
        let stamped = next_stamped(&mut link).await;
        assert_eq!(stamped.event, PortEvent::Bytes(b"x".to_vec()));
        assert!(stamped.at >= last);
        last = stamped.at;
    }
    assert!(last.micros() > 0 && last.seconds() < LIMIT.as_secs_f64());
}

#[tokio::test]
async fn a_closed_link_has_sent_everything_and_frees_its_port() {
    let mut meter = Pseudo::new().unwrap();
    let mut link = link_to(meter.path()).await;
    expect_open(&mut link).await;
    for message in ["SYST:LOC\n", "*CLS\n"] {
        link.outgoing.send(message.into()).await.unwrap();
    }
    link.close(LIMIT).await;
    assert_eq!(sent(&mut meter, 14).await, b"SYST:LOC\n*CLS\n");
    // The exclusive lock is gone, and the meter's end has noticed nothing.
    let mut again = link_to(meter.path()).await;
    expect_open(&mut again).await;
    meter.write(b"on", LIMIT).await.unwrap();
    assert_eq!(next(&mut again).await, PortEvent::Bytes(b"on".to_vec()));
}

#[tokio::test]
async fn a_meter_that_takes_nothing_is_still_read() {
    let mut meter = Pseudo::new().unwrap();
    let mut link = link_to(meter.path()).await;
    expect_open(&mut link).await;
    // More than the system's buffer holds, and nobody reads it at the meter.
    link.outgoing.send(vec![b'?'; 1 << 18]).await.unwrap();
    meter.write(b"0.32\n", LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 5).await, b"0.32\n");
    // Closing does not wait for it beyond its patience.
    within(link.close(Duration::from_millis(20))).await;
}
