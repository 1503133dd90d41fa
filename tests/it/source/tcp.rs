//! Sockets on the loopback: bytes, loss, return, and the end of a link.

use steadyohm::source::{Link, Where, open};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

use super::{bytes, expect_lost, expect_open, settings, within};

async fn linked() -> (TcpListener, TcpStream, Link) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let place = Where::Tcp {
        host: "127.0.0.1".to_owned(),
        port,
    };
    let mut link = within(open(&place, settings())).await.unwrap();
    assert_eq!(expect_open(&mut link).await, None);
    let (meter, _) = within(listener.accept()).await.unwrap();
    (listener, meter, link)
}

#[tokio::test]
async fn requests_go_and_replies_come() {
    let (_listener, mut meter, mut link) = linked().await;
    link.outgoing.send(b"READ?\n".to_vec()).await.unwrap();
    let mut request = [0; 6];
    within(meter.read_exact(&mut request)).await.unwrap();
    assert_eq!(&request, b"READ?\n");
    meter.write_all(b"+3.18000000E-01\r\n").await.unwrap();
    assert_eq!(bytes(&mut link, 17).await, b"+3.18000000E-01\r\n");
}

#[tokio::test]
async fn a_meter_switched_off_and_on_is_found_again() {
    let (listener, meter, mut link) = linked().await;
    let address = listener.local_addr().unwrap();
    drop((listener, meter));
    let why = expect_lost(&mut link).await;
    assert!(why.contains("closed the connection"), "{why}");
    let listener = TcpListener::bind(address).await.unwrap();
    expect_open(&mut link).await;
    let (mut meter, _) = within(listener.accept()).await.unwrap();
    meter.write_all(b"1\n").await.unwrap();
    assert_eq!(bytes(&mut link, 2).await, b"1\n");
}

#[tokio::test]
async fn a_dropped_link_closes_its_socket() {
    let (_listener, mut meter, link) = linked().await;
    drop(link);
    assert_eq!(within(meter.read(&mut [0; 1])).await.unwrap(), 0);
}
