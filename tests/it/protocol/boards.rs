//! Columns and JSON lines from a board of one's own.

use std::sync::Arc;

use proptest::prelude::*;
use steadyohm::protocol::{Decoder, Garble, Item, Joining, Protocol, encode, find, library};
use steadyohm::reading::{Annunciator, Decimal, Magnitude, Measured};

use super::files::{refused, text_of};

fn read(protocol: &Arc<Protocol>, text: &str) -> Vec<Item> {
    Decoder::new(Arc::clone(protocol), Joining::AtStart).push(text.as_bytes())
}

fn one(protocol: &Arc<Protocol>, text: &str) -> Measured {
    match read(protocol, text).as_slice() {
        [Item::Reading(measured)] => *measured,
        other => panic!("{text:?}: {other:?}"),
    }
}

fn why(protocol: &Arc<Protocol>, text: &str) -> Garble {
    match read(protocol, text).as_slice() {
        [Item::Garbled { why, .. }] => *why,
        other => panic!("{text:?}: {other:?}"),
    }
}

/// A format of these frame and layout tables, with nothing else to say.
fn format(tables: &str) -> Result<Arc<Protocol>, String> {
    let head =
        "schema = 1\n[about]\nid = \"mine\"\ntitle = \"mine\"\nchecked = \"real-meter\"\n";
    let frame = "[frame.lines]\nending = \"\\n\"\nlongest = 200\n";
    Protocol::from_text(&format!("{head}{frame}{tables}"), "mine.toml")
        .map(Arc::new)
        .map_err(|error| error.to_string())
}

#[test]
fn semicolons_and_decimal_commas() {
    let text = "[layout.columns]\ndelimiter = \";\"\ncolumns = 2\nvalue = 1\nover = 2\n\
                [layout.columns.words]\nunit_if_missing = \"resistance\"\n\
                decimal_comma = true\npower_if_missing = 3\n";
    let protocol = format(text).unwrap();
    let measured = one(&protocol, "12,50;0\n");
    let twelve = Decimal {
        digits: 1250,
        exponent: 1,
    };
    assert_eq!(
        measured.magnitude,
        Magnitude::Number(twelve),
        "kilohms, as stated"
    );
    assert_eq!(measured.resolution, Some(1));
    assert_eq!(encode(&protocol, &measured).unwrap(), b"12,50;0\n");
    let over = one(&protocol, "99999;1\n");
    assert_eq!(over.magnitude, Magnitude::Over { beyond: None });
    assert_eq!(encode(&protocol, &over).unwrap(), b";1\n");
    assert_eq!(why(&protocol, "12.50;0\n"), Garble::UnknownWord);
    let comma = text.replacen("\";\"", "\",\"", 1);
    assert!(
        format(&comma)
            .unwrap_err()
            .contains("both the delimiter and the decimal point")
    );
}

#[test]
fn a_header_names_the_columns_and_is_no_reading() {
    let protocol = find("csv-columns").unwrap();
    assert_eq!(read(&protocol, "t_ms, \"ohm\",auto\r\n"), []);
    let (found, wanted) = (4, 3);
    assert_eq!(
        why(&protocol, "1,2,3,4\n"),
        Garble::Columns { found, wanted }
    );
    assert!(
        one(&protocol, "1,2,TRUE\n")
            .annunciators
            .has(Annunciator::AutoRange)
    );
    // Another header is told, not taken for a reading.
    assert_eq!(why(&protocol, "time,value,auto\n"), Garble::UnknownWord);
}

#[test]
fn columns_that_are_not_there_are_refused() {
    let csv = "csv-columns";
    refused(
        csv,
        "value = \"ohm\"",
        "value = \"ohms\"",
        &["\"ohms\"", "t_ms, ohm, auto"],
    );
    refused(
        csv,
        "value = \"ohm\"",
        "value = 4",
        &["no column 4", "a line has 3"],
    );
    refused(
        csv,
        "value = \"ohm\"",
        "value = true",
        &["number of a column", "header"],
    );
    refused(
        csv,
        "auto_range = \"auto\"",
        "automatic = \"auto\"",
        &["automatic", "auto_range"],
    );
    refused(
        csv,
        "delimiter = \",\"",
        "delimiter = \".\"",
        &["a comma", "'.'"],
    );
    let tsv = "tsv-columns";
    refused(
        tsv,
        "value = 2",
        "value = \"ohm\"",
        &["\"ohm\"", "no header"],
    );
    refused(
        tsv,
        "value = 2",
        "value = 0",
        &["no column 0", "numbered from 1"],
    );
    refused(tsv, "columns = 4", "columns = 600", &["1 to 512", "600"]);
    let text = text_of(tsv).replacen("columns = 4\n", "", 1);
    let error = Protocol::from_text(&text, "my.toml")
        .unwrap_err()
        .to_string();
    assert!(error.contains("either columns"), "{error}");
    refused(
        "json-lines",
        "unit = \"u\"",
        "unit = \"u.\"",
        &["\"u.\"", "reading.ohms"],
    );
}

/// A board that cannot say over-range could not show an open lead.
#[test]
fn over_range_must_have_a_way_to_be_said() {
    for id in ["csv-columns", "tsv-columns", "number-lines"] {
        let text = text_of(id);
        let (before, rest) = text.split_once("over_words = [").unwrap();
        let (_, after) = rest.split_once(']').unwrap();
        let silent = format!("{before}{after}");
        let error = Protocol::from_text(&silent, "my.toml")
            .unwrap_err()
            .to_string();
        assert!(error.contains("over_words is missing"), "{id}: {error}");
    }
    let json = text_of("json-lines").replacen("over_words = [\"OL\"]", "", 1);
    let (head, _) = json.split_once("[[example]]").unwrap();
    let protocol = Arc::new(Protocol::from_text(head, "my.toml").unwrap());
    let over = one(&protocol, "{\"r\":null,\"open\":true}\n");
    assert_eq!(encode(&protocol, &over).unwrap().last(), Some(&b'\n'));
}

#[test]
fn names_inside_names() {
    let protocol = format(
        "[layout.json]\nvalue = \"meter.reading.ohms\"\nover = \"meter.open\"\n\
         [layout.json.marks]\nhold = \"meter.state.hold\"\n\
         [layout.json.words]\nunit_if_missing = \"resistance\"\n",
    )
    .unwrap();
    let line =
        "{\"meter\":{\"open\":false,\"reading\":{\"ohms\":4.70},\"state\":{\"hold\":true}}}\n";
    let measured = one(&protocol, line);
    let number = Decimal {
        digits: 470,
        exponent: -2,
    };
    assert_eq!(measured.magnitude, Magnitude::Number(number));
    assert_eq!(
        measured.resolution, None,
        "writers of JSON drop closing zeros"
    );
    assert!(measured.annunciators.has(Annunciator::Hold));
    let written = encode(&protocol, &measured).unwrap();
    assert_eq!(
        read(&protocol, std::str::from_utf8(&written).unwrap()),
        read(&protocol, line)
    );
    assert_eq!(why(&protocol, "{\"meter\":{}}\n"), Garble::NoValue);
    assert_eq!(why(&protocol, "{\"meter\":3}\n"), Garble::NotAnObject);
    assert_eq!(why(&protocol, "[1,2]\n"), Garble::NotAnObject);
    assert_eq!(
        why(&protocol, "{\"meter\":{\"reading\":{\"ohms\":[1]}}}\n"),
        Garble::NotANumber
    );
    let odd = "{\"meter\":{\"reading\":{\"ohms\":1},\"state\":{\"hold\":\"no\"}}}\n";
    assert_eq!(why(&protocol, odd), Garble::UnknownWord);
}

/// Nesting has no end of its own but the line's.
#[test]
fn deep_objects_do_no_harm() {
    let protocol = find("json-lines").unwrap();
    let deep = format!("{{\"r\":{}{}}}\n", "[".repeat(200), "]".repeat(200));
    assert_eq!(why(&protocol, &deep), Garble::NotANumber);
    let unclosed = format!("{{\"r\":{}\n", "[".repeat(400));
    assert_eq!(why(&protocol, &unclosed), Garble::NotAnObject);
    let long = format!("{{\"r\":1,\"x\":\"{}\"}}\n", "y".repeat(600));
    assert!(matches!(
        read(&protocol, &long)[0],
        Item::Garbled {
            why: Garble::LineTooLong(512),
            ..
        }
    ));
}

proptest! {
    /// Reference: the standard library's parser, on numbers as RFC 8259 has them.
    #[test]
    fn json_numbers_are_the_doubles_their_text_is(value in -1e9_f64..1e9, places in 1_usize..9) {
        let text = format!("{value:.places$}");
        let measured = one(&find("json-lines").unwrap(), &format!("{{\"r\":{text}}}\n"));
        let expected: f64 = text.parse().unwrap();
        prop_assert_eq!(measured.number().map(|n| (n + 0.0).to_bits()), Some((expected + 0.0).to_bits()));
    }

    /// A line with any one character left out reads as nothing, or as what it then says: never
    /// as a column moved into another's place.
    #[test]
    fn a_lost_delimiter_moves_no_column(time in 0_u32..100_000, ohms in 0_u32..100_000) {
        let protocol = find("csv-columns").unwrap();
        let lost = format!("{time}{ohms},1\n");
        let (found, wanted) = (2, 3);
        prop_assert_eq!(why(&protocol, &lost), Garble::Columns { found, wanted });
    }
}

/// The ready files of a user's own board are the first thing he copies: none of them raises
/// DTR, which would reset the board.
#[test]
fn no_board_is_reset() {
    let boards = ["number-lines", "csv-columns", "tsv-columns", "json-lines"];
    let own = library()
        .iter()
        .filter(|protocol| boards.contains(&protocol.id()));
    assert_eq!(
        own.filter(|protocol| protocol.serial().dtr.is_none())
            .count(),
        boards.len()
    );
}
