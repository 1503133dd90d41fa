//! Format files that must be refused, each with its line and what is allowed there.

use steadyohm::protocol::{
    Ask, NotProven, Parity, Protocol, Request, StopBits, built_in_files, check_examples,
    check_proof, find,
};
use steadyohm::reading::Seconds;

pub(super) fn text_of(id: &str) -> &'static str {
    let name = format!("protocols/{id}.toml");
    built_in_files()
        .iter()
        .find(|(file, _)| *file == name)
        .unwrap()
        .1
}

/// Loads a built-in file with one change, which must be refused at the changed line with
/// these words.
pub(super) fn refused(id: &str, from: &str, to: &str, words: &[&str]) {
    let text = text_of(id);
    assert!(text.contains(from), "{id} no longer has {from:?}");
    let changed = text.replacen(from, to, 1);
    let (before, _) = text.split_once(from).unwrap();
    let line = 1 + before.matches('\n').count();
    let error = Protocol::from_text(&changed, "my.toml").unwrap_err();
    let told = error.to_string();
    assert!(
        told.starts_with(&format!("my.toml, line {line}: ")),
        "{told}"
    );
    for word in words {
        assert!(told.contains(word), "{told:?} does not say {word:?}");
    }
}

#[test]
fn unknown_keys_are_refused_with_what_is_allowed() {
    let lcd = "lcd-segments-14";
    refused(
        lcd,
        "title =",
        "titel =",
        &["`titel`", "`title`", "`source`"],
    );
    refused(lcd, "settle_ms", "wait_ms", &["`wait_ms`", "`settle_ms`"]);
    refused(lcd, "widths =", "width =", &["`width`", "`widths`"]);
    refused(
        lcd,
        "[frame.indexed-nibbles]",
        "[frame.nibbles]",
        &["`nibbles`", "`indexed-nibbles`"],
    );
    refused(
        lcd,
        "checked = \"from-memory\"",
        "checked = \"surely\"",
        &["`surely`", "`document`"],
    );
    refused(
        "number-lines",
        "unit_if_missing",
        "unit",
        &["`unit`", "`unit_if_missing`"],
    );
    refused(
        "scpi-polled",
        "reply_within_ms",
        "timeout",
        &["`timeout`", "`reply_within_ms`"],
    );
}

/// Changes to the segment format, and what is said of each.
const SEGMENTS: &[(&str, &str, [&str; 2])] = &[
    ("schema = 1", "schema = 2", ["schema 1, not 2", ""]),
    (
        "id = \"lcd-segments-14\"",
        "id = \"LCD 14\"",
        ["lower-case", "LCD 14"],
    ),
    (
        "battery = \"13.0\"",
        "battery = \"15.0\"",
        ["byte 15", "1 to 14"],
    ),
    (
        "battery = \"13.0\"",
        "battery = \"13.5\"",
        ["13.5", "0 to 3"],
    ),
    (
        "battery = \"13.0\"",
        "battery = \"13\"",
        ["names no bit", "12.2"],
    ),
    (
        "battery = \"13.0\"",
        "battery = \"13.1\"",
        ["bit 13.1", "twice"],
    ),
    ("\"2\" = 0x5B", "\"2\" = 0x05", ["0x05", "twice"]),
    ("\"2\" = 0x5B", "\"2\" = 0x80", ["128", "widths"]),
    (
        "quantity = \"diode\"",
        "quantity = \"dioad\"",
        ["dioad", "diode, voltage"],
    ),
    (
        "low_battery = \"battery\"",
        "flat = \"battery\"",
        ["flat", "low_battery"],
    ),
    ("hold = \"hold\"", "hold = \"held\"", ["held", "flags"]),
    (
        "low_battery = \"battery\"",
        "low_battery = \"hold\"",
        ["hold", "twice"],
    ),
    ("count = 14", "count = 16", ["2 to 15", "16"]),
    (
        "shown_has = \"L\"",
        "shown_has = \"X\"",
        ["cannot show", "X"],
    ),
    ("bauds = [2400]", "bauds = [2]", ["50 to 4000000", "2"]),
    ("hex = \"13 20", "hex = \"1320", ["hexadecimal", "1320"]),
    (
        "reads = [\"resistance 100.0",
        "reads = [\"ohms 100.0",
        ["QUANTITY VALUE", "ohms"],
    ),
];

/// Changes to other formats, and what is said of each.
const OTHERS: &[(&str, &str, &str, [&str; 2])] = &[
    (
        "ascii-status-14",
        "length = 14",
        "length = 5000",
        ["1 to 4096", "5000"],
    ),
    (
        "ascii-status-14",
        "{ at = 1 }",
        "{ at = 1, length = 20 }",
        ["byte 20", "1 to 14"],
    ),
    (
        "ascii-status-14",
        "\"sign=-\"",
        "\"sign=--\"",
        ["1 characters", "--"],
    ),
    (
        "ascii-status-14",
        "[[layout.cells.must]]\nat = 14",
        "[[layout.cells.must]]\nat = 13",
        ["position 13", "exclude"],
    ),
    (
        "jis-11-4000",
        "when = [\"function=5\"",
        "when = [\"mode=5\"",
        ["mode", "CODE=VALUE"],
    ),
    (
        "number-lines",
        "words = [\"HOLD\"]",
        "words = [\"AUTO\"]",
        ["AUTO", "twice"],
    ),
    (
        "number-lines",
        "words = [\"HOLD\"]",
        "words = [\"kR\"]",
        ["kR", "unit"],
    ),
    (
        "number-lines",
        "longest = 512",
        "longest = 0",
        ["1 to 4096", "0"],
    ),
    (
        "scpi-polled",
        "separator = \",\"",
        "separator = \"-\"",
        ["comma", "-"],
    ),
    (
        "scpi-polled",
        "over_from = 9.9e37",
        "over_from = 9.9",
        ["1e37", "9.9"],
    ),
    ("scpi-polled", "\"NAN\"", "\"INF\"", ["INF", "twice"]),
];

#[test]
fn contradictions_are_refused() {
    for (from, to, words) in SEGMENTS {
        refused("lcd-segments-14", from, to, words);
    }
    for (id, from, to, words) in OTHERS {
        refused(id, from, to, words);
    }
}

#[test]
fn a_function_claimed_twice_is_refused() {
    let text = text_of("lcd-segments-14");
    let more = "[[layout.cells.function]]\nwhen = [\"ohm\"]\nquantity = \"resistance\"\n";
    let error = Protocol::from_text(&format!("{text}\n{more}"), "my.toml").unwrap_err();
    assert_eq!(error.line(), 2 + text.lines().count());
    assert!(error.to_string().contains("twice"), "{error}");
}

#[test]
fn tables_and_frames_without_bounds_are_refused() {
    let words: Vec<String> = (0..5000).map(|number| format!("\"w{number}\"")).collect();
    let longer = format!("over_words = [{}, ", words.join(", "));
    refused("number-lines", "over_words = [", &longer, &["4096"]);
    let lines = "[frame.lines]\nending = \"\\n\"\nlongest = 99";
    let text = text_of("stx-16").replacen("[frame.fixed]\nlength = 16", lines, 1);
    let error = Protocol::from_text(&text, "my.toml").unwrap_err();
    assert!(error.to_string().contains("exact_length"), "{error}");
}

#[test]
fn a_file_without_source_or_examples_reads_but_proves_nothing() {
    let text = text_of("lcd-segments-14").replacen("source =", "# source =", 1);
    let (head, _) = text.split_once("[[example]]").unwrap();
    let protocol = Protocol::from_text(head, "my.toml").unwrap();
    let few = NotProven::FewExamples { found: 0 };
    assert_eq!(check_proof(&protocol), [NotProven::NoSource, few]);
    assert_eq!(check_examples(&protocol), []);
}

#[test]
fn a_wrong_example_is_told() {
    let text = text_of("lcd-segments-14").replacen("resistance 100.0", "resistance 10.00", 1);
    let protocol = Protocol::from_text(&text, "my.toml").unwrap();
    let outcomes = check_examples(&protocol);
    let wrong: Vec<_> = outcomes.iter().filter(|outcome| !outcome.ok).collect();
    assert_eq!(wrong.len(), 1);
    assert_eq!(wrong[0].expected, "resistance 10.00 auto_range");
    assert_eq!(wrong[0].got, "resistance 100.0 auto_range");
}

#[test]
fn a_mistyped_name_finds_its_neighbours() {
    let unknown = find("scpi-poled").unwrap_err();
    assert_eq!(
        unknown.nearest.first().map(String::as_str),
        Some("scpi-polled")
    );
    assert!(unknown.to_string().contains("did you mean scpi-polled"));
    let unknown = find("q").unwrap_err();
    assert!(unknown.nearest.is_empty());
    assert!(unknown.to_string().contains("number-lines"));
}

#[test]
fn the_link_is_set_as_the_file_says() {
    let lcd = find("lcd-segments-14").unwrap();
    let serial = lcd.serial();
    assert_eq!((serial.baud, serial.data_bits), (2400, 8));
    assert_eq!(
        (serial.parity, serial.stop_bits),
        (Parity::None, StopBits::One)
    );
    assert_eq!((serial.dtr, serial.rts), (Some(true), Some(false)));
    assert_eq!(lcd.ask(), &Ask::Listen);
    assert!(lcd.resolution_tells_range());
    let bench = find("scpi-polled").unwrap();
    assert!(!bench.resolution_tells_range());
    // One mains cycle at 50 Hz: published interface manuals, 1 NPLC is 20 or 16.7 ms.
    assert_eq!(bench.aperture(), Some(Seconds(0.02)));
    let Ask::Request(Request {
        at_open,
        ask,
        at_close,
        ..
    }) = bench.ask()
    else {
        panic!("a polled format asks");
    };
    assert_eq!(ask, b"READ?\n");
    assert_eq!(
        at_open.first().map(Vec::as_slice),
        Some(b"SYST:REM\n".as_slice())
    );
    assert_eq!(at_close.concat(), b"SYST:LOC\n");
}
