//! The form of frames, found out from the outside: by what a format writes.

use crate::protocol::encode::encode;
use crate::protocol::model::{Layout, Protocol};
use crate::reading::{Annunciators, Magnitude, Measured};

/// Digits to try a format's shapes with, in turn.
const SAMPLES: [i64; 4] = [0, 7, 1_234, i64::MAX];

/// The most shapes to try, spread over all of them.
const TRIED: usize = 48;

/// The one length of everything the format can write; `None` if it writes several.
pub(super) fn one_length(protocol: &Protocol) -> Option<usize> {
    let mut length = None;
    let shapes = protocol.shapes();
    let some = shapes.iter().step_by(shapes.len().div_ceil(TRIED).max(1));
    for (shape, digits) in some.zip(SAMPLES.iter().cycle()) {
        let value = shape.measured(*digits, Annunciators::NONE);
        let Ok(frame) = encode(protocol, &value) else {
            continue;
        };
        if *length.get_or_insert(frame.len()) != frame.len() {
            return None;
        }
    }
    length
}

/// Fields between tabulators that one number and its unit may have; a line of more is columns.
const FIELDS_OF_ONE_NUMBER: usize = 2;

/// Whether a frame of a text format says more than bare numbers do: it ends in a unit or a
/// mark (which the format has to know), it is a word in place of a number, or it has the very
/// form the format itself writes, and that is more than digits. Columns have to tell a unit,
/// and an object has to have the names of the format.
pub(super) fn is_telling(protocol: &Protocol, frame: &[u8], measured: &Measured) -> bool {
    match &protocol.layout {
        Layout::Columns(columns) => return columns.tells_unit(frame),
        Layout::Json(json) => return json.is_named(frame),
        Layout::NumberLine(_) => {
            let fields = frame.split(|byte| *byte == b'\t').count();
            if fields > FIELDS_OF_ONE_NUMBER {
                return false;
            }
        }
        Layout::NumberList(_) | Layout::NumberBlock(_) | Layout::Cells(_) => {}
    }
    let form = skeleton(frame);
    if form.iter().all(|byte| is_plain(*byte)) {
        return false;
    }
    let ends_in_a_word = form.last().is_some_and(|last| is_letter(*last));
    let is_number = matches!(measured.magnitude, Magnitude::Number(_));
    if ends_in_a_word && (form.contains(&b'9') || !is_number) {
        return true;
    }
    encode(protocol, measured).is_ok_and(|own| {
        let own = skeleton(&own);
        let parts = form.split(|byte| is_plain(*byte) && !matches!(byte, b'9' | b'-'));
        own == form || parts.map(unsigned).all(|part| part == own)
    })
}

/// A frame with each run of digits and points as one `9`, each sign within it as `-`, without
/// a leading sign and without line ends.
fn skeleton(frame: &[u8]) -> Vec<u8> {
    let mut form: Vec<u8> = Vec::new();
    for byte in unsigned(frame.trim_ascii()) {
        match byte {
            b'0'..=b'9' | b'.' if form.last() == Some(&b'9') => {}
            b'0'..=b'9' => {
                form.pop_if(|last| *last == b'.');
                form.push(b'9');
            }
            b'+' | b'-' => form.push(b'-'),
            other => form.push(*other),
        }
    }
    form
}

fn unsigned(text: &[u8]) -> &[u8] {
    match text {
        [b'+' | b'-', rest @ ..] => rest,
        _ => text,
    }
}

/// Whether a byte may stand in a list of numbers of any kind.
const fn is_plain(byte: u8) -> bool {
    matches!(
        byte,
        b'9' | b'-' | b'.' | b',' | b';' | b'|' | b' ' | b'\t' | b'\r' | b'\n'
    )
}

/// A letter; bytes beyond ASCII are parts of one.
const fn is_letter(byte: u8) -> bool {
    byte.is_ascii_alphabetic() || !byte.is_ascii()
}

#[cfg(test)]
mod tests {
    use super::{one_length, skeleton};
    use crate::protocol::find;

    #[test]
    fn formats_of_fixed_places_have_one_length() {
        for (id, length) in [
            ("lcd-segments-14", Some(14)),
            ("ascii-status-14", Some(14)),
            ("stx-16", Some(16)),
            // Nine and twelve characters, and CR LF.
            ("jis-11-4000", Some(11)),
            ("jis-14-22000", Some(14)),
            // Thirteen characters and CR.
            ("ascii-14-request", Some(14)),
            ("scpi-stream", None),
            ("scpi-polled", None),
            ("number-lines", None),
            ("csv-columns", None),
            ("tsv-columns", None),
            ("json-lines", None),
            // `#18`, eight bytes, LF (IEEE 488.2).
            ("scpi-block", Some(12)),
        ] {
            assert_eq!(one_length(&find(id).unwrap()), length, "{id}");
        }
    }

    #[test]
    fn a_form_is_what_stays_when_the_value_changes() {
        for (one, other) in [
            ("+1.00234500E+04\r\n", "-9E-12\n"),
            ("0.4 ohm\n", "10023.45 ohm\r\n"),
            ("1,2.5\n", "-100,.3\n"),
        ] {
            assert_eq!(skeleton(one.as_bytes()), skeleton(other.as_bytes()));
        }
        assert_ne!(skeleton(b"1.5E+03"), skeleton(b"1.5e+03"));
        assert_ne!(skeleton(b"1.5"), skeleton(b"1.5k"));
    }
}
