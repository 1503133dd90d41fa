//! The meter's stated accuracy, range by range: read from the operator's TOML file and carried
//! into every record.

use serde::{Deserialize, Serialize};

/// What the meter's document states, and where.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AccuracyKept {
    /// The document, as the operator wrote it.
    pub source: String,
    /// When the meter was last calibrated, as the operator wrote it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibrated: Option<String>,
    /// The ranges, the lowest first.
    pub ranges: Vec<RangeAccuracy>,
}

/// The accuracy of one range: plus or minus so many per cent of the reading, and so many counts
/// of the last digit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RangeAccuracy {
    /// The end of the range, in ohms.
    pub up_to_ohms: f64,
    /// What one count of the last digit is worth, in ohms.
    pub resolution_ohms: f64,
    /// Per cent of the reading.
    pub percent: f64,
    /// Counts of the last digit.
    pub counts: f64,
}

/// The file as it is written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    source: String,
    calibrated: Option<String>,
    range: Vec<RangeAccuracy>,
}

/// An accuracy file is wrong.
#[derive(Debug, thiserror::Error)]
pub enum AccuracyError {
    /// It is not what such a file holds.
    #[error("{0}")]
    Form(#[from] toml::de::Error),
    /// No document is named.
    #[error("source is empty: name the document that states the accuracy")]
    NoSource,
    /// No range is given.
    #[error(
        "there is no [[range]]: give at least one, with up_to_ohms, resolution_ohms, percent and counts"
    )]
    NoRange,
    /// A number cannot stand where it stands.
    #[error("range {number}: {name} = {value} cannot be; {wanted}")]
    Number {
        /// The range, from 1.
        number: usize,
        /// The key.
        name: &'static str,
        /// What is written.
        value: f64,
        /// What would do.
        wanted: &'static str,
    },
}

impl AccuracyKept {
    /// Reads the text of an accuracy file.
    pub fn from_text(text: &str) -> Result<Self, AccuracyError> {
        let document: Document = toml::from_str(text)?;
        if document.source.trim().is_empty() {
            return Err(AccuracyError::NoSource);
        }
        if document.range.is_empty() {
            return Err(AccuracyError::NoRange);
        }
        let mut below = 0.0;
        for (number, range) in (1..).zip(&document.range) {
            range.judge(number, below)?;
            below = range.up_to_ohms;
        }
        Ok(Self {
            source: document.source,
            calibrated: document.calibrated,
            ranges: document.range,
        })
    }
}

impl RangeAccuracy {
    fn judge(&self, number: usize, below: f64) -> Result<(), AccuracyError> {
        let refuse = |name, value, wanted| {
            Err(AccuracyError::Number {
                number,
                name,
                value,
                wanted,
            })
        };
        let Self {
            up_to_ohms,
            resolution_ohms,
            percent,
            counts,
        } = *self;
        if !(up_to_ohms.is_finite() && up_to_ohms > below) {
            let wanted = "the ranges go upward, each ends above the one before";
            return refuse("up_to_ohms", up_to_ohms, wanted);
        }
        if !(resolution_ohms > 0.0 && resolution_ohms < up_to_ohms) {
            let wanted = "one count is above 0 and far below the range's end";
            return refuse("resolution_ohms", resolution_ohms, wanted);
        }
        if !(0.0..=100.0).contains(&percent) {
            return refuse("percent", percent, "it is from 0 to 100");
        }
        if !(0.0..=10_000.0).contains(&counts) {
            return refuse("counts", counts, "it is 0 or more");
        }
        Ok(())
    }
}
