//! The table of a recording: one row a reading or a mark, RFC 4180.
//!
//! A damaged row is reported with its number and the rest is still read, and so is one whose
//! time contradicts the rows around it; a torn last row, as a killed process leaves it, is left
//! out without complaint.

use std::io::Write;

use csv::{ReaderBuilder, StringRecord, Terminator, WriterBuilder};

use crate::protocol::{Garble, Item};
use crate::reading::{
    Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity, Seconds, Stamp,
};
use crate::record::order::in_order;
use crate::record::{Entry, Mark, RecordError};

/// The columns, in order.
pub const COLUMNS: [&str; 8] = [
    "elapsed_s",
    "quantity",
    "state",
    "value",
    "unit",
    "resolution",
    "annunciators",
    "mark",
];

const NUMBER: &str = "number";
const OVER: &str = "over";
const BLANK: &str = "blank";
const GARBLED: &str = "garbled";

/// One row, read back.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// A reading or a bad frame.
    Item(Stamp, Item),
    /// A mark.
    Mark(Stamp, Mark),
}

impl Row {
    /// When it happened.
    pub const fn at(&self) -> Stamp {
        match self {
            Self::Item(at, _) | Self::Mark(at, _) => *at,
        }
    }
}

/// A row that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The row's number as a spreadsheet counts, the header being 1.
    pub row: u64,
    /// What is wrong with it.
    pub why: String,
}

/// Writes the table.
#[derive(Debug)]
pub struct TableWriter<W: Write> {
    rows: csv::Writer<W>,
}

impl<W: Write> TableWriter<W> {
    /// Begins a table in an open sink: writes the header.
    pub fn new(sink: W) -> Result<Self, RecordError> {
        let mut rows = WriterBuilder::new()
            .terminator(Terminator::CRLF)
            .from_writer(sink);
        rows.write_record(COLUMNS)
            .map_err(RecordError::WriteTable)?;
        Ok(Self { rows })
    }

    /// Writes one entry; raw bytes have no row.
    pub fn write(&mut self, entry: &Entry) -> Result<(), RecordError> {
        let row = match entry {
            Entry::Bytes { .. } => return Ok(()),
            Entry::Item {
                at,
                item: Item::Reading(measured),
            } => reading_row(*at, measured),
            Entry::Item {
                at,
                item: Item::Garbled { bytes, .. },
            } => {
                let mut row = blank_row(*at);
                GARBLED.clone_into(&mut row[2]);
                row[3] = bytes.len().to_string();
                "byte".clone_into(&mut row[4]);
                row
            }
            Entry::Mark { at, mark } => {
                let mut row = blank_row(*at);
                row[7] = mark.text().replace(char::is_control, " ");
                row
            }
        };
        self.rows.write_record(row).map_err(RecordError::WriteTable)
    }

    /// Hands everything written so far to the sink.
    pub fn flush(&mut self) -> Result<(), RecordError> {
        self.rows
            .flush()
            .map_err(|error| RecordError::WriteTable(error.into()))
    }
}

fn blank_row(at: Stamp) -> [String; 8] {
    let mut row: [String; 8] = Default::default();
    row[0] = format!("{:.6}", at.seconds());
    row
}

fn reading_row(at: Stamp, measured: &Measured) -> [String; 8] {
    let mut row = blank_row(at);
    measured.quantity.word().clone_into(&mut row[1]);
    let (state, value) = match measured.magnitude {
        Magnitude::Number(decimal) if measured.resolution == Some(decimal.exponent) => {
            (NUMBER, plain(decimal))
        }
        Magnitude::Number(decimal) => (NUMBER, decimal.to_string()),
        Magnitude::Over { beyond } => {
            (OVER, beyond.map_or_else(String::new, |b| b.to_string()))
        }
        Magnitude::Blank => (BLANK, String::new()),
    };
    state.clone_into(&mut row[2]);
    row[3] = value;
    measured.quantity.unit().clone_into(&mut row[4]);
    row[5] = measured.resolution.map_or_else(String::new, |exponent| {
        plain(Decimal {
            digits: 1,
            exponent,
        })
    });
    row[6] = measured.annunciators.to_string();
    row
}

/// Digits without an exponent; the resolution column keeps what that hides.
fn plain(decimal: Decimal) -> String {
    match u32::try_from(decimal.exponent)
        .ok()
        .and_then(|power| 10_i64.checked_pow(power))
    {
        Some(scale) => match decimal.digits.checked_mul(scale) {
            Some(digits) => digits.to_string(),
            None => decimal.to_string(),
        },
        None => decimal.to_string(),
    }
}

/// The same number with its last digit at `exponent`, if that loses nothing.
fn at_resolution(decimal: Decimal, exponent: i8) -> Decimal {
    let power = i32::from(exponent) - i32::from(decimal.exponent);
    u32::try_from(power)
        .ok()
        .and_then(|power| 10_i64.checked_pow(power))
        .filter(|scale| decimal.digits % scale == 0)
        .map_or(decimal, |scale| Decimal {
            digits: decimal.digits / scale,
            exponent,
        })
}

/// Reads a table: every row that can be read, and what was wrong with the others.
///
/// What follows the last line end is a row torn off by a killed process: it may look whole and
/// be cut in the middle of a number, so it is left out.
pub fn read_table(text: &[u8]) -> Result<(Vec<Row>, Vec<Damage>), RecordError> {
    let whole = text
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |end| end + 1);
    let text = text.get(..whole).unwrap_or_default();
    let text = text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text);
    let mut lines = (1..).zip(text.split(|byte| *byte == b'\n'));
    let header = lines.next().map(|(_, line)| cells(line));
    if !header.is_some_and(|header| header.is_ok_and(|header| header == COLUMNS[..])) {
        return Err(RecordError::NotARecording {
            expected: COLUMNS.join(","),
        });
    }
    let mut rows = Vec::new();
    let mut damage = Vec::new();
    for (row, text) in lines.filter(|(_, text)| !text.trim_ascii().is_empty()) {
        match cells(text).and_then(|record| read_row(&record)) {
            Ok(read) => rows.push((row, read)),
            Err(why) => damage.push(Damage { row, why }),
        }
    }
    let rows = without_leaps(rows, &mut damage);
    damage.sort_by_key(|damage| damage.row);
    Ok((rows, damage))
}

/// Time after which a last row, which no later one can contradict, is out of order: a meter
/// left on for a day has said something in it.
const LONGEST_PAUSE: Seconds = Seconds(86_400.0);

/// The rows that stand in the order of time; the others are damage.
fn without_leaps(rows: Vec<(u64, Row)>, damage: &mut Vec<Damage>) -> Vec<Row> {
    let stamps: Vec<Stamp> = rows.iter().map(|(_, row)| row.at()).collect();
    let mut in_order = in_order(&stamps);
    if let ([.., before, last], Some(in_order)) = (&stamps[..], in_order.last_mut()) {
        *in_order &= last.since(*before) <= LONGEST_PAUSE;
    }
    let mut kept = Vec::with_capacity(rows.len());
    for ((row, read), in_order) in rows.into_iter().zip(in_order) {
        if in_order {
            kept.push(read);
        } else {
            let why = format!(
                "its time, {:.6} s, does not fit between those of the rows around it",
                read.at().seconds()
            );
            damage.push(Damage { row, why });
        }
    }
    kept
}

/// What other programs may put before a text in UTF-8.
pub(super) const BYTE_ORDER_MARK: &[u8] = b"\xEF\xBB\xBF";

/// The cells of one line. A row never holds a line end, so a quotation mark out of place spoils
/// its own line and no other.
pub(super) fn cells(line: &[u8]) -> Result<StringRecord, String> {
    let not_text = |_error| "it is not text".to_owned();
    let line =
        std::str::from_utf8(line.strip_suffix(b"\r").unwrap_or(line)).map_err(not_text)?;
    if !line.contains('"') {
        return Ok(line.split(',').collect());
    }
    let mut record = StringRecord::new();
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .from_reader(line.as_bytes());
    match reader.read_record(&mut record) {
        Ok(_) => Ok(record),
        Err(error) => Err(error.to_string()),
    }
}

fn read_row(record: &StringRecord) -> Result<Row, String> {
    if record.len() != COLUMNS.len() {
        return Err(format!(
            "it has {} columns where {} belong",
            record.len(),
            COLUMNS.len()
        ));
    }
    let cell = |index: usize| record.get(index).unwrap_or_default();
    let at = read_stamp(cell(0)).ok_or_else(|| complaint(0, cell(0)))?;
    match (cell(2), cell(7)) {
        ("", mark) => {
            let mark = Mark::from_text(mark).ok_or_else(|| complaint(7, mark))?;
            Ok(Row::Mark(at, mark))
        }
        (GARBLED, _) => {
            let count: usize = cell(3).parse().map_err(|_word| complaint(3, cell(3)))?;
            let bytes = vec![0; count.min(4096)];
            Ok(Row::Item(
                at,
                Item::Garbled {
                    bytes,
                    why: Garble::OutOfStep,
                },
            ))
        }
        _ => Ok(Row::Item(at, Item::Reading(read_measured(record)?))),
    }
}

fn complaint(column: usize, found: &str) -> String {
    let name = COLUMNS.get(column).copied().unwrap_or_default();
    format!("`{found}` cannot stand in column {name}")
}

fn read_stamp(text: &str) -> Option<Stamp> {
    let seconds: f64 = text.parse().ok()?;
    (seconds.is_finite() && seconds >= 0.0).then(|| Stamp::from_seconds(seconds))
}

fn read_measured(record: &StringRecord) -> Result<Measured, String> {
    let cell = |index: usize| record.get(index).unwrap_or_default();
    let decimal = |index: usize| {
        cell(index)
            .parse::<Decimal>()
            .map_err(|_word| complaint(index, cell(index)))
    };
    let quantity = Quantity::from_word(cell(1)).ok_or_else(|| complaint(1, cell(1)))?;
    let resolution = match cell(5) {
        "" => None,
        _ => Some(power_of_ten(decimal(5)?).ok_or_else(|| complaint(5, cell(5)))?),
    };
    let magnitude = match cell(2) {
        NUMBER => {
            let number = decimal(3)?;
            Magnitude::Number(
                resolution.map_or(number, |exponent| at_resolution(number, exponent)),
            )
        }
        OVER if cell(3).is_empty() => Magnitude::Over { beyond: None },
        OVER => Magnitude::Over {
            beyond: Some(decimal(3)?),
        },
        BLANK => Magnitude::Blank,
        other => return Err(complaint(2, other)),
    };
    let annunciators = cell(6)
        .split('+')
        .filter(|word| !word.is_empty())
        .map(|word| Annunciator::from_word(word).ok_or_else(|| complaint(6, word)))
        .collect::<Result<Annunciators, String>>()?;
    Ok(Measured {
        quantity,
        magnitude,
        resolution,
        annunciators,
    })
}

/// The exponent of a number that is a power of ten.
fn power_of_ten(mut number: Decimal) -> Option<i8> {
    while number.digits != 0 && number.digits % 10 == 0 {
        number = Decimal {
            digits: number.digits / 10,
            exponent: number.exponent.checked_add(1)?,
        };
    }
    (number.digits == 1).then_some(number.exponent)
}
