//! Which adapter a serial port is, so that it is found again under another name.
//!
//! A USB adapter that is pulled and put back may come back as another node: its old one is
//! still held, or was given away meanwhile. Its USB numbers stay.

use std::path::{Path, PathBuf};

use tokio_serial::{SerialPortInfo, SerialPortType};

use super::SourceError;

/// Tells which serial ports there are now.
pub type Listing = fn() -> Vec<SerialPortInfo>;

/// An adapter, by the path it was opened by and by what it is.
#[derive(Debug)]
pub(super) struct Adapter {
    path: PathBuf,
    identity: Option<Identity>,
    listing: Listing,
}

impl Adapter {
    /// The adapter at a path.
    pub(super) fn at(path: &Path, listing: Listing) -> Self {
        Self {
            path: path.to_path_buf(),
            identity: Identity::of(path, &listing()),
            listing,
        }
    }

    /// Where it is now, if it is there: the path it was named by may be gone, or another's, and
    /// another adapter is not taken for it.
    pub(super) fn node(&self) -> Result<PathBuf, SourceError> {
        let Some(own) = &self.identity else {
            return Ok(self.path.clone());
        };
        let listed = (self.listing)();
        if Identity::of(&self.path, &listed).as_ref() == Some(own) {
            return Ok(self.path.clone());
        }
        let gone = || SourceError::NoSuchPort {
            path: self.path.clone(),
        };
        own.find(&listed).ok_or_else(gone)
    }
}

/// The USB numbers of an adapter.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Identity {
    vendor: u16,
    product: u16,
    serial: Option<String>,
}

impl Identity {
    /// The adapter behind a path, by way of any symbolic link; none if it is not on USB.
    fn of(path: &Path, listed: &[SerialPortInfo]) -> Option<Self> {
        let node = path
            .canonicalize()
            .unwrap_or_else(|_gone| path.to_path_buf());
        listed
            .iter()
            .find(|port| Path::new(&port.port_name) == node)
            .and_then(Self::of_port)
    }

    /// Where the adapter is now. Without a serial number of its own it is only taken for the
    /// same if no other of its kind is there.
    fn find(&self, listed: &[SerialPortInfo]) -> Option<PathBuf> {
        let mut same = listed
            .iter()
            .filter(|port| Self::of_port(port).as_ref() == Some(self));
        let first = same.next()?;
        same.next()
            .is_none()
            .then(|| PathBuf::from(&first.port_name))
    }

    fn of_port(port: &SerialPortInfo) -> Option<Self> {
        match &port.port_type {
            SerialPortType::UsbPort(usb) => Some(Self {
                vendor: usb.vid,
                product: usb.pid,
                serial: usb.serial_number.clone(),
            }),
            _ => None,
        }
    }
}

/// What a serial port is called that stays when it is plugged in anew: the USB numbers of its
/// adapter, or the name of a port built into the machine. None for a pseudo-terminal.
pub fn lasting_name(path: &Path) -> Option<String> {
    lasting_name_among(path, &listed())
}

fn lasting_name_among(path: &Path, listed: &[SerialPortInfo]) -> Option<String> {
    if let Some(usb) = Identity::of(path, listed) {
        let serial = usb
            .serial
            .map_or_else(String::new, |serial| format!(":{serial}"));
        return Some(format!(
            "usb:{:04x}:{:04x}{serial}",
            usb.vendor, usb.product
        ));
    }
    listed
        .iter()
        .find(|port| Path::new(&port.port_name) == path)
        .map(|port| format!("serial:{}", port.port_name))
}

/// The serial ports that are there now; none where the system keeps no list.
pub(super) fn listed() -> Vec<SerialPortInfo> {
    // Listing panics where the system has no such folder.
    if Path::new("/sys/class/tty").is_dir() {
        tokio_serial::available_ports().unwrap_or_default()
    } else {
        Vec::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn usb(name: &str, product: u16, serial: Option<&str>) -> SerialPortInfo {
        SerialPortInfo {
            port_name: name.to_owned(),
            port_type: SerialPortType::UsbPort(tokio_serial::UsbPortInfo {
                vid: 0x1209,
                pid: product,
                serial_number: serial.map(str::to_owned),
                manufacturer: None,
                product: None,
            }),
        }
    }

    #[test]
    fn an_adapter_is_found_under_another_name() {
        let before = [
            usb("/dev/ttyUSB0", 1, Some("A")),
            usb("/dev/ttyUSB1", 1, Some("B")),
        ];
        let own = Identity::of(Path::new("/dev/ttyUSB0"), &before).unwrap();
        let after = [
            usb("/dev/ttyUSB1", 1, Some("B")),
            usb("/dev/ttyUSB2", 1, Some("A")),
        ];
        assert_eq!(own.find(&after), Some(PathBuf::from("/dev/ttyUSB2")));
        assert_eq!(
            own.find(&[usb("/dev/ttyUSB1", 1, Some("B"))]),
            None,
            "another of its kind"
        );
    }

    #[test]
    fn without_a_number_of_its_own_it_must_be_the_only_one() {
        let own =
            Identity::of(Path::new("/dev/ttyUSB0"), &[usb("/dev/ttyUSB0", 1, None)]).unwrap();
        assert_eq!(
            own.find(&[usb("/dev/ttyUSB3", 1, None)]),
            Some(PathBuf::from("/dev/ttyUSB3"))
        );
        let two = [usb("/dev/ttyUSB3", 1, None), usb("/dev/ttyUSB4", 1, None)];
        assert_eq!(own.find(&two), None);
        assert_eq!(own.find(&[usb("/dev/ttyUSB3", 2, None)]), None);
    }

    #[test]
    fn what_is_not_on_usb_has_no_identity() {
        let built_in = SerialPortInfo {
            port_name: "/dev/ttyS0".to_owned(),
            port_type: SerialPortType::Unknown,
        };
        assert_eq!(Identity::of(Path::new("/dev/ttyS0"), &[built_in]), None);
    }

    #[test]
    fn a_lasting_name_outlasts_the_node() {
        let name =
            |path: &str, listed: &[SerialPortInfo]| lasting_name_among(Path::new(path), listed);
        let own = Some("usb:1209:0001:A".to_owned());
        assert_eq!(
            name("/dev/ttyUSB0", &[usb("/dev/ttyUSB0", 1, Some("A"))]),
            own
        );
        assert_eq!(
            name("/dev/ttyUSB7", &[usb("/dev/ttyUSB7", 1, Some("A"))]),
            own
        );
        let nameless = Some("usb:1209:0002".to_owned());
        assert_eq!(
            name("/dev/ttyUSB0", &[usb("/dev/ttyUSB0", 2, None)]),
            nameless
        );
        let built_in = SerialPortInfo {
            port_name: "/dev/ttyS0".to_owned(),
            port_type: SerialPortType::Unknown,
        };
        assert_eq!(
            name("/dev/ttyS0", &[built_in]),
            Some("serial:/dev/ttyS0".to_owned())
        );
        assert_eq!(name("/dev/pts/3", &[usb("/dev/ttyUSB0", 2, None)]), None);
    }
}
