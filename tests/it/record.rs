//! Recordings: what is written reads back equal, and damage costs no more than its row.

mod full; // a disk that takes no more, at every byte
pub(crate) mod ledger; // on real SQLite files
mod report; // the page, its drawings, and every text that stays text

use proptest::prelude::*;
use steadyohm::protocol::{Garble, Item};
use steadyohm::reading::{
    Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity, Stamp,
};
use steadyohm::record::{
    COLUMNS, CheckKept, Entry, LeadKept, Mark, MeterKept, RawChunk, RawWriter, RecordError,
    Row, Sidecar, read_raw, read_table,
};

use crate::golden;

fn any_measured() -> impl Strategy<Value = Measured> {
    let decimal = (-99_999_i64..99_999, -6_i8..7)
        .prop_map(|(digits, exponent)| Decimal { digits, exponent });
    let magnitude = prop_oneof![
        decimal.clone().prop_map(Magnitude::Number),
        prop::option::of(decimal).prop_map(|beyond| Magnitude::Over { beyond }),
        Just(Magnitude::Blank),
    ];
    (
        prop::sample::select(Quantity::ALL.as_slice()),
        magnitude,
        any::<bool>(),
        prop::collection::vec(prop::sample::select(Annunciator::ALL.as_slice()), 0..3),
    )
        .prop_map(|(quantity, magnitude, display, marks)| {
            // A display's resolution is that of its last digit.
            let resolution = match magnitude {
                Magnitude::Number(decimal) => display.then_some(decimal.exponent),
                Magnitude::Over {
                    beyond: Some(beyond),
                } => display.then_some(beyond.exponent),
                Magnitude::Over { beyond: None } | Magnitude::Blank => None,
            };
            let annunciators = marks.into_iter().collect::<Annunciators>();
            Measured {
                quantity,
                magnitude,
                resolution,
                annunciators,
            }
        })
}

fn any_mark() -> impl Strategy<Value = Mark> {
    prop_oneof![
        any::<bool>().prop_map(|mid_stream| Mark::Opened { mid_stream }),
        "\\PC{0,30}".prop_map(Mark::Lost),
        Just(Mark::Confirm),
        Just(Mark::Stopped),
        Just(Mark::Ended),
        Just(Mark::Finished),
    ]
}

fn any_entry() -> impl Strategy<Value = Entry> {
    let at = (0_u64..100_000_000_000).prop_map(Stamp::from_micros);
    prop_oneof![
        4 => (at.clone(), any_measured())
            .prop_map(|(at, measured)| Entry::Item { at, item: Item::Reading(measured) }),
        1 => (at.clone(), any_mark()).prop_map(|(at, mark)| Entry::Mark { at, mark }),
        1 => (at.clone(), 0_usize..60).prop_map(|(at, count)| {
            let item = Item::Garbled { bytes: vec![0; count], why: Garble::OutOfStep };
            Entry::Item { at, item }
        }),
        1 => (at, prop::collection::vec(any::<u8>(), 0..40))
            .prop_map(|(at, chunk)| Entry::Bytes { at, chunk }),
    ]
}

/// Entries in the order of time, as a run leaves them.
fn any_entries(most: usize) -> impl Strategy<Value = Vec<Entry>> {
    prop::collection::vec(any_entry(), 1..most).prop_map(|mut entries| {
        entries.sort_by_key(|entry| match entry {
            Entry::Bytes { at, .. } | Entry::Item { at, .. } | Entry::Mark { at, .. } => *at,
        });
        entries
    })
}

fn rows_of(entries: &[Entry]) -> Vec<Row> {
    entries
        .iter()
        .filter_map(|entry| match entry.clone() {
            Entry::Bytes { .. } => None,
            Entry::Item { at, item } => Some(Row::Item(at, item)),
            Entry::Mark { at, mark } => Some(Row::Mark(at, mark)),
        })
        .collect()
}

proptest! {
    #[test]
    fn a_table_reads_back_equal(entries in any_entries(40)) {
        let (rows, damage) = read_table(&golden::table(&entries)).unwrap();
        prop_assert_eq!(damage, vec![]);
        prop_assert_eq!(rows, rows_of(&entries));
    }

    /// Cut anywhere, as a killed process leaves it: the whole rows are there, no complaint.
    #[test]
    fn a_torn_table_keeps_its_whole_rows(
        entries in any_entries(20),
        share in 0.0_f64..1.0,
    ) {
        let table = golden::table(&entries);
        let header = COLUMNS.join(",").len() + 2;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a position")]
        #[expect(clippy::cast_precision_loss, reason = "a position")]
        let cut = header + ((table.len() - header) as f64 * share) as usize;
        let (rows, damage) = read_table(&table[..cut]).unwrap();
        prop_assert_eq!(damage, vec![]);
        let whole = rows_of(&entries);
        prop_assert_eq!(rows.as_slice(), &whole[..rows.len()]);
        let lines = table[..cut].split(|byte| *byte == b'\n').count();
        prop_assert_eq!(rows.len() + 2, lines, "no whole row is lost");
    }

    /// Whatever stands in the column of time: the rows read never go back, and each row is
    /// either read or told.
    #[test]
    fn time_never_goes_back(entries in prop::collection::vec(any_entry(), 0..40)) {
        let (rows, damage) = read_table(&golden::table(&entries)).unwrap();
        prop_assert!(rows.is_sorted_by_key(Row::at));
        prop_assert_eq!(rows.len() + damage.len(), rows_of(&entries).len());
        prop_assert!(damage.is_sorted_by_key(|damage| damage.row));
    }

    #[test]
    fn raw_bytes_read_back_equal_and_torn(
        chunks in prop::collection::vec((any::<u32>(), prop::collection::vec(any::<u8>(), 0..40)), 0..20),
        cut in 0_usize..40,
    ) {
        let chunks: Vec<RawChunk> = chunks
            .into_iter()
            .map(|(at, bytes)| RawChunk { at: Stamp::from_micros(u64::from(at)), bytes })
            .collect();
        let mut file = Vec::new();
        let mut writer = RawWriter::new(&mut file).unwrap();
        for chunk in &chunks {
            writer.write(&Entry::Bytes { at: chunk.at, chunk: chunk.bytes.clone() }).unwrap();
        }
        writer.flush().unwrap();
        prop_assert_eq!(&read_raw(&file).unwrap(), &chunks);
        let torn = &file[..file.len().saturating_sub(cut).max(16)];
        let read = read_raw(torn).unwrap();
        prop_assert_eq!(read.as_slice(), &chunks[..read.len()]);
    }

    /// A replay must judge by the very numbers the run was judged by.
    #[test]
    fn numbers_of_a_sidecar_read_back_equal(
        numbers in prop::array::uniform4(prop::num::f64::POSITIVE),
    ) {
        let [patience, interval, aperture, range] = numbers;
        let mut kept = sidecar(None);
        kept.patience_s = patience;
        kept.meter.interval_s = Some(interval);
        kept.meter.aperture_s = Some(aperture);
        kept.meter.range_ohms = Some(range);
        let text = serde_json::to_string_pretty(&kept).unwrap();
        let back: Sidecar = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(back, kept);
    }

    #[test]
    fn no_bytes_make_the_readers_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _table = read_table(&bytes);
        let _raw = read_raw(&bytes);
        let mut table = (COLUMNS.join(",") + "\r\n").into_bytes();
        table.extend(bytes);
        prop_assert!(read_table(&table).is_ok());
    }
}

#[test]
fn a_damaged_row_is_told_by_its_number_and_the_rest_is_read() {
    let table = "elapsed_s,quantity,state,value,unit,resolution,annunciators,mark\r\n\
        0.100000,resistance,number,0.4,ohm,0.1,auto_range,\r\n\
        0.200000,resistance,number,zero point four,ohm,0.1,,\r\n\
        0.300000,resistance,over,40000000,ohm,10000,,\r\n\
        soon,resistance,blank,,ohm,,,\r\n\
        0.500000,,,,,,,confirm\r\n\
        0.6,too,few\r\n";
    let (rows, damage) = read_table(table.as_bytes()).unwrap();
    assert_eq!(rows.len(), 3);
    assert_eq!(damage.iter().map(|d| d.row).collect::<Vec<_>>(), [3, 5, 7]);
    assert!(damage[0].why.contains("value"), "{}", damage[0].why);
    assert!(damage[2].why.contains("3 columns"), "{}", damage[2].why);
    let Row::Item(_, Item::Reading(over)) = rows[1] else {
        panic!("a reading")
    };
    assert_eq!(over.resolution, Some(4));
}

#[test]
fn a_damaged_stamp_costs_its_own_row() {
    let table = |stamps: &[&str]| {
        let row = |stamp: &&str| format!("{stamp},resistance,number,0.4,ohm,0.1,,\r\n");
        COLUMNS.join(",") + "\r\n" + &stamps.iter().map(row).collect::<String>()
    };
    for (stamps, damaged) in [
        // The point has moved: too late, or too early.
        (["99.891000", "9999.1", "100.091000", "100.191000"], 3),
        (["99.791000", "99.891000", "9.9991", "100.091000"], 4),
        (["9989.1", "99.991000", "100.091000", "100.191000"], 2),
        (["99.891000", "99.991000", "100.091000", "10.0191"], 5),
    ] {
        let (rows, damage) = read_table(table(&stamps).as_bytes()).unwrap();
        assert_eq!(damage.len(), 1, "{stamps:?}");
        assert_eq!(damage[0].row, damaged, "{stamps:?}");
        assert!(damage[0].why.contains("its time"), "{}", damage[0].why);
        assert_eq!(rows.len(), 3, "{stamps:?}");
        assert!(
            rows.iter()
                .all(|row| (99.0..101.0).contains(&row.at().seconds()))
        );
    }
}

#[test]
fn a_file_that_is_no_recording_is_refused() {
    for other in ["", "a,b\r\n1,2\r\n", "elapsed_s,quantity\r\n"] {
        assert!(matches!(
            read_table(other.as_bytes()),
            Err(RecordError::NotARecording { .. })
        ));
    }
    assert!(matches!(
        read_raw(b"something else"),
        Err(RecordError::NotRaw)
    ));
}

/// RFC 4180: CRLF line ends, and a comma or quote inside a field is quoted.
#[test]
fn the_table_is_rfc_4180() {
    let at = Stamp::from_seconds(1.5);
    let why = "gone, said \"no\"".to_owned();
    let table = golden::table(&[Entry::Mark {
        at,
        mark: Mark::Lost(why),
    }]);
    let text = String::from_utf8(table).unwrap();
    assert_eq!(
        text,
        "elapsed_s,quantity,state,value,unit,resolution,annunciators,mark\r\n\
         1.500000,,,,,,,\"lost: gone, said \"\"no\"\"\"\r\n"
    );
}

/// A sidecar of this check.
fn sidecar(check: Option<CheckKept>) -> Sidecar {
    Sidecar {
        layout: Sidecar::LAYOUT,
        began: "2026-01-01T00:00:00Z".to_owned(),
        source: "serial:/dev/ttyUSB0".to_owned(),
        protocol: "number-lines".to_owned(),
        made_by: None,
        meter: MeterKept {
            interval_s: None,
            aperture_s: Some(0.02),
            counts: None,
            range_ohms: None,
            accuracy: Vec::new(),
            tried: None,
        },
        patience_s: 60.0,
        check,
        verdict: None,
        run: None,
    }
}

#[test]
fn a_sidecar_keeps_every_option_of_a_lead() {
    use steadyohm::check::lead::{LeadOptions, Method, Tare};
    use steadyohm::reading::{Ohms, Seconds};
    let mut options = LeadOptions {
        method: Method::Loop,
        tare: Tare::Given(Ohms(0.21)),
        probes_first: true,
        conductor: Some(("6m".parse().unwrap(), "24AWG".parse().unwrap())),
        limit: Ohms(1.5),
        isolation: Ohms(10e6),
        ..crate::simulated::lead_options()
    };
    options.pace.wait = Seconds(7.0);
    options.pace.goal.confidence = 0.99;
    let sidecar = sidecar(Some(CheckKept::Lead(LeadKept::from(&options))));
    let text = serde_json::to_string(&sidecar).unwrap();
    let back: Sidecar = serde_json::from_str(&text).unwrap();
    assert_eq!(back, sidecar);
    let Some(CheckKept::Lead(lead)) = back.check else {
        panic!("a lead")
    };
    assert_eq!(lead.options().unwrap(), options);
}
