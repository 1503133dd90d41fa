//! Opening a raw TCP socket: a bench meter's, or a serial server's.

use std::io::ErrorKind;
use std::time::Duration;

use tokio::net::{TcpStream, lookup_host};
use tokio::time::timeout;

use super::SourceError;

/// How long a machine may take to answer. On the bench's own network an answer takes
/// milliseconds; without a limit, an address nobody has keeps the user waiting for minutes.
const PATIENCE: Duration = Duration::from_secs(5);

/// Connects to `host`, trying each of its addresses.
pub(super) async fn connect(host: &str, port: u16) -> Result<TcpStream, SourceError> {
    let unreachable = |why: String| SourceError::Unreachable {
        host: host.to_owned(),
        port,
        why,
    };
    let late = |_| unreachable(format!("no answer in {} s", PATIENCE.as_secs()));
    let unknown = |why: String| SourceError::UnknownHost {
        host: host.to_owned(),
        why,
    };
    let addresses: Vec<_> = timeout(PATIENCE, lookup_host((host, port)))
        .await
        .map_err(late)?
        .map_err(|fault| unknown(fault.to_string()))?
        .collect();
    if addresses.is_empty() {
        return Err(unknown("it has no address".to_owned()));
    }
    let stream = timeout(PATIENCE, TcpStream::connect(addresses.as_slice()))
        .await
        .map_err(late)?
        .map_err(|fault| match fault.kind() {
            ErrorKind::ConnectionRefused => SourceError::Refused {
                host: host.to_owned(),
                port,
            },
            _ => unreachable(fault.to_string()),
        })?;
    // A socket may meet itself when nobody listens at a port that the system also hands out.
    if stream.local_addr().ok() == stream.peer_addr().ok() {
        return Err(SourceError::Refused {
            host: host.to_owned(),
            port,
        });
    }
    // A request is a few bytes and should leave at once.
    stream
        .set_nodelay(true)
        .map_err(|fault| unreachable(fault.to_string()))?;
    Ok(stream)
}
