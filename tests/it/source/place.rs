//! Places as they are written: every form of `--from`, and back.

use std::path::PathBuf;

use proptest::prelude::*;
use steadyohm::source::Where;

#[test]
fn places_are_read_as_the_contract_writes_them() {
    let serial = |path: &str| Where::Serial(PathBuf::from(path));
    let usbtmc = |path: &str| Where::Usbtmc(PathBuf::from(path));
    let recording = |path: &str| Where::Recording(PathBuf::from(path));
    let tcp = |host: &str, port| Where::Tcp {
        host: host.to_owned(),
        port,
    };
    for (text, place) in [
        ("serial:/dev/ttyUSB0", serial("/dev/ttyUSB0")),
        ("/dev/ttyUSB0", serial("/dev/ttyUSB0")),
        // udev names ports by their path on the bus, with colons.
        (
            "/dev/serial/by-path/pci-0000:00:14.0-usb-0:1:1.0-port0",
            serial("/dev/serial/by-path/pci-0000:00:14.0-usb-0:1:1.0-port0"),
        ),
        ("serial:odd.csv", serial("odd.csv")),
        ("usbtmc:/dev/usbtmc0", usbtmc("/dev/usbtmc0")),
        ("/dev/usbtmc0", usbtmc("/dev/usbtmc0")),
        ("usbtmc:/dev/bench-meter", usbtmc("/dev/bench-meter")),
        ("tcp://bench-meter:5025", tcp("bench-meter", 5025)),
        ("tcp://192.0.2.7:5025/", tcp("192.0.2.7", 5025)),
        // RFC 3986, section 3.2.2: an IPv6 address stands in brackets.
        ("tcp://[2001:db8::7]:5025", tcp("2001:db8::7", 5025)),
        ("-", Where::StandardInput),
        ("./-", serial("./-")),
        ("lead-12.csv", recording("lead-12.csv")),
        ("kept/2024/LEAD.CSV", recording("kept/2024/LEAD.CSV")),
    ] {
        assert_eq!(text.parse(), Ok(place.clone()), "{text}");
        assert_eq!(place.to_string().parse(), Ok(place), "{text} again");
    }
}

#[test]
fn what_names_no_place_is_refused_with_the_reason() {
    for (text, reason) in [
        ("", "empty"),
        ("serial:", "path is missing"),
        ("usbtmc:", "path is missing"),
        ("tcp://", "port number is missing"),
        ("tcp://bench-meter", "port number is missing"),
        ("tcp://:5025", "host's name"),
        ("tcp://two words:5025", "host's name"),
        ("tcp://bench-meter:0", "1 to 65535"),
        ("tcp://bench-meter:65536", "1 to 65535"),
        ("tcp://bench-meter:+5025", "1 to 65535"),
        ("tcp://bench-meter:", "1 to 65535"),
        ("tcp://::1:5025", "brackets"),
        ("tcp://[::1:5025", "brackets"),
        ("tcp://[bench-meter]:5025", "brackets"),
        ("http://bench-meter:80", "only tcp://"),
    ] {
        let sentence = text.parse::<Where>().unwrap_err().to_string();
        assert!(sentence.contains(reason), "{text}: {sentence}");
        assert!(sentence.contains("tcp://HOST:PORT"), "{sentence}");
    }
}

proptest! {
    #[test]
    fn whatever_is_read_reads_back(text in "(serial:|usbtmc:|tcp://|)[ -~é]{0,12}(:[0-9]{1,5}|\\.csv|)") {
        if let Ok(place) = text.parse::<Where>() {
            prop_assert_eq!(place.to_string().parse::<Where>(), Ok(place));
        }
    }

    #[test]
    fn every_socket_reads_back(host in "[a-z0-9.-]{1,20}|[0-9a-f]{1,4}(:[0-9a-f]{0,4}){2,7}", port in 1_u16..) {
        let place = Where::Tcp { host, port };
        prop_assert_eq!(place.to_string().parse::<Where>(), Ok(place));
    }
}
