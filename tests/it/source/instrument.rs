//! An instrument's node. A pseudo-terminal stands in for it: it is a device node that is read
//! and written as a file, so the order of requests and replies is proven here; the driver's
//! own manners (time-outs, message boundaries) are not.

use steadyohm::source::{Pseudo, Where, open};

use super::{LIMIT, bytes, expect_lost, expect_open, sent, settings, within};

#[tokio::test]
async fn only_a_query_is_followed_by_a_read() {
    let mut meter = Pseudo::new().unwrap();
    let place = Where::Usbtmc(meter.path().to_owned());
    let mut link = within(open(&place, settings())).await.unwrap();
    expect_open(&mut link).await;
    // A read after the first two would wait for ever, and the third would not arrive.
    for message in ["*CLS\n", "CONF:RES\n", "READ?\n"] {
        link.outgoing.send(message.into()).await.unwrap();
    }
    assert_eq!(sent(&mut meter, 20).await, b"*CLS\nCONF:RES\nREAD?\n");
    meter.write(b"+3.18000000E-01\n", LIMIT).await.unwrap();
    assert_eq!(bytes(&mut link, 16).await, b"+3.18000000E-01\n");
    within(link.close(LIMIT)).await;
}

#[tokio::test]
async fn a_node_that_goes_is_lost() {
    let mut meter = Pseudo::new().unwrap();
    let place = Where::Usbtmc(meter.path().to_owned());
    let mut link = within(open(&place, settings())).await.unwrap();
    expect_open(&mut link).await;
    link.outgoing.send(b"READ?\n".to_vec()).await.unwrap();
    sent(&mut meter, 6).await;
    meter.close(LIMIT).await.unwrap();
    let why = expect_lost(&mut link).await;
    assert!(why.contains("unplugged or hung up"), "{why}");
}

#[tokio::test]
async fn a_plain_file_is_no_instrument() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let place = Where::Usbtmc(file.path().to_owned());
    let sentence = within(open(&place, settings()))
        .await
        .unwrap_err()
        .to_string();
    assert!(sentence.contains("is not a USBTMC node"), "{sentence}");
}
