//! The table of a stock: one row an attempt at a lead, RFC 4180, only ever added to.
//!
//! A row torn off by a killed process is closed with [`TORN`] before the next one is written,
//! so that it can never be taken for a whole one, and is left out without complaint.

use std::io::Write;

use csv::{Terminator, WriterBuilder};

use crate::check::notice::{Finding, StepName, Verdict};
use crate::check::stock::{Attempt, Kept, Row, What};
use crate::reading::Ohms;
use crate::record::table::{BYTE_ORDER_MARK, cells};
use crate::record::{Damage, RecordError};

/// The columns, in order.
pub const STOCK_COLUMNS: [&str; 11] = [
    "tag",
    "attempt",
    "kind",
    "length",
    "verdict",
    "findings",
    "ohms",
    "found",
    "reasons",
    "started",
    "recording",
];

/// What a torn row ends with.
const TORN: &str = ",torn";
const SKIPPED: &str = "skipped";
const UNDONE: &str = "undone";
/// Between several of one cell.
const AND: &str = "; ";

/// Writes the table of a stock.
#[derive(Debug)]
pub struct StockWriter<W: Write> {
    sink: W,
}

impl<W: Write> StockWriter<W> {
    /// Goes on with a table in an open sink, `before` being what it holds already; a new one
    /// gets its header.
    pub fn new(mut sink: W, before: &[u8]) -> Result<Self, RecordError> {
        let torn = before
            .rsplit(|byte| *byte == b'\n')
            .next()
            .unwrap_or_default();
        if before.is_empty() {
            write(&mut sink, &row_text(STOCK_COLUMNS.map(str::to_owned))?)?;
        } else if !torn.is_empty() {
            // Between an odd number of quotation marks a cell is still open.
            let quoted = torn.split(|byte| *byte == b'"').count() % 2 == 0;
            let quote = if quoted { "\"" } else { "" };
            write(&mut sink, format!("{quote}{TORN}\r\n").as_bytes())?;
        }
        Ok(Self { sink })
    }

    /// Writes one row whole, and hands it to the system.
    pub fn write(&mut self, row: &Row) -> Result<(), RecordError> {
        let text = row_text(cells_of(row))?;
        write(&mut self.sink, &text)
    }
}

fn write(sink: &mut impl Write, text: &[u8]) -> Result<(), RecordError> {
    sink.write_all(text)
        .and_then(|()| sink.flush())
        .map_err(RecordError::WriteStock)
}

fn row_text(cells: [String; 11]) -> Result<Vec<u8>, RecordError> {
    let mut rows = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new());
    // A row never holds a line end.
    rows.write_record(cells.map(|cell| cell.replace(char::is_control, " ")))
        .map_err(RecordError::WriteTable)?;
    rows.into_inner()
        .map_err(|error| RecordError::WriteStock(error.into_error()))
}

fn cells_of(row: &Row) -> [String; 11] {
    let mut cells: [String; 11] = Default::default();
    cells[0].clone_from(&row.tag);
    cells[1] = row.number().to_string();
    cells[2].clone_from(&row.kind);
    cells[3].clone_from(&row.length);
    match &row.what {
        What::Skipped => SKIPPED.clone_into(&mut cells[4]),
        What::Undone(_) => UNDONE.clone_into(&mut cells[4]),
        What::Done(attempt) => {
            attempt.verdict.word().clone_into(&mut cells[4]);
            cells[5] = attempt.findings.join(AND);
            cells[6] = joined(&attempt.ohms, |ohms| ohms.0.to_string());
            cells[7] = joined(&attempt.found, |finding| finding.word().to_owned());
            cells[8].clone_from(&attempt.reasons);
            cells[9].clone_from(&attempt.kept.started);
            cells[10] = attempt.kept.recording.clone().unwrap_or_default();
        }
    }
    cells
}

fn joined<T>(steps: &[(StepName, T)], word: impl Fn(&T) -> String) -> String {
    let steps: Vec<String> = steps
        .iter()
        .map(|(step, value)| format!("{step}={}", word(value)))
        .collect();
    steps.join(AND)
}

/// Reads the table of a stock: every row that can be read, and what was wrong with the others.
pub fn read_stock(text: &[u8]) -> Result<(Vec<Row>, Vec<Damage>), RecordError> {
    let whole = text
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |end| end + 1);
    let text = text.get(..whole).unwrap_or_default();
    let text = text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text);
    let mut lines = (1..).zip(text.split(|byte| *byte == b'\n'));
    // A table killed before its header was whole has nothing in it.
    if let Some((_, header)) = lines.next().filter(|_| whole > 0)
        && !is_torn(header)
        && cells(header).is_ok_and(|header| header != STOCK_COLUMNS[..])
    {
        return Err(RecordError::NotAStock {
            expected: STOCK_COLUMNS.join(","),
        });
    }
    let (mut rows, mut damage) = (Vec::new(), Vec::new());
    for (row, line) in lines {
        if line.trim_ascii().is_empty() || is_torn(line) {
            continue;
        }
        match cells(line).and_then(|record| read_row(&record)) {
            Ok(read) => rows.push(read),
            Err(why) => damage.push(Damage { row, why }),
        }
    }
    Ok((rows, damage))
}

fn is_torn(line: &[u8]) -> bool {
    line.trim_ascii_end().ends_with(TORN.as_bytes())
}

fn read_row(record: &csv::StringRecord) -> Result<Row, String> {
    if record.len() != STOCK_COLUMNS.len() {
        return Err(format!(
            "it has {} columns where {} belong",
            record.len(),
            STOCK_COLUMNS.len()
        ));
    }
    let cell = |index: usize| record.get(index).unwrap_or_default();
    let complaint = |column: usize| {
        let name = STOCK_COLUMNS.get(column).copied().unwrap_or_default();
        format!("`{}` cannot stand in column {name}", cell(column))
    };
    let number: u32 = cell(1).parse().map_err(|_word| complaint(1))?;
    let what = match cell(4) {
        SKIPPED => What::Skipped,
        UNDONE => What::Undone(number),
        word => What::Done(Attempt {
            number,
            verdict: Verdict::from_word(word).ok_or_else(|| complaint(4))?,
            findings: several(cell(5)).map(str::to_owned).collect(),
            ohms: steps(cell(6), |ohms| ohms.parse().ok().map(Ohms))
                .ok_or_else(|| complaint(6))?,
            found: steps(cell(7), Finding::from_word).ok_or_else(|| complaint(7))?,
            reasons: cell(8).to_owned(),
            kept: Kept {
                started: cell(9).to_owned(),
                recording: Some(cell(10).to_owned()).filter(|path| !path.is_empty()),
            },
        }),
    };
    Ok(Row {
        tag: cell(0).to_owned(),
        kind: cell(2).to_owned(),
        length: cell(3).to_owned(),
        what,
    })
}

fn several(cell: &str) -> impl Iterator<Item = &str> {
    cell.split(AND).filter(|one| !one.is_empty())
}

fn steps<T>(cell: &str, read: impl Fn(&str) -> Option<T>) -> Option<Vec<(StepName, T)>> {
    several(cell)
        .map(|one| {
            let (step, value) = one.rsplit_once('=')?;
            Some((step.into(), read(value)?))
        })
        .collect()
}
