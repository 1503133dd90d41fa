//! The columns judged: every number and name of one is settled here, once.

use toml::Spanned;

use super::{Columns, field};
use crate::protocol::document::{ColumnText, ColumnsText};
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::flags::Flags;
use crate::protocol::number_line;

/// More columns than this do not fit a line.
const MOST_COLUMNS: usize = 512;

/// Judges the description.
pub(crate) fn build(text: &ColumnsText) -> Result<Columns, Fault> {
    let delimiter = delimiter(&text.delimiter)?;
    let header: Option<Vec<String>> = text
        .header
        .as_ref()
        .map(|header| header.get_ref().split(delimiter).map(field))
        .map(|names| names.map(str::to_owned).collect());
    let count = match (&text.columns, &header) {
        (Some(count), None) => *count.get_ref(),
        (None, Some(names)) => names.len(),
        _ => {
            let why = "give either columns, how many there are in a line, or header, the line \
                       that names them";
            return Err(Fault::at(&text.value.span(), Refusal::Incomplete(why)));
        }
    };
    if count == 0 || count > MOST_COLUMNS {
        let span = text.columns.as_ref().map_or(0..0, Spanned::span);
        return Err(Fault::at(
            &span,
            Refusal::Number {
                key: "columns",
                allowed: "1 to 512",
                found: count.to_string(),
            },
        ));
    }
    let names = header.as_deref().unwrap_or_default();
    let place = |column: &Spanned<ColumnText>| position(column, count, names);
    let flags = Flags::new(&text.marks, text.over.as_ref(), place)?;
    let words = text.words.get_ref();
    let columns = Columns {
        delimiter,
        count,
        value: place(&text.value)?,
        unit: text.unit.as_ref().map(place).transpose()?,
        status: text.status.as_ref().map(place).transpose()?,
        words: number_line::build(words, &text.words.span(), flags.tells_over())?,
        flags,
        header,
    };
    if delimiter == ',' && columns.words.has_decimal_comma() {
        let why = "a comma cannot be both the delimiter and the decimal point";
        return Err(Fault::at(&text.delimiter.span(), Refusal::Incomplete(why)));
    }
    Ok(columns)
}

fn delimiter(text: &Spanned<char>) -> Result<char, Fault> {
    let delimiter = *text.get_ref();
    let punctuation = delimiter.is_ascii_punctuation() && !"+-.\"_%<>".contains(delimiter);
    if punctuation || matches!(delimiter, '\t' | ' ') {
        return Ok(delimiter);
    }
    Err(Fault::at(
        &text.span(),
        Refusal::Number {
            key: "delimiter",
            allowed: "a comma, \"\\t\" or another mark that is no part of a number",
            found: format!("{delimiter:?}"),
        },
    ))
}

/// The position, from 0, of a column given by its number from 1 or its name.
fn position(
    column: &Spanned<ColumnText>,
    count: usize,
    names: &[String],
) -> Result<usize, Fault> {
    let refuse = |refusal| Err(Fault::at(&column.span(), refusal));
    match column.get_ref() {
        ColumnText::Number(number) => match number.checked_sub(1) {
            Some(position) if position < count => Ok(position),
            _ => refuse(Refusal::NoColumn {
                number: *number,
                count,
            }),
        },
        ColumnText::Name(name) => {
            let mut places = names.iter().enumerate().filter(|(_, known)| *known == name);
            match (places.next(), places.next()) {
                (Some((position, _)), None) => Ok(position),
                (Some(_), Some(_)) => refuse(Refusal::ClaimedTwice {
                    what: format!("the column {name:?}"),
                }),
                (None, _) => refuse(Refusal::UnknownColumn {
                    name: name.clone(),
                    known: if names.is_empty() {
                        "none, since the file has no header".to_owned()
                    } else {
                        names.join(", ")
                    },
                }),
            }
        }
    }
}
