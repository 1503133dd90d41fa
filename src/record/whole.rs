//! Whether a recording still holds all that its run kept.

use std::fmt;

use crate::record::{Mark, Sidecar};

/// What is missing from a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shortage {
    /// Rows of its table.
    Rows {
        /// So many are there.
        found: u64,
        /// So many were kept.
        kept: u64,
    },
    /// Raw bytes.
    Raw {
        /// So many are there.
        found: u64,
        /// So many were kept.
        kept: u64,
    },
    /// The row at which the run ended; how many rows are missing before it is not known.
    End,
}

impl Shortage {
    /// What is missing, given the table and how many bytes its raw file has, if there is one.
    ///
    /// Rows are counted, not their bytes: a spreadsheet may write the same row shorter.
    pub fn of(sidecar: &Sidecar, table: &[u8], raw_bytes: Option<u64>) -> Option<Self> {
        // A run that was broken off says itself that it is not whole.
        sidecar.verdict.as_ref()?;
        let recorded = sidecar.run.as_ref().and_then(|run| run.recorded);
        let Some(kept) = recorded else {
            return (!ends_with_its_run(table)).then_some(Self::End);
        };
        let lines = table.split_inclusive(|byte| *byte == b'\n');
        let whole = lines.filter(|line| line.ends_with(b"\n") && !line.trim_ascii().is_empty());
        let found = u64::try_from(whole.skip(1).count()).unwrap_or(u64::MAX);
        if found < kept.rows {
            let kept = kept.rows;
            return Some(Self::Rows { found, kept });
        }
        let kept = kept.raw_bytes;
        let short = raw_bytes.filter(|found| *found < kept);
        short.map(|found| Self::Raw { found, kept })
    }
}

/// Whether the last row is the mark of an end.
fn ends_with_its_run(table: &[u8]) -> bool {
    let mut lines = table.trim_ascii_end().rsplit(|byte| *byte == b'\n');
    let last = lines.next().unwrap_or_default();
    let mark = last.rsplit(|byte| *byte == b',').next();
    let mark = mark.and_then(|mark| std::str::from_utf8(mark.trim_ascii()).ok());
    matches!(
        mark.and_then(Mark::from_text),
        Some(Mark::Stopped | Mark::Ended | Mark::Finished)
    )
}

impl fmt::Display for Shortage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rows { found, kept } => write!(f, "{found} of its {kept} rows are left"),
            Self::Raw { found, kept } => {
                write!(f, "{found} of the {kept} raw bytes beside it are left")
            }
            Self::End => write!(f, "the row at which the run ended is not in it"),
        }
    }
}
