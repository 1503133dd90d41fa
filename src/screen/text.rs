//! Text cut to the room it has, never silently; and numbers as a meter shows them.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Widget as _;

use crate::reading::{Annunciator, Magnitude, Measured, Ohms, Quantity, Seconds, Stamp};

/// Columns that a text takes.
pub(super) fn width(text: &str) -> u16 {
    u16::try_from(Line::raw(text).width()).unwrap_or(u16::MAX)
}

/// Text in lines of at most `columns`, broken at spaces; a longer word is broken anywhere.
pub(super) fn wrap(text: &str, columns: u16) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    if columns == 0 {
        return lines;
    }
    for word in words(text) {
        let word = word.as_str();
        let taken = width(&line).saturating_add(width(word)).saturating_add(1);
        if line.is_empty() {
            line.push_str(word);
        } else if taken <= columns {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(std::mem::replace(&mut line, word.to_owned()));
        }
        while width(&line) > columns {
            let rest = split_off(&mut line, columns);
            lines.push(std::mem::replace(&mut line, rest));
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The words of a text, a number and its unit being one.
fn words(text: &str) -> Vec<String> {
    const UNITS: [&str; 6] = ["%", "Ω", "kΩ", "MΩ", "s", "ms"];
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let unit = word.trim_end_matches([',', ';', ':', '.', ')']);
        match words.last_mut() {
            Some(number) if UNITS.contains(&unit) && number.ends_with(is_digit) => {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

const fn is_digit(character: char) -> bool {
    character.is_ascii_digit()
}

/// Takes from a line what lies beyond `columns`; at least one character stays.
fn split_off(line: &mut String, columns: u16) -> String {
    let fits = line
        .char_indices()
        .skip(1)
        .map(|(at, _)| at)
        .take_while(|at| line.get(..*at).is_some_and(|head| width(head) <= columns))
        .last();
    let first = line.chars().next().map_or(0, char::len_utf8);
    line.split_off(fits.unwrap_or(first))
}

/// The text in at most `columns`: what does not fit is cut at the end and shown as `…`.
pub(super) fn shortened(text: &str, columns: u16) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut head = text.to_owned();
    while !head.is_empty() && width(&head).saturating_add(1) > columns {
        head.pop();
    }
    if columns > 0 {
        head.push('…');
    }
    head
}

/// As [`shortened`], but cut at the beginning: the end of a path tells more.
pub(super) fn tail(text: &str, columns: u16) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut rest = text.chars();
    while !rest.as_str().is_empty() && width(rest.as_str()).saturating_add(1) > columns {
        rest.next();
    }
    if columns > 0 {
        format!("…{}", rest.as_str())
    } else {
        String::new()
    }
}

/// Draws one line of text, shortened to the area.
pub(super) fn line(text: &str, style: Style, area: Rect, buffer: &mut Buffer) {
    Line::styled(shortened(text, area.width), style).render(area, buffer);
}

/// Draws lines of text; when there are more than rows, the last row says how many are left,
/// and a single row ends in `…`.
pub(super) fn lines(shown: &[Line<'_>], quiet: Style, area: Rect, buffer: &mut Buffer) {
    let rows = usize::from(area.height);
    if let ([first, _, ..], 1) = (shown, area.height) {
        first.render(area, buffer);
        let end = (area.right().saturating_sub(1), area.y);
        if let Some(cell) = buffer.cell_mut(end) {
            cell.set_char('…');
        }
        return;
    }
    let cut = shown.len() > rows;
    let kept = if cut { rows.saturating_sub(1) } else { rows };
    for (row, text) in area.rows().zip(shown.iter().take(kept)) {
        text.render(row, buffer);
    }
    if cut && let Some(last) = area.rows().next_back() {
        let more = shown.len() - kept;
        let text = format!("… {more} more {}", if more == 1 { "line" } else { "lines" });
        line(&text, quiet, last, buffer);
    }
}

/// A heading with a rule to the end of its row.
pub(super) fn heading(
    text: &str,
    [of_text, of_rule]: [Style; 2],
    row: Rect,
    buffer: &mut Buffer,
) {
    let text = format!("{} ", shortened(text, row.width.saturating_sub(1)));
    let left = usize::from(row.width.saturating_sub(width(&text)));
    let rule = "─".repeat(left);
    Line::from_iter([
        ratatui::text::Span::styled(text, of_text),
        ratatui::text::Span::styled(rule, of_rule),
    ])
    .render(row, buffer);
}

/// The nearest whole number of cells.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "float-to-integer casts saturate, and not-a-number is zero"
)]
pub(super) fn cells(exact: f64) -> u16 {
    exact.round() as u16
}

/// A reading as it is shown large: `0.32 Ω`, `OL`, `- - -`; ohms with the tare taken off.
pub(super) fn reading(measured: &Measured, tare: Option<Ohms>) -> String {
    match measured.magnitude {
        Magnitude::Blank => BLANK.to_owned(),
        Magnitude::Over { .. } if measured.annunciators.has(Annunciator::Minus) => {
            "-OL".to_owned()
        }
        Magnitude::Over { .. } => "OL".to_owned(),
        Magnitude::Number(decimal) => {
            let digit = measured.resolution.unwrap_or(decimal.exponent);
            let off = match (measured.ohms(), tare) {
                (Some(_), Some(tare)) => tare.0,
                _ => 0.0,
            };
            number(decimal.to_f64() - off, i32::from(digit), measured.quantity)
        }
    }
}

/// What stands where there is no value.
pub(super) const BLANK: &str = "- - -";

/// A value with its unit, to five significant digits at most.
pub(super) fn value(value: f64, quantity: Quantity) -> String {
    number(value, i32::MIN, quantity)
}

/// A number with unit and prefix, with no digit below ten to the `digit`, and at most five
/// significant ones.
fn number(value: f64, digit: i32, quantity: Quantity) -> String {
    /// More digits than this are no longer read at a glance.
    const DIGITS: i32 = 5;
    let (prefix, power) = prefix(value, quantity);
    let scaled = value / 10_f64.powi(power);
    let whole_digits = match scaled.abs() {
        size if size >= 1e6 => return format!("{scaled:.1e} {}", unit(quantity)),
        size if size >= 999.95 => 4,
        size if size >= 99.995 => 3,
        size if size >= 9.9995 => 2,
        _ => 1,
    };
    let wanted = power.saturating_sub(digit).clamp(0, DIGITS - whole_digits);
    let places = usize::try_from(wanted).unwrap_or(0);
    let text = format!("{scaled:.places$} {prefix}{}", unit(quantity));
    // Rounded to nothing from below, a zero keeps no sign.
    match text.strip_prefix('-') {
        Some(rest) if !rest.contains(|c: char| ('1'..='9').contains(&c)) => rest.to_owned(),
        _ => text,
    }
}

/// The prefix of the unit and its power of ten. Ohms go from plain to mega, as in the trade;
/// what is no SI unit takes none.
fn prefix(value: f64, quantity: Quantity) -> (&'static str, i32) {
    const PREFIXES: [(&str, i32); 7] = [
        ("M", 6),
        ("k", 3),
        ("", 0),
        ("m", -3),
        ("µ", -6),
        ("n", -9),
        ("p", -12),
    ];
    if matches!(
        quantity,
        Quantity::DutyCycle | Quantity::Celsius | Quantity::Fahrenheit | Quantity::Gain
    ) {
        return ("", 0);
    }
    let size = value.abs();
    if size == 0.0 {
        return ("", 0);
    }
    let least = if quantity.is_resistance() { 0 } else { -12 };
    PREFIXES
        .into_iter()
        .filter(|(_, power)| *power >= least)
        .find(|(_, power)| size >= 0.999_95 * 10_f64.powi(*power))
        .or_else(|| PREFIXES.into_iter().rfind(|(_, power)| *power >= least))
        .unwrap_or(("", 0))
}

const fn unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Resistance | Quantity::Continuity => "Ω",
        Quantity::Celsius => "°C",
        Quantity::Fahrenheit => "°F",
        Quantity::Gain => "",
        _ => quantity.unit(),
    }
}

/// A time on the clock of the run: `0:42`, `1:02:03`.
pub(super) fn clock(at: Stamp) -> String {
    let seconds = at.micros() / 1_000_000;
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02}")
    }
}

/// A round length of time: `30 s`, `5 min`, `1 h`.
pub(super) fn span(length: Seconds) -> String {
    match length.0 {
        long if long >= 3600.0 => format!("{:.0} h", long / 3600.0),
        middling if middling >= 120.0 => format!("{:.0} min", middling / 60.0),
        short => format!("{short:.0} s"),
    }
}

/// `1 break`, `2 breaks`, `2 touches`.
pub(super) fn count(number: usize, word: &str) -> String {
    let ending = match (number, word.ends_with("ch")) {
        (1, _) => "",
        (_, true) => "es",
        (_, false) => "s",
    };
    format!("{number} {word}{ending}")
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn shown(digits: i64, exponent: i8, quantity: Quantity) -> String {
        let measured = Measured {
            quantity,
            magnitude: Magnitude::Number(crate::reading::Decimal { digits, exponent }),
            resolution: None,
            annunciators: crate::reading::Annunciators::NONE,
        };
        reading(&measured, None)
    }

    #[test]
    fn numbers_keep_the_digits_the_meter_showed() {
        let ohms = |digits, exponent| shown(digits, exponent, Quantity::Resistance);
        assert_eq!(ohms(3, -1), "0.3 Ω");
        assert_eq!(ohms(318, -3), "0.318 Ω");
        assert_eq!(ohms(4700, 0), "4.700 kΩ");
        assert_eq!(ohms(470, 1), "4.70 kΩ");
        assert_eq!(ohms(2200, 4), "22.00 MΩ");
        assert_eq!(ohms(0, -1), "0.0 Ω");
        assert_eq!(shown(-1234, -3, Quantity::DirectVoltage), "-1.234 V");
        assert_eq!(shown(47, -9, Quantity::Capacitance), "47 nF");
        assert_eq!(shown(215, -1, Quantity::Celsius), "21.5 °C");
        // More digits than can be read at a glance are rounded away.
        assert_eq!(ohms(1_002_345, -2), "10.023 kΩ");
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        assert_eq!(wrap("seen with 29 % now", 12), ["seen with", "29 % now"]);
    }

    proptest! {
        #[test]
        fn wrapping_loses_nothing_and_keeps_within(text in "[a-z0-9 %Ω✓…]{0,80}", columns in 1_u16..30) {
            let lines = wrap(&text, columns);
            prop_assert!(lines.iter().all(|line| width(line) <= columns));
            let bare = |text: &str| text.split_whitespace().collect::<String>();
            prop_assert_eq!(bare(&lines.concat()), bare(&text));
        }

        #[test]
        fn cutting_keeps_within_and_shows_that_it_cut(text in "\\PC{0,40}", columns in 0_u16..30) {
            for cut in [shortened(&text, columns), tail(&text, columns)] {
                prop_assert!(width(&cut) <= columns, "{cut:?}");
                prop_assert!(cut == text || cut.contains('…') || columns == 0);
            }
        }
    }
}
