//! The layouts of a user's own board: columns, and JSON lines.

use std::collections::BTreeMap;
use std::fmt;

use serde::Deserialize;
use serde::de::{self, Deserializer, Visitor};
use toml::Spanned;

use super::NumberLineText;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ColumnsText {
    pub(crate) delimiter: Spanned<char>,
    /// How many columns a line has.
    pub(crate) columns: Option<Spanned<usize>>,
    /// The line that names the columns.
    pub(crate) header: Option<Spanned<String>>,
    pub(crate) value: Spanned<ColumnText>,
    pub(crate) unit: Option<Spanned<ColumnText>>,
    /// A column of words, as they stand after a number.
    pub(crate) status: Option<Spanned<ColumnText>>,
    /// A column that is on for over-range.
    pub(crate) over: Option<Spanned<ColumnText>>,
    /// Columns that are on for a mark.
    #[serde(default)]
    pub(crate) marks: BTreeMap<String, Spanned<ColumnText>>,
    pub(crate) words: Spanned<NumberLineText>,
}

/// A column: its number, from 1, or its name in the header.
#[derive(Debug)]
pub(crate) enum ColumnText {
    Number(usize),
    Name(String),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct JsonText {
    pub(crate) value: Spanned<String>,
    pub(crate) unit: Option<Spanned<String>>,
    /// A text of words, as they stand after a number.
    pub(crate) status: Option<Spanned<String>>,
    /// What is true for over-range.
    pub(crate) over: Option<Spanned<String>>,
    /// What is true for a mark.
    #[serde(default)]
    pub(crate) marks: BTreeMap<String, Spanned<String>>,
    pub(crate) words: Spanned<NumberLineText>,
}

impl<'de> Deserialize<'de> for ColumnText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;

        impl Visitor<'_> for Either {
            type Value = ColumnText;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the number of a column, from 1, or its name in the header")
            }

            fn visit_i64<E: de::Error>(self, number: i64) -> Result<ColumnText, E> {
                // A negative number names no column, and zero is refused as one.
                Ok(ColumnText::Number(usize::try_from(number).unwrap_or(0)))
            }

            fn visit_str<E: de::Error>(self, name: &str) -> Result<ColumnText, E> {
                Ok(ColumnText::Name(name.to_owned()))
            }
        }

        deserializer.deserialize_any(Either)
    }
}
