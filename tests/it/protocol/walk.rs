//! From captured bytes to a working file: each step's mistake is told with its line and what
//! to write there, and the next step is what the sentence says.
//!
//! The meter is invented: `OHM,+0103.4,k,A` and CR LF, three times a second, captured as hex.

use std::sync::Arc;

use steadyohm::protocol::{
    Decoder, Item, Joining, NotProven, Protocol, check_examples, check_proof,
};

/// The capture: a line cut by joining, two readings, an open circuit.
const CAPTURE: &str = "33 2E 34 2C 6B 2C 41 0D 0A \
    4F 48 4D 2C 2B 30 31 30 33 2E 34 2C 6B 2C 41 0D 0A \
    4F 48 4D 2C 2B 30 30 30 30 2E 33 2C 2D 2C 4D 0D 0A \
    4F 48 4D 2C 4F 56 45 52 46 4C 2C 4D 2C 41 0D 0A";

fn capture() -> Vec<u8> {
    let pairs = CAPTURE.split_whitespace();
    pairs
        .map(|pair| u8::from_str_radix(pair, 16).unwrap())
        .collect()
}

fn refusal(text: &str) -> String {
    Protocol::from_text(text, "mine.toml")
        .unwrap_err()
        .to_string()
}

/// Replaces what must be there.
fn with(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "{from:?} is not in the file");
    text.replacen(from, to, 1)
}

fn taken(text: &str) -> Arc<Protocol> {
    Arc::new(Protocol::from_text(text, "mine.toml").unwrap_or_else(|error| panic!("{error}")))
}

fn items(text: &str) -> Vec<Item> {
    Decoder::new(taken(text), Joining::MidStream).push(&capture())
}

/// Step 1: the file is begun with the line settings and the frame.
const BEGUN: &str = r#"schema = 1

[about]
id = "My Meter"
title = "The meter on the second bench"
checked = "real-meter"

[serial]
bauds = [9600]

[frame.lines]
ending = "\r\n"
longest = 64
"#;

/// Step 3: what stands in a line.
const LAYOUT: &str = r#"
[layout.columns]
delimiter = ","
columns = 4
value = 2
unit = 3
status = "range"

[layout.columns.words]
unit_if_missing = "resistence"

[[layout.columns.words.prefixes]]
words = ["k"]
power = 3
"#;

/// Step 9: what the bytes of the capture mean.
const EXAMPLES: &str = r#"
[[example]]
name = "103.4 kilohm"
text = "OHM,+0103.4,k,A\r\n"
reads = ["resistance 103.4 auto_range"]

[[example]]
name = "0.3 ohm, range by hand"
hex = "4F 48 4D 2C 2B 30 30 30 30 2E 33 2C 2D 2C 4D 0D 0A"
reads = ["resistance 0.3"]

[[example]]
name = "open circuit"
text = "OHM,OVERFL,M,A\r\n"
reads = ["resistance over auto_range"]
"#;

const MORE: &str = r#"
[[example]]
name = "a line cut short"
text = "3.4,k,A\r\n"
reads = ["garbled"]

[[example]]
name = "4.700 megohm"
text = "OHM,+4.7000,M,A\r\n"
reads = ["resistance 4.7000e6 auto_range"]
"#;

#[test]
fn from_captured_bytes_to_a_working_file() {
    proven(&readable(&accepted()));
}

/// Steps 1 to 4: until the file is taken.
fn accepted() -> String {
    // 1. Only the name is wrong, and a layout is missing; each is told in turn.
    let told = refusal(BEGUN);
    assert_eq!(told, "mine.toml, line 1: missing field `layout`");
    let text = format!("{BEGUN}{LAYOUT}");
    let told = refusal(&text);
    assert!(
        told.starts_with("mine.toml, line 4: the id \"My Meter\""),
        "{told}"
    );
    assert!(told.contains("such as my-meter"), "{told}");
    let text = with(&text, "\"My Meter\"", "\"my-meter\"");

    // 2. A column by name needs a header; this meter sends none, so a number it is.
    let told = refusal(&text);
    assert!(
        told.contains("line 20: there is no column \"range\""),
        "{told}"
    );
    assert!(told.contains("the file has no header"), "{told}");
    let text = with(&text, "status = \"range\"", "status = 4");

    // 3. The open circuit of the capture says OVERFL: without that word it would be garbled.
    let told = refusal(&text);
    assert!(told.contains("over_words is missing"), "{told}");
    let unit = "unit_if_missing = \"resistence\"\n";
    let text = with(&text, unit, &format!("{unit}over_words = [\"OVERFL\"]\n"));

    // 4. A misspelt quantity is told with those there are.
    let told = refusal(&text);
    assert!(
        told.contains("line 23: there is no quantity \"resistence\""),
        "{told}"
    );
    assert!(told.contains("one of resistance, continuity"), "{told}");
    with(&text, "resistence", "resistance")
}

/// Steps 5 to 8: until every line of the capture is read.
fn readable(text: &str) -> String {
    // 5. The file is taken, but no line of the capture is read: "A" and "M" are unknown words.
    let got = items(text);
    assert!(
        got.iter().all(|item| matches!(item, Item::Garbled { .. })),
        "{got:?}"
    );
    assert_eq!(got.len(), 3, "the line cut by joining is dropped unsaid");
    let marks = "\n[[layout.columns.words.marks]]\nwords = [\"A\"]\nmark = \"auto\"\n";
    let told = refusal(&format!("{text}{marks}"));
    assert!(
        told.contains("no mark \"auto\"; it is one of auto_range, hold"),
        "{told}"
    );
    let text = format!("{text}{}", with(marks, "\"auto\"", "\"auto_range\""));

    // 6. One line is read now; of the others, M and - as a unit are still unknown.
    let reads = |text: &str| {
        let is_reading = |item: &Item| matches!(item, Item::Reading(_));
        items(text).iter().map(is_reading).collect::<Vec<_>>()
    };
    assert_eq!(reads(&text), [true, false, false]);
    let mega = "\n[[layout.columns.words.prefixes]]\nwords = [\"M\"]\npower = 6\n";
    let text = format!("{text}{mega}");
    assert_eq!(reads(&text), [true, false, true]);

    // 7. M says two things: mega among the units, by hand in the last column. As a word that
    //    says nothing it may stand there; the dash of a missing prefix too.
    let text = with(&text, "over_words", "ignored = [\"M\", \"-\"]\nover_words");
    assert_eq!(reads(&text), [true, true, true]);

    // 8. The M of the last column is no mega, whatever stands for the unit: the same reading.
    let protocol = taken(&text);
    let Item::Reading(by_hand) = items(&text)[1] else {
        panic!("the second line is no reading");
    };
    assert_eq!(by_hand.number(), Some(0.3));
    let no_unit = Decoder::new(Arc::clone(&protocol), Joining::AtStart).push(b"OHM,0.3,,M\r\n");
    assert_eq!(no_unit, [Item::Reading(by_hand)]);
    text
}

/// Steps 9 to 11: until it can be relied on.
fn proven(text: &str) {
    // 9. It is not proven: no source is named and no examples are given.
    let found = 0;
    let missing = [NotProven::NoSource, NotProven::FewExamples { found }];
    assert_eq!(check_proof(&taken(text)), missing);
    assert!(missing[0].to_string().contains("add the document"));
    let source = "source = \"captured on the second bench\"\nchecked";
    let text = with(text, "checked", source);

    // 10. An example that is wrong says what the bytes mean: the writer forgot the kilo.
    let text = format!("{text}{EXAMPLES}");
    let wrong: Vec<_> = check_examples(&taken(&text))
        .into_iter()
        .filter(|e| !e.ok)
        .collect();
    assert_eq!(wrong.len(), 1);
    assert_eq!(wrong[0].name, "103.4 kilohm");
    assert_eq!(wrong[0].expected, "resistance 103.4 auto_range");
    assert_eq!(wrong[0].got, "resistance 1034e2 auto_range");
    let text = with(&text, "resistance 103.4 auto", "resistance 103.4e3 auto");
    let found = 3;
    assert_eq!(
        check_proof(&taken(&text)),
        [NotProven::FewExamples { found }]
    );

    // 11. Two more, one of them a line that must not be read, and the file stands.
    let protocol = taken(&format!("{text}{MORE}"));
    assert_eq!(check_proof(&protocol), []);
    for outcome in check_examples(&protocol) {
        assert!(outcome.ok, "{outcome:?}");
    }
}
