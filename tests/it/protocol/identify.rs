//! Which format a stream is: every built-in format among all others, with noise, joined
//! anywhere, and streams that are none of them. A sure answer is never wrong.

mod streams; // what meters and other devices send, and what a line does to it

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Arc, LazyLock};

use proptest::prelude::*;
use steadyohm::protocol::{
    Ask, Identification, Identifier, Identity, Protocol, SerialSettings, find, library,
    settings_to_try,
};

use streams::{Content, Line, Meter, chance};

/// Readings at two a second for two seconds, three for three, ten for three.
const LENGTHS: [usize; 3] = [4, 9, 30];

/// The shares of damaged bytes.
const NOISE: [f64; 3] = [0.0, 0.01, 0.05];

fn identifier(formats: &[Arc<Protocol>], speaks: &Protocol) -> Identifier {
    match speaks.ask() {
        Ask::Listen => Identifier::new(formats),
        Ask::Request(_) => Identifier::answering(formats, speaks.id()),
    }
}

fn identify(mut identifier: Identifier, bytes: &[u8]) -> Identification {
    identifier.push(bytes);
    identifier.verdict()
}

fn said(identification: &Identification) -> String {
    match &identification.outcome {
        Identity::Right(format) => format.id().to_owned(),
        Identity::NotSure { best, runner_up } => format!(
            "not sure: {} or {:?}",
            best.id(),
            runner_up.as_ref().map(|format| format.id().to_owned())
        ),
        Identity::None => "none".to_owned(),
    }
}

/// A stream of a format as it is heard: joined anywhere where the meter talks by itself, and
/// damaged.
fn heard(
    meter: &Meter<'_>,
    content: Content,
    (frames, noise): (usize, f64),
    seed: u64,
) -> Vec<u8> {
    let mut chance = chance(seed);
    let frames = meter.frames(content, frames, &mut chance);
    let cut = match meter.format.ask() {
        Ask::Listen => streams::below(&mut chance, frames[0].len()),
        Ask::Request(_) => 0,
    };
    let mut bytes = frames.concat().split_off(cut);
    streams::damage(&mut bytes, noise, &mut chance);
    bytes
}

/// The only format whose lines are bare numbers unless their header is heard, so that none of
/// its streams without one is sure; every other is sure on each of `Content::ALL`.
const BARE: &str = "csv-columns";

/// How many of the streams of a cell were named right, not surely, and wrong.
#[derive(Debug, Default, Clone, Copy)]
struct Cell {
    right: u32,
    unsure: u32,
    /// How many of the unsure were named as the best.
    named: u32,
    wrong: u32,
}

/// Every format, length and share of noise; each of `Content::ALL` joined so many times, 5
/// unless the environment's `JOININGS` says otherwise.
fn table(formats: &[Arc<Protocol>]) -> BTreeMap<(String, usize, usize), Cell> {
    let joinings = std::env::var("JOININGS")
        .ok()
        .and_then(|count| count.parse().ok());
    let mut cells = BTreeMap::new();
    for format in library() {
        let fresh = identifier(formats, format);
        let meter = Meter::new(format);
        for (place, noise) in NOISE.into_iter().enumerate() {
            for frames in LENGTHS {
                let key = (format.id().to_owned(), place, frames);
                let cell: &mut Cell = cells.entry(key).or_default();
                for content in Content::ALL {
                    for seed in 0..joinings.unwrap_or(5) {
                        let bytes = heard(&meter, content, (frames, noise), seed);
                        let found = identify(fresh.clone(), &bytes);
                        match &found.outcome {
                            Identity::Right(named) if named.id() == format.id() => {
                                cell.right += 1;
                            }
                            Identity::Right(_) => cell.wrong += 1,
                            Identity::NotSure { best, .. } => {
                                cell.unsure += 1;
                                cell.named += u32::from(best.id() == format.id());
                            }
                            Identity::None => cell.unsure += 1,
                        }
                    }
                }
            }
        }
    }
    cells
}

fn shown(cells: &BTreeMap<(String, usize, usize), Cell>) -> String {
    let mut text = "right / not sure / wrong; 4 frames, 9 frames, 30 frames\n".to_owned();
    for ((id, place, frames), cell) in cells {
        if *frames == LENGTHS[0] {
            write!(text, "{id:<18} {:>3.0} %", NOISE[*place] * 100.0).unwrap();
        }
        let Cell {
            right,
            unsure,
            wrong,
            named: _,
        } = cell;
        write!(text, "   {right:>3} /{unsure:>3} /{wrong:>2}").unwrap();
        if *frames == LENGTHS[2] {
            text.push('\n');
        }
    }
    text
}

/// `JOININGS=25 cargo test --test it every_format_among_all -- --nocapture` prints the table.
#[test]
#[expect(
    clippy::print_stdout,
    reason = "the table is for whoever runs this by hand"
)]
fn every_format_among_all_the_others() {
    let cells = table(library());
    println!("{}", shown(&cells));
    for ((id, place, frames), cell) in &cells {
        let noise = NOISE[*place];
        assert_eq!(cell.wrong, 0, "{id}, {frames} frames, noise {noise}");
        if id == BARE {
            assert_eq!(cell.right, 0, "{id}, {frames} frames, noise {noise}");
            if *place == 0 {
                assert_eq!(cell.named, cell.unsure, "{id}, {frames} frames: {cell:?}");
            }
            continue;
        }
        // A clean stream is named, however short.
        if *place == 0 {
            assert_eq!(cell.unsure, 0, "{id}, {frames} frames: {cell:?}");
        }
        // Damage makes it slower, not blind.
        if *place == 1 && *frames == 30 {
            assert!(cell.right > 5 * cell.unsure, "{id}: {cell:?}");
        }
    }
}

/// A format that is not in the list is never taken for another one surely.
#[test]
fn a_format_that_is_missing_is_not_mistaken() {
    // A reply of this one is, word for word, a label, a number and its unit.
    let reads_as_lines = "ascii-14-request";
    for format in library()
        .iter()
        .filter(|format| format.id() != reads_as_lines)
    {
        let twins = ["scpi-stream", "scpi-polled"];
        let is_it = |other: &str| {
            other == format.id() || (twins.contains(&other) && twins.contains(&format.id()))
        };
        let others: Vec<Arc<Protocol>> = library()
            .iter()
            .filter(|other| !is_it(other.id()))
            .cloned()
            .collect();
        let fresh = Identifier::new(&others);
        let meter = Meter::new(format);
        for content in Content::ALL {
            for frames in LENGTHS {
                for (seed, noise) in (0..3).zip([0.0, 0.01, 0.05].into_iter().cycle()) {
                    let bytes = heard(&meter, content, (frames, noise), seed);
                    let found = identify(fresh.clone(), &bytes);
                    assert!(
                        !matches!(found.outcome, Identity::Right(_)),
                        "{} {content:?} {frames} {noise}: {}",
                        format.id(),
                        said(&found)
                    );
                }
            }
        }
    }
}

#[test]
fn streams_of_other_things_are_none() {
    for (name, bytes) in streams::strangers() {
        let found = identify(FRESH.clone(), &bytes);
        assert!(
            matches!(found.outcome, Identity::None),
            "{name}: {}; {:?}",
            said(&found),
            found.ranking[0]
        );
    }
}

/// Text that reads as numbers without saying of what: never surely anything.
#[test]
fn bare_numbers_are_never_sure() {
    for (name, text) in [
        ("one number a line", "23.5\r\n23.6\r\n23.4\r\n"),
        ("whole numbers", "1023\n1024\n1023\n"),
        ("zeros", "0\r\n0\r\n0\r\n"),
        ("nine zeros", "000000000\r\n000000000\r\n"),
        ("columns", "1500,249830,1\n1600,249831,1\n"),
        ("columns with a word", "1500,OL,1\n1600,OL,1\n"),
        ("columns under other names", "t,r,hold\n1500,249830,1\n"),
        ("columns between tabs", "1042\t0.31\t\t\n1043\t0.32\t\tOK\n"),
        (
            "a number named in an object",
            "{\"r\":249.83}\n{\"r\":249.84}\n",
        ),
        ("a colour", "{\"r\":12,\"g\":250,\"b\":7}\n"),
        ("a label unknown to the format", "temp: 23.5\ntemp: 23.6\n"),
        ("lower-case exponents", "1.5e+03\n1.6e+03\n"),
        ("words that two formats know", "INF\nINF\nINF\n"),
    ] {
        let found = identify(FRESH.clone(), text.repeat(20).as_bytes());
        assert!(
            !matches!(found.outcome, Identity::Right(_)),
            "{name}: {}",
            said(&found)
        );
    }
}

#[test]
fn numbers_in_the_standard_form_are_the_bench_meters() {
    // The reply forms of the bench meters' standard, as the format files quote them.
    for text in [
        "+1.00234500E+04\r\n",
        "+9.90000000E+37\r\n",
        "+0.00000000E+00\r\n",
        "-1.2E-02\n",
        "+1.00E+02,+1.01E+02\r\n",
    ] {
        let found = identify(FRESH.clone(), text.repeat(4).as_bytes());
        assert_eq!(said(&found), "scpi-stream", "{text}");
    }
}

#[test]
fn a_board_is_known_by_its_units_and_words() {
    for text in [
        "R=9.982 kOhm\r\n",
        "12.345k\n",
        "0.4982 M\u{03A9}\n",
        "10.2\nOL\n",
    ] {
        let found = identify(FRESH.clone(), text.repeat(6).as_bytes());
        assert_eq!(said(&found), "number-lines", "{text}");
    }
}

#[test]
fn columns_are_known_by_the_line_that_names_them() {
    let format = find(BARE).unwrap();
    let meter = Meter::new(&format);
    let header = b"t_ms,ohm,auto\r\n".to_vec();
    for content in Content::ALL {
        let frames = meter.frames(content, 4, &mut chance(7));
        let headed = [header.clone(), frames.concat()].concat();
        // Met in the middle: a board that starts anew.
        let restarted = [frames.concat(), b"# boot v1.2\n".to_vec(), headed.clone()].concat();
        for fresh in [FRESH.clone(), Identifier::at_start(library())] {
            for bytes in [&headed, &restarted] {
                let found = identify(fresh.clone(), bytes);
                assert_eq!(said(&found), BARE, "{content:?}");
            }
        }
    }
    // The header alone says nothing of what follows.
    let found = identify(FRESH.clone(), &header.repeat(5));
    assert!(matches!(found.outcome, Identity::None), "{}", said(&found));
}

#[test]
fn columns_and_objects_are_known_by_units_and_names() {
    for (id, text) in [
        ("tsv-columns", "1042\t7.93\tkohm\tOK\n"),
        ("tsv-columns", "1045\tOL\tMohm\t\n"),
        ("json-lines", "{\"r\":249.83,\"u\":\"k\",\"hold\":false}\n"),
        ("json-lines", "{\"t\":1500,\"r\":null,\"open\":true}\r\n"),
    ] {
        let found = identify(FRESH.clone(), text.repeat(4).as_bytes());
        assert_eq!(said(&found), id, "{text}");
    }
}

/// Lines of several columns whose others are empty come near to one number with its unit.
#[test]
fn several_columns_are_not_one_number() {
    let other = |format: &&Arc<Protocol>| format.id() != "tsv-columns";
    let others: Vec<Arc<Protocol>> = library().iter().filter(other).cloned().collect();
    for text in ["\t0.4\tohm\t\n", "\tOL\t\t\n", "0.4\tkohm\tHOLD\n"] {
        let found = identify(Identifier::new(&others), text.repeat(6).as_bytes());
        assert!(
            !matches!(found.outcome, Identity::Right(_)),
            "{text}: {}",
            said(&found)
        );
    }
}

/// Formats of one question: the form of the reply decides, whichever was asked for.
#[test]
fn the_reply_decides_between_formats_of_one_question() {
    let twins = ["scpi-polled", "scpi-block"];
    for asked in twins {
        for answers in twins {
            let format = find(answers).unwrap();
            let replies = Meter::new(&format).frames(Content::Mixed, 3, &mut chance(9));
            let found = identify(Identifier::answering(library(), asked), &replies.concat());
            assert_eq!(said(&found), answers, "asked as {asked}");
        }
    }
}

#[test]
fn one_frame_is_not_enough() {
    let fresh = Identifier::at_start(library());
    for format in library() {
        let frame = Meter::new(format)
            .frames(Content::Closed, 1, &mut chance(1))
            .concat();
        let found = identify(fresh.clone(), &frame);
        assert!(
            matches!(found.outcome, Identity::NotSure { .. }),
            "{}: {}",
            format.id(),
            said(&found)
        );
    }
}

/// A sister chip with the same frames and other tables: here, with a function code that the
/// format does not know in half of the frames.
#[test]
fn frames_of_the_right_shape_without_meaning_are_not_sure() {
    let stream = b"010003002\r\n010004002\r\n".repeat(10);
    let jis = find("jis-11-4000").unwrap();
    let known = b"010003302\r\n010004402\r\n".repeat(10);
    for bytes in [stream, known] {
        let found = identify(Identifier::new(&[Arc::clone(&jis)]), &bytes);
        assert!(
            !matches!(found.outcome, Identity::Right(_)),
            "{}",
            said(&found)
        );
    }
    // A display of 6000 counts shows what one of 4000 cannot.
    let beyond = b"155003002\r\n154993002\r\n".repeat(10);
    let found = identify(FRESH.clone(), &beyond);
    assert!(
        !matches!(found.outcome, Identity::Right(_)),
        "{}",
        said(&found)
    );
}

/// Seven bits with odd parity, heard on a line set to eight bits.
#[test]
fn a_parity_bit_is_not_part_of_the_character() {
    for id in ["jis-11-4000", "jis-14-22000"] {
        let format = find(id).unwrap();
        let frames = Meter::new(&format)
            .frames(Content::Mixed, 6, &mut chance(3))
            .concat();
        let odd = |byte: &u8| byte | u8::from(byte.count_ones().is_multiple_of(2)) << 7;
        let bytes: Vec<u8> = frames.iter().map(odd).collect();
        assert_eq!(said(&identify(FRESH.clone(), &bytes)), id);
        // With even parity it is another meter.
        let even: Vec<u8> = bytes.iter().map(|byte| byte ^ 0x80).collect();
        let found = identify(FRESH.clone(), &even);
        assert!(matches!(found.outcome, Identity::None), "{}", said(&found));
    }
}

/// A meter at one speed, heard at another, gives bytes that are nobody's.
#[test]
fn a_wrong_speed_is_nobodys_format() {
    for format in library() {
        let own = format.serial();
        let frames = Meter::new(format).frames(Content::Mixed, 30, &mut chance(5));
        for baud in [1_200, 2_400, 9_600, 19_200, 115_200] {
            for sent in format.bauds().iter().take(2).filter(|sent| **sent != baud) {
                let line = Line {
                    sent: *sent,
                    heard: baud,
                    own,
                };
                let bytes = line.carry(&frames);
                let found = identify(FRESH.clone(), &bytes);
                assert!(
                    matches!(found.outcome, Identity::None),
                    "{} at {sent} heard at {baud}: {}; {:?}",
                    format.id(),
                    said(&found),
                    found.ranking[0]
                );
            }
        }
    }
}

#[test]
fn the_likeliest_settings_come_first() {
    let settings = settings_to_try(library());
    let first: Vec<(u32, u8, Option<bool>)> = settings
        .iter()
        .take(2)
        .map(|line| (line.baud, line.data_bits, line.dtr))
        .collect();
    assert_eq!(first, [(2_400, 8, Some(true)), (9_600, 8, None)]);
    // The usual speed of boards of one's own comes after the usual ones of all meters.
    let place = |baud: u32, dtr: Option<bool>| {
        let is_it = |line: &SerialSettings| (line.baud, line.dtr) == (baud, dtr);
        settings.iter().position(is_it).unwrap()
    };
    assert!(place(115_200, None) > place(19_200, Some(true)));
    assert!(place(115_200, None) < place(57_600, None));
    for format in library() {
        let own = format.serial();
        let covered = |baud: &u32| {
            settings
                .iter()
                .any(|line| line.baud == *baud && (line.dtr, line.rts) == (own.dtr, own.rts))
        };
        if matches!(format.ask(), Ask::Listen) {
            assert!(format.bauds().iter().all(covered), "{}", format.id());
        }
    }
}

static FRESH: LazyLock<Identifier> = LazyLock::new(|| Identifier::new(library()));

proptest! {
    #[test]
    fn portions_do_not_matter_to_the_verdict(
        bytes in proptest::collection::vec(any::<u8>(), 0..200),
        which in 0_usize..library().len(), cut in 0_usize..400,
    ) {
        let format = &library()[which];
        let mut stream = Meter::new(format).frames(Content::Mixed, 6, &mut chance(2)).concat();
        stream.extend(bytes);
        let whole = identify(FRESH.clone(), &stream);
        let (one, other) = stream.split_at(cut.min(stream.len()));
        let mut parts = FRESH.clone();
        parts.push(one);
        parts.push(other);
        let parts = parts.verdict();
        prop_assert_eq!(said(&parts), said(&whole));
        prop_assert_eq!(parts.ranking, whole.ranking);
    }
}
