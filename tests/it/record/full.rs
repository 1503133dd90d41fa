//! A disk that takes no more, at every single byte: what was reported as written is read back,
//! and where it can, the next writer goes on.

use std::io::{self, Write};

use steadyohm::check::notice::{Finding, Verdict};
use steadyohm::check::stock::{Kept, Next, Row, Stock};
use steadyohm::protocol::Item;
use steadyohm::reading::{Annunciators, Decimal, Magnitude, Measured, Quantity, Stamp};
use steadyohm::record::{
    Entry, Mark, RawWriter, StockWriter, TableWriter, read_raw, read_stock, read_table,
};

use crate::stock::{plan, result};

/// A sink with room for so many bytes.
#[derive(Debug)]
struct Disk<'a> {
    room: usize,
    text: &'a mut Vec<u8>,
}

impl Write for Disk<'_> {
    /// As a disk does it: as much as there is room for, and then nothing.
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let some = bytes.len().min(self.room - self.text.len().min(self.room));
        if some == 0 && !bytes.is_empty() {
            return Err(io::ErrorKind::StorageFull.into());
        }
        self.text.extend(bytes.iter().take(some));
        Ok(some)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The rows of a small stock, with whatever a cell may hold.
fn rows() -> Vec<Row> {
    let mut stock = Stock::new(plan("1..4"));
    let mut rows = Vec::new();
    for (number, verdict) in [Verdict::Pass, Verdict::Fail, Verdict::Retest]
        .into_iter()
        .enumerate()
    {
        let Next::Lead(turn) = stock.next() else {
            panic!("a lead is left")
        };
        let finding = (verdict == Verdict::Fail).then_some(Finding::OpensWhenBent);
        let kept = Kept {
            started: "2026-03-01T19:00:00Z".to_owned(),
            recording: Some(format!("kept/a \"quoted\", name {number}.csv")),
        };
        rows.push(stock.finish(&turn.tag, &result(verdict, finding), kept));
    }
    rows.push(stock.skip("4"));
    rows
}

#[test]
fn a_stocks_table_on_a_full_disk_keeps_what_it_took() {
    let rows = rows();
    let mut whole = Vec::new();
    let mut writer = StockWriter::new(&mut whole, &[]).unwrap();
    for row in &rows {
        writer.write(row).unwrap();
    }
    let mut refused = 0;
    for room in 0..whole.len() {
        let mut text = Vec::new();
        let disk = Disk {
            room,
            text: &mut text,
        };
        let mut taken = 0;
        let error = match StockWriter::new(disk, &[]) {
            Err(error) => error,
            Ok(mut writer) => loop {
                match writer.write(&rows[taken]) {
                    Ok(()) => taken += 1,
                    Err(error) => break error,
                }
            },
        };
        assert!(
            error.to_string().contains("cannot write the stock's table"),
            "{error}"
        );
        let (read, damage) = read_stock(&text).unwrap();
        assert_eq!(
            (read.as_slice(), damage.as_slice()),
            (&rows[..taken], &[][..]),
            "{room}"
        );
        refused += 1;
        // With room again, the rest goes in behind it.
        let mut more = Vec::new();
        let mut writer = StockWriter::new(&mut more, &text).unwrap();
        for row in &rows[taken..] {
            writer.write(row).unwrap();
        }
        let (read, damage) = read_stock(&[text, more].concat()).unwrap();
        assert_eq!((read, damage), (rows.clone(), Vec::new()), "{room}");
    }
    assert!(refused > 500, "{refused}");
}

fn entries() -> Vec<Entry> {
    let reading = |at, digits| Entry::Item {
        at: Stamp::from_micros(at),
        item: Item::Reading(Measured {
            quantity: Quantity::Resistance,
            magnitude: Magnitude::Number(Decimal {
                digits,
                exponent: -3,
            }),
            resolution: Some(-3),
            annunciators: Annunciators::default(),
        }),
    };
    let mark = |at, mark| Entry::Mark {
        at: Stamp::from_micros(at),
        mark,
    };
    let bytes = |at, text: &str| Entry::Bytes {
        at: Stamp::from_micros(at),
        chunk: text.as_bytes().to_vec(),
    };
    vec![
        mark(0, Mark::Opened { mid_stream: false }),
        bytes(300_000, "0.512\r\n"),
        reading(300_000, 512),
        mark(450_000, Mark::Lost("the cable, \"pulled\"".to_owned())),
        bytes(900_000, "0.498\r\n"),
        reading(900_000, 498),
        mark(1_000_000, Mark::Stopped),
    ]
}

#[test]
fn a_recording_on_a_full_disk_keeps_what_it_took() {
    let entries = entries();
    let (mut tables, mut raws) = (0, 0);
    for room in 0..400 {
        let mut text = Vec::new();
        let mut taken = 0;
        if let Ok(mut writer) = TableWriter::new(Disk {
            room,
            text: &mut text,
        }) {
            let fits =
                |entry: &&Entry| writer.write(entry).and_then(|()| writer.flush()).is_ok();
            taken = entries.iter().take_while(fits).count();
        }
        if taken > 0 {
            let (read, damage) = read_table(&text).unwrap();
            let kept = super::rows_of(&entries[..taken]);
            assert_eq!(
                (&read[..kept.len()], damage.len()),
                (kept.as_slice(), 0),
                "{room}"
            );
            tables += usize::from(taken < entries.len());
        }
        let mut raw = Vec::new();
        let mut taken = 0;
        if let Ok(mut writer) = RawWriter::new(Disk {
            room,
            text: &mut raw,
        }) {
            let fits =
                |entry: &&Entry| writer.write(entry).and_then(|()| writer.flush()).is_ok();
            taken = entries.iter().take_while(fits).count();
        }
        if taken > 0 {
            let chunks = entries[..taken].iter().filter_map(|entry| match entry {
                Entry::Bytes { chunk, .. } => Some(chunk.as_slice()),
                _ => None,
            });
            let read = read_raw(&raw).unwrap();
            for (kept, read) in chunks.zip(&read) {
                assert_eq!(kept, read.bytes.as_slice(), "{room}");
            }
            raws += usize::from(taken < entries.len());
        }
    }
    // The disk was full in the middle of both, at many places.
    assert!(tables > 100 && raws > 20, "{tables} {raws}");
}
