//! Which ports there are.
#![expect(
    clippy::disallowed_methods,
    reason = "the names of USB devices stand in files of the system, read at this edge"
)]

use std::path::{Path, PathBuf};

use tokio_serial::SerialPortType;

use super::SourceError;

/// A port that is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Port {
    /// Its node.
    pub path: PathBuf,
    /// What kind of port it is.
    pub kind: PortKind,
    /// What it says of itself: maker, product, USB numbers.
    pub description: String,
}

/// What kind of port it is, the likeliest meter first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PortKind {
    /// A serial adapter on USB.
    UsbSerial,
    /// An instrument on USB.
    Usbtmc,
    /// A serial port of the machine. It is listed though nothing may be attached to it, and
    /// should never be taken unasked.
    BuiltIn,
}

impl Port {
    /// Whether it can be taken for the meter when it is the only such port.
    pub fn is_candidate(&self) -> bool {
        self.kind != PortKind::BuiltIn
    }
}

/// The serial ports and instrument nodes of this machine, USB first, then by path.
///
/// Pseudo-terminals and symbolic links are never among them; they open by path all the same.
pub fn ports() -> Result<Vec<Port>, SourceError> {
    let mut found = instruments(Path::new("/sys/class/usbmisc"), Path::new("/dev"));
    // Listing panics where the system has no such folder.
    if Path::new("/sys/class/tty").is_dir() {
        let listed = tokio_serial::available_ports().map_err(|fault| SourceError::Listing {
            why: fault.to_string(),
        })?;
        found.extend(listed.into_iter().map(serial_port));
    }
    found.sort_by(|one, other| (one.kind, &one.path).cmp(&(other.kind, &other.path)));
    Ok(found)
}

fn serial_port(listed: tokio_serial::SerialPortInfo) -> Port {
    let (kind, description) = match listed.port_type {
        SerialPortType::UsbPort(usb) => {
            let maker = usb.manufacturer.as_deref();
            let numbers = (Some(usb.vid), Some(usb.pid));
            let text = describe(maker, usb.product.as_deref(), numbers);
            (PortKind::UsbSerial, text)
        }
        SerialPortType::BluetoothPort => {
            (PortKind::BuiltIn, "serial port over Bluetooth".to_owned())
        }
        SerialPortType::PciPort | SerialPortType::Unknown => {
            (PortKind::BuiltIn, "serial port of this machine".to_owned())
        }
    };
    Port {
        path: PathBuf::from(listed.port_name),
        kind,
        description,
    }
}

/// The instrument nodes in `devices`, described from `classes`, where each has a folder of its
/// own name whose `device` is the USB interface; the USB device is the folder above that.
fn instruments(classes: &Path, devices: &Path) -> Vec<Port> {
    let Ok(entries) = std::fs::read_dir(devices) else {
        return Vec::new();
    };
    let names = entries
        .flatten()
        .map(|entry| entry.file_name())
        .filter(|name| {
            let number = name.to_str().and_then(|name| name.strip_prefix("usbtmc"));
            number.is_some_and(|number| number.parse::<u16>().is_ok())
        });
    names
        .map(|name| {
            let usb = std::fs::canonicalize(classes.join(&name).join("device"))
                .ok()
                .and_then(|interface| interface.parent().map(Path::to_owned));
            let read = |file| {
                let text = std::fs::read_to_string(usb.as_ref()?.join(file)).ok()?;
                Some(text.trim().to_owned())
            };
            let number = |file| u16::from_str_radix(&read(file)?, 16).ok();
            Port {
                path: devices.join(name),
                kind: PortKind::Usbtmc,
                description: describe(
                    read("manufacturer").as_deref(),
                    read("product").as_deref(),
                    (number("idVendor"), number("idProduct")),
                ),
            }
        })
        .collect()
}

/// `Maker Product (USB 10c4:ea60)`, or what is known of it.
fn describe(
    maker: Option<&str>,
    product: Option<&str>,
    numbers: (Option<u16>, Option<u16>),
) -> String {
    let mut words: Vec<String> = [maker, product]
        .into_iter()
        .flatten()
        .filter(|word| !word.is_empty())
        .map(printable)
        .collect();
    if let (Some(vendor), Some(product)) = numbers {
        words.push(format!("(USB {vendor:04x}:{product:04x})"));
    }
    if words.is_empty() {
        words.push("USB device without a name".to_owned());
    }
    words.join(" ")
}

/// A device may call itself anything; the terminal shall not obey it.
fn printable(word: &str) -> String {
    word.chars().filter(|letter| !letter.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::{Port, PortKind, instruments};

    #[test]
    fn an_instrument_is_described_by_its_usb_device() {
        // The shape of the tree: Linux's Documentation/ABI/testing/sysfs-bus-usb, and the
        // class `usbmisc` (from memory).
        let root = tempfile::tempdir().unwrap();
        let (classes, devices) = (root.path().join("class"), root.path().join("dev"));
        let usb = root.path().join("usb/1-4");
        std::fs::create_dir_all(usb.join("1-4:1.0")).unwrap();
        std::fs::create_dir_all(classes.join("usbtmc0")).unwrap();
        std::fs::create_dir_all(&devices).unwrap();
        for (file, text) in [
            ("idVendor", "1ab1\n"),
            ("idProduct", "0c94\n"),
            ("manufacturer", "Bench\u{1b}[2J Works\n"),
            ("product", "Ohmmeter\n"),
        ] {
            std::fs::write(usb.join(file), text).unwrap();
        }
        std::os::unix::fs::symlink(usb.join("1-4:1.0"), classes.join("usbtmc0/device"))
            .unwrap();
        for node in ["usbtmc0", "usbtmc7", "usbtmcx", "ttyUSB0"] {
            std::fs::write(devices.join(node), "").unwrap();
        }
        let mut found = instruments(&classes, &devices);
        found.sort_by(|one, other| one.path.cmp(&other.path));
        let port = |node, description: &str| Port {
            path: devices.join(node),
            kind: PortKind::Usbtmc,
            description: description.to_owned(),
        };
        assert_eq!(
            found,
            [
                port("usbtmc0", "Bench[2J Works Ohmmeter (USB 1ab1:0c94)"),
                port("usbtmc7", "USB device without a name"),
            ]
        );
    }
}
