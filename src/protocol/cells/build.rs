//! The tables of a display judged: every position, name and code is settled here, once.

use std::collections::BTreeMap;

use toml::Spanned;

use super::Cells;
use super::digits::{Digits, MOST_CELLS};
use super::names::{Ground, Names, in_file_order};
use super::parts::{Bit, ByteSet, Function, Point, Scale, Sentinel};
use crate::protocol::document::{
    CellsText, DigitsText, FunctionText, MustText, PointText, SentinelText,
};
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::words;

/// Judges the tables of a display.
pub(crate) fn build(
    text: &CellsText,
    ground: Ground,
    counts: Option<u32>,
) -> Result<Cells, Fault> {
    let names = Names::new(text, ground)?;
    let digits = digits(&text.digits, ground)?;
    let mut groups = Vec::new();
    for group in &text.at_most_one {
        groups.push(names.terms(group)?);
    }
    let mut powers = Vec::new();
    for (name, power) in &text.powers {
        powers.push((names.term(name, &power.span())?, *power.get_ref()));
    }
    let mut marks = Vec::new();
    for (word, term) in in_file_order(&text.marks) {
        let mark = words::mark(word, &term.span())?;
        let lit_by = names.term(term.get_ref(), &term.span())?;
        if marks.iter().any(|(_, taken)| *taken == lit_by) {
            let what = format!("{:?}", term.get_ref());
            return Err(Fault::at(&term.span(), Refusal::ClaimedTwice { what }));
        }
        marks.push((mark, lit_by));
    }
    let mut lit = Vec::new();
    for place in &text.lit {
        lit.push(names.ground.bit(place)?);
    }
    Ok(Cells {
        allowed: allowed(&text.must, ground)?,
        point: point(text.point.as_ref(), &digits, ground)?,
        over: sentinel(text.over.as_ref(), &names, &digits)?,
        blank: sentinel(text.blank.as_ref(), &names, &digits)?,
        functions: functions(&text.function, &names)?,
        digits,
        groups,
        powers,
        marks,
        lit,
        counts,
    })
}

fn allowed(musts: &[Spanned<MustText>], ground: Ground) -> Result<Vec<ByteSet>, Fault> {
    let mut sets = vec![ByteSet::ALL; ground.length];
    if ground.indexed {
        for (set, index) in sets.iter_mut().zip(1_u8..) {
            *set = ByteSet::of(|byte| byte >> 4 == index);
        }
    }
    for must in musts {
        let span = must.span();
        let text = must.get_ref();
        let first = ground.position(text.at, &span)?;
        let last = ground.position(text.to.unwrap_or(text.at), &span)?;
        let bytes = match (&text.any_of, &text.bytes) {
            (Some(characters), None) => characters.as_bytes(),
            (None, Some(bytes)) => bytes.as_slice(),
            _ => {
                let why =
                    "a [[layout.cells.must]] gives either any_of (text) or bytes (numbers)";
                return Err(Fault::at(&span, Refusal::Incomplete(why)));
            }
        };
        let mask = text.mask.unwrap_or(u8::MAX);
        let here = ByteSet::of(|byte| bytes.contains(&(byte & mask)));
        for (position, set) in sets.iter_mut().enumerate().take(last + 1).skip(first) {
            *set = set.and(here);
            if set.first().is_none() {
                return Err(Fault::at(&span, Refusal::Impossible(position + 1)));
            }
        }
    }
    Ok(sets)
}

fn digits(text: &DigitsText, ground: Ground) -> Result<Digits, Fault> {
    let span = text.cells.span();
    let widths = text.widths.get_ref().clone();
    let bits: u32 = widths
        .iter()
        .fold(0, |sum, width| sum.saturating_add(*width));
    if bits > 8 || widths.is_empty() || widths.contains(&0) {
        return Err(Fault::at(
            &text.widths.span(),
            Refusal::Number {
                key: "widths",
                allowed: "bits taken from each byte of a cell, 8 together at most",
                found: format!("{widths:?}"),
            },
        ));
    }
    let mut cells = Vec::new();
    for cell in text.cells.get_ref() {
        if cell.len() != widths.len() {
            let why = "each cell names as many bytes as there are widths";
            return Err(Fault::at(&span, Refusal::Incomplete(why)));
        }
        let places: Result<Vec<usize>, Fault> =
            cell.iter().map(|at| ground.position(*at, &span)).collect();
        cells.push(places?);
    }
    if cells.is_empty() || cells.len() > MOST_CELLS {
        return Err(Fault::at(
            &span,
            Refusal::Number {
                key: "cells",
                allowed: "1 to 16 digits",
                found: cells.len().to_string(),
            },
        ));
    }
    let shows = match &text.table {
        Some(table) => shown_by_table(table, bits)?,
        None => shown_as_ascii(text.letters.as_ref())?,
    };
    Ok(Digits {
        cells,
        widths,
        shows,
    })
}

fn shown_by_table(
    table: &BTreeMap<String, Spanned<u8>>,
    bits: u32,
) -> Result<Vec<Option<u8>>, Fault> {
    let mut shows = vec![None; 1 << bits];
    for (shown, code) in in_file_order(table) {
        let character = words::character(shown, &code.span())?;
        match shows.get_mut(usize::from(*code.get_ref())) {
            Some(place @ None) => *place = Some(character),
            Some(Some(_)) => {
                let what = format!("the code {:#04X}", code.get_ref());
                return Err(Fault::at(&code.span(), Refusal::ClaimedTwice { what }));
            }
            None => {
                return Err(Fault::at(
                    &code.span(),
                    Refusal::Number {
                        key: "the code of a digit",
                        allowed: "a number that fits the widths of a cell",
                        found: code.get_ref().to_string(),
                    },
                ));
            }
        }
    }
    Ok(shows)
}

fn shown_as_ascii(letters: Option<&Spanned<String>>) -> Result<Vec<Option<u8>>, Fault> {
    let mut shows = vec![None; 256];
    let mut show = |byte: u8| {
        if let Some(place) = shows.get_mut(usize::from(byte)) {
            *place = Some(byte);
        }
    };
    (b'0'..=b'9').for_each(&mut show);
    if let Some(letters) = letters {
        for letter in letters.get_ref().chars() {
            show(words::character(&letter.to_string(), &letters.span())?);
        }
    }
    Ok(shows)
}

fn point(
    text: Option<&Spanned<PointText>>,
    digits: &Digits,
    ground: Ground,
) -> Result<Point, Fault> {
    let Some(spanned) = text else {
        return Ok(Point::None);
    };
    let span = spanned.span();
    let incomplete = |why| Err(Fault::at(&span, Refusal::Incomplete(why)));
    match spanned.get_ref() {
        PointText {
            after: Some(places),
            shown: false,
            at: None,
            decimals: None,
        } => {
            if places.len() >= digits.count() {
                return incomplete("a point stands between digits: one bit fewer than digits");
            }
            let bits: Result<Vec<Bit>, Fault> =
                places.iter().map(|place| ground.bit(place)).collect();
            Ok(Point::After(bits?))
        }
        PointText {
            after: None,
            shown: false,
            at: Some(at),
            decimals: Some(table),
        } => {
            let mut decimals = Vec::new();
            for (shown, count) in table {
                let told = words::character(shown, &count.span())?;
                decimals.push((told, *count.get_ref()));
            }
            Ok(Point::Told {
                at: ground.position(*at, &span)?,
                decimals,
            })
        }
        PointText {
            after: None,
            shown: true,
            at: None,
            decimals: None,
        } => Ok(Point::Shown),
        _ => incomplete("[layout.cells.point] gives one of after, shown, or at and decimals"),
    }
}

fn sentinel(
    text: Option<&SentinelText>,
    names: &Names,
    digits: &Digits,
) -> Result<Sentinel, Fault> {
    let Some(text) = text else {
        return Ok(Sentinel::default());
    };
    let showable = |spanned: &Spanned<String>, whole: bool| {
        let bytes = spanned.get_ref().as_bytes().to_vec();
        let fits = !whole || bytes.len() == digits.count();
        if fits && bytes.iter().all(|byte| digits.shows.contains(&Some(*byte))) {
            Ok(bytes)
        } else {
            let text = spanned.get_ref().clone();
            Err(Fault::at(&spanned.span(), Refusal::NotShowable(text)))
        }
    };
    let shown_is: Result<Vec<Vec<u8>>, Fault> = text
        .shown_is
        .iter()
        .map(|shown| showable(shown, true))
        .collect();
    Ok(Sentinel {
        when: names.terms(&text.when)?,
        shown_has: match &text.shown_has {
            Some(letters) => showable(letters, false)?,
            None => Vec::new(),
        },
        shown_is: shown_is?,
        shown_as: match &text.shown_as {
            Some(shown) => Some(showable(shown, true)?),
            None => None,
        },
    })
}

fn functions(texts: &[Spanned<FunctionText>], names: &Names) -> Result<Vec<Function>, Fault> {
    let mut functions: Vec<Function> = Vec::new();
    for text in texts {
        let (span, text) = (text.span(), text.get_ref());
        words::room(functions.len(), &span)?;
        let when = names.terms(&text.when)?;
        let scale = match (text.power, &text.by, &text.ranges) {
            (None, None, None) if text.scale_unknown => Scale::Unknown,
            (power, None, None) if !text.scale_unknown => Scale::Fixed(power.unwrap_or(0)),
            (None, Some(code), Some(table)) if !text.scale_unknown => {
                let mut ranges = Vec::new();
                for (value, power) in table {
                    let term = names.code(code.get_ref(), value, &power.span())?;
                    ranges.push((term, *power.get_ref()));
                }
                Scale::Ranges(ranges)
            }
            _ => {
                let why = "a function gives power, or by (a code) and ranges (its powers), \
                           or scale_unknown";
                return Err(Fault::at(&span, Refusal::Incomplete(why)));
            }
        };
        let same = |earlier: &Function| earlier.when == when && earlier.scale.overlaps(&scale);
        if functions.iter().any(same) {
            let what = "this combination of flags and codes".to_owned();
            return Err(Fault::at(&span, Refusal::ClaimedTwice { what }));
        }
        functions.push(Function {
            when,
            quantity: words::quantity(&text.quantity)?,
            scale,
        });
    }
    Ok(functions)
}
