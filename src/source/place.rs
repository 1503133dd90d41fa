//! Where bytes come from, as the user wrote it.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

use super::SourceError;

/// Where bytes come from.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Where {
    /// A serial port: `serial:/dev/ttyUSB0`, or the bare path.
    Serial(PathBuf),
    /// An instrument's node: `usbtmc:/dev/usbtmc0`, or the bare path.
    Usbtmc(PathBuf),
    /// A raw TCP socket: `tcp://HOST:PORT`.
    Tcp {
        /// A name or an address; an IPv6 address without its brackets.
        host: String,
        /// The port.
        port: u16,
    },
    /// Standard input: `-`.
    StandardInput,
    /// A recording: any path that ends in `.csv`.
    Recording(PathBuf),
}

impl FromStr for Where {
    type Err = SourceError;

    fn from_str(text: &str) -> Result<Self, SourceError> {
        let refuse = |why| SourceError::NotAPlace {
            text: text.to_owned(),
            why,
        };
        if text.is_empty() {
            return Err(refuse("it is empty"));
        }
        if text == "-" {
            return Ok(Self::StandardInput);
        }
        if let Some(address) = text.strip_prefix("tcp://") {
            return address_of(address).map_err(refuse);
        }
        for (prefix, kind) in [
            ("serial:", Self::Serial as fn(PathBuf) -> Self),
            ("usbtmc:", Self::Usbtmc),
        ] {
            if let Some(path) = text.strip_prefix(prefix) {
                return match path {
                    "" => Err(refuse("the path is missing")),
                    path => Ok(kind(PathBuf::from(path))),
                };
            }
        }
        if text.contains("://") {
            return Err(refuse("only tcp:// is spoken"));
        }
        let path = PathBuf::from(text);
        let has_extension = |wanted| {
            path.extension()
                .is_some_and(|found| found.eq_ignore_ascii_case(wanted))
        };
        let is_instrument = path
            .file_name()
            .and_then(|name| name.to_str())
            .is_some_and(|name| name.starts_with("usbtmc"));
        Ok(match path {
            path if has_extension("csv") => Self::Recording(path),
            path if is_instrument => Self::Usbtmc(path),
            path => Self::Serial(path),
        })
    }
}

/// `HOST:PORT`, `1.2.3.4:PORT` or `[::1]:PORT`, with or without a last slash.
fn address_of(text: &str) -> Result<Where, &'static str> {
    let text = text.strip_suffix('/').unwrap_or(text);
    let (host, port) = text.rsplit_once(':').ok_or("the port number is missing")?;
    let host = match host.strip_prefix('[') {
        Some(rest) => rest
            .strip_suffix(']')
            .filter(|inner| inner.contains(':'))
            .ok_or("brackets hold an IPv6 address")?,
        None if host.contains(':') => return Err("an IPv6 address stands in brackets"),
        None => host,
    };
    let is_host = |byte: u8| byte.is_ascii_graphic() && !b"/@[]?#".contains(&byte);
    if host.is_empty() || !host.bytes().all(is_host) {
        return Err("the host's name is missing or malformed");
    }
    let port = Some(port)
        .filter(|port| port.bytes().all(|byte| byte.is_ascii_digit()))
        .and_then(|port| port.parse().ok())
        .filter(|port| *port != 0)
        .ok_or("a port number is 1 to 65535")?;
    Ok(Where::Tcp {
        host: host.to_owned(),
        port,
    })
}

impl fmt::Display for Where {
    /// In the form it reads back from.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial(path) => write!(f, "serial:{}", path.display()),
            Self::Usbtmc(path) => write!(f, "usbtmc:{}", path.display()),
            Self::Tcp { host, port } if host.contains(':') => {
                write!(f, "tcp://[{host}]:{port}")
            }
            Self::Tcp { host, port } => write!(f, "tcp://{host}:{port}"),
            Self::StandardInput => f.write_str("-"),
            Self::Recording(path) => write!(f, "{}", path.display()),
        }
    }
}
