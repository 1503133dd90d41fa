//! The table of a stock: what is written folds back to the same stock, whatever was done, and
//! wherever it is torn.

use proptest::prelude::*;
use steadyohm::check::notice::{Finding, Verdict};
use steadyohm::check::stock::{Kept, Row, Stock};
use steadyohm::record::{StockWriter, read_stock};

use super::{plan, result};

/// Something done to a stock.
#[derive(Debug, Clone, Copy)]
enum Deed {
    Finish(Verdict, Option<Finding>),
    Skip,
    Undo,
}

fn deed() -> impl Strategy<Value = Deed> {
    let verdict = prop_oneof![
        Just(Verdict::Pass),
        Just(Verdict::Retest),
        Just(Verdict::Fail)
    ];
    let finding = prop_oneof![
        Just(None),
        Just(Some(Finding::OpensWhenBent)),
        Just(Some(Finding::Leakage)),
    ];
    prop_oneof![
        6 => (verdict, finding).prop_map(|(verdict, finding)| Deed::Finish(verdict, finding)),
        1 => Just(Deed::Skip),
        2 => Just(Deed::Undo),
    ]
}

/// Does a deed to the lead whose turn it is; gives the row.
fn does(stock: &mut Stock, deed: Deed) -> Option<Row> {
    let steadyohm::check::stock::Next::Lead(turn) = stock.next() else {
        return stock.undo();
    };
    Some(match deed {
        Deed::Finish(verdict, finding) => {
            let kept = Kept {
                started: "2026-03-01T19:00:00Z".to_owned(),
                recording: Some("kept/a \"quoted\", name.csv".to_owned()),
            };
            stock.finish(&turn.tag, &result(verdict, finding), kept)
        }
        Deed::Skip => stock.skip(&turn.tag),
        Deed::Undo => return stock.undo(),
    })
}

/// Goes on with a table that holds `before`.
fn written(before: &[u8], rows: &[Row]) -> Vec<u8> {
    let mut text = before.to_vec();
    let mut more = Vec::new();
    let mut writer = StockWriter::new(&mut more, before).unwrap();
    for row in rows {
        writer.write(row).unwrap();
    }
    text.extend(more);
    text
}

proptest! {
    /// Whatever was done: the rows, written and read back, fold to the live stock.
    #[test]
    fn rows_of_any_history_fold_to_the_live_stock(deeds in prop::collection::vec(deed(), 0..60)) {
        let mut live = Stock::new(plan("A,\"B\", c d,=1+1,5"));
        let rows: Vec<Row> = deeds.iter().filter_map(|deed| does(&mut live, *deed)).collect();
        let (read, damage) = read_stock(&written(b"", &rows)).unwrap();
        prop_assert_eq!(damage, []);
        prop_assert_eq!(Stock::fold(live.plan().clone(), &read), live);
    }

    /// Killed at any byte, and gone on with: what was whole is there, and nothing else.
    #[test]
    fn a_torn_table_goes_on_where_it_was(
        deeds in prop::collection::vec(deed(), 1..20),
        cut in 0.0..1.0_f64,
        more in prop::collection::vec(deed(), 0..5),
    ) {
        let empty = Stock::new(plan("1..9"));
        let mut live = empty.clone();
        let rows: Vec<Row> = deeds.iter().filter_map(|deed| does(&mut live, *deed)).collect();
        let text = written(b"", &rows);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "a place in a short text")]
        let torn = &text[..(text.len() as f64 * cut) as usize];
        let (before, damage) = read_stock(torn).unwrap();
        prop_assert_eq!(&damage, &[]);
        prop_assert_eq!(&rows[..before.len()], &before[..]);
        let mut resumed = Stock::fold(empty.plan().clone(), &before);
        let new: Vec<Row> = more.iter().filter_map(|deed| does(&mut resumed, *deed)).collect();
        let (read, damage) = read_stock(&written(torn, &new)).unwrap();
        prop_assert_eq!(damage, []);
        prop_assert_eq!(Stock::fold(empty.plan().clone(), &read), resumed);
    }

    /// No text makes reading panic.
    #[test]
    fn any_bytes_are_read(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let header = written(b"", &[]);
        let _either = read_stock(&bytes);
        let _rows = read_stock(&[header, bytes].concat()).unwrap();
    }
}

#[test]
fn a_damaged_row_is_told_and_costs_itself_alone() {
    let mut stock = Stock::new(plan("1..3"));
    let done = Deed::Finish(Verdict::Pass, None);
    let rows: Vec<Row> = (0..3).filter_map(|_| does(&mut stock, done)).collect();
    let text = String::from_utf8(written(b"", &rows)).unwrap();
    let damaged = text.replacen(",pass,", ",passed,", 1);
    let (read, damage) = read_stock(damaged.as_bytes()).unwrap();
    assert_eq!(read, rows[1..]);
    assert_eq!(damage.len(), 1);
    assert_eq!(damage[0].row, 2);
    assert!(damage[0].why.contains("passed"), "{}", damage[0].why);
    let other = b"elapsed_s,quantity\r\n1,2\r\n";
    assert!(
        read_stock(other).is_err(),
        "another table is not written into"
    );
}
