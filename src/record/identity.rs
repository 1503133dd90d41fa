//! The identity of a run: unique without a server, and in the order of time.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::{Builder, Uuid};

/// The identity of a run: a version 7 UUID (RFC 9562, section 5.7), whose first 48 bits are the
/// milliseconds of its beginning, so that identities sort as the runs began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct RunId(Uuid);

/// A text that should be a run's identity is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is no run's identity; `steadyohm ledger list` shows them")]
pub struct NoRunId {
    /// The text.
    pub text: String,
}

impl RunId {
    /// The identity made for a new run.
    pub const fn new(uuid: Uuid) -> Self {
        Self(uuid)
    }

    /// The identity of a run that was kept before runs had one: the same description gives the
    /// same identity, wherever it is read. Version 8, which is left to us (RFC 9562, section
    /// 5.8), with the time in front as in version 7.
    pub fn of_old(began_milliseconds: u64, description: &[u8]) -> Self {
        let mut bytes = [0_u8; 16];
        let time = began_milliseconds.to_be_bytes();
        let hash = [fnv_1a(description, 0), fnv_1a(description, 1)].map(u64::to_be_bytes);
        let tail = hash.as_flattened().iter();
        for (place, byte) in bytes.iter_mut().zip(time.iter().skip(2).chain(tail)) {
            *place = *byte;
        }
        Self(Builder::from_custom_bytes(bytes).into_uuid())
    }
}

/// The hash named FNV-1a, 64 bits (offset and prime from memory); `salt` makes another of it.
fn fnv_1a(bytes: &[u8], salt: u8) -> u64 {
    const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    bytes
        .iter()
        .chain(std::iter::once(&salt))
        .fold(OFFSET, |hash, byte| {
            (hash ^ u64::from(*byte)).wrapping_mul(PRIME)
        })
}

impl fmt::Display for RunId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, f)
    }
}

impl FromStr for RunId {
    type Err = NoRunId;

    fn from_str(text: &str) -> Result<Self, NoRunId> {
        Uuid::parse_str(text).map(Self).map_err(|_form| NoRunId {
            text: text.to_owned(),
        })
    }
}

impl TryFrom<String> for RunId {
    type Error = NoRunId;

    fn try_from(text: String) -> Result<Self, NoRunId> {
        text.parse()
    }
}

impl From<RunId> for String {
    fn from(id: RunId) -> Self {
        id.to_string()
    }
}
