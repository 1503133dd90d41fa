//! The raw bytes of a run, with the time each chunk arrived.
//!
//! Layout, all numbers little-endian: the line `steadyohm raw 1` and LF; then for each chunk
//! the arrival in microseconds since the start (8 bytes), its length (4 bytes) and its bytes.
//! A torn last chunk, as a killed process leaves it, is left out.

use std::io::Write;

use crate::reading::Stamp;
use crate::record::{Entry, RecordError};

const HEADER: &[u8] = b"steadyohm raw 1\n";

/// One chunk as it arrived.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawChunk {
    /// When.
    pub at: Stamp,
    /// The bytes.
    pub bytes: Vec<u8>,
}

/// Writes raw bytes.
#[derive(Debug)]
pub struct RawWriter<W: Write> {
    sink: W,
}

impl<W: Write> RawWriter<W> {
    /// Begins in an open sink: writes the header.
    pub fn new(mut sink: W) -> Result<Self, RecordError> {
        sink.write_all(HEADER).map_err(RecordError::WriteRaw)?;
        Ok(Self { sink })
    }

    /// Writes one entry, if it is raw bytes.
    pub fn write(&mut self, entry: &Entry) -> Result<(), RecordError> {
        let Entry::Bytes { at, chunk } = entry else {
            return Ok(());
        };
        let length = u32::try_from(chunk.len()).unwrap_or(u32::MAX);
        let kept = chunk.get(..length as usize).unwrap_or(chunk);
        [
            &at.micros().to_le_bytes()[..],
            &length.to_le_bytes()[..],
            kept,
        ]
        .into_iter()
        .try_for_each(|part| self.sink.write_all(part))
        .map_err(RecordError::WriteRaw)
    }

    /// Hands everything written so far to the sink.
    pub fn flush(&mut self) -> Result<(), RecordError> {
        self.sink.flush().map_err(RecordError::WriteRaw)
    }
}

/// Reads raw bytes back.
pub fn read_raw(bytes: &[u8]) -> Result<Vec<RawChunk>, RecordError> {
    let mut rest = bytes.strip_prefix(HEADER).ok_or(RecordError::NotRaw)?;
    let mut chunks = Vec::new();
    while let Some((at, after)) = rest.split_first_chunk::<8>()
        && let Some((length, after)) = after.split_first_chunk::<4>()
        && let Some((chunk, after)) =
            after.split_at_checked(u32::from_le_bytes(*length) as usize)
    {
        let at = Stamp::from_micros(u64::from_le_bytes(*at));
        chunks.push(RawChunk {
            at,
            bytes: chunk.to_vec(),
        });
        rest = after;
    }
    Ok(chunks)
}
