//! The tables of a display judged: every position, name and code is settled here, once.

use std::collections::BTreeMap;

use toml::Spanned;

use super::{Bit, ByteSet, Cells, Digits, Function, MOST_CELLS, Point, Scale, Sentinel, Term};
use crate::protocol::document::{
    CellsText, CodeText, DigitsText, FunctionText, MustText, PointText, SentinelText,
};
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::words;

/// What the frame decides about the positions in it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ground {
    /// Bytes in a frame.
    pub(crate) length: usize,
    /// Whether the high half of each byte is its number.
    pub(crate) indexed: bool,
}

struct Names {
    ground: Ground,
    flags: BTreeMap<String, Bit>,
    codes: BTreeMap<String, (usize, usize)>,
}

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
    for (word, term) in &text.marks {
        let mark = words::mark(word, &term.span())?;
        marks.push((mark, names.term(term.get_ref(), &term.span())?));
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

impl Ground {
    /// A position written from 1, as one from 0.
    fn position(self, at: usize, span: &std::ops::Range<usize>) -> Result<usize, Fault> {
        let length = self.length;
        match at.checked_sub(1) {
            Some(position) if position < length => Ok(position),
            _ => Err(Fault::at(span, Refusal::Outside { at, length })),
        }
    }

    fn bit(self, place: &Spanned<String>) -> Result<Bit, Fault> {
        let refuse = |refusal| Fault::at(&place.span(), refusal);
        let text = place.get_ref();
        let (byte, bit) = text
            .split_once('.')
            .and_then(|(byte, bit)| Some((byte.parse().ok()?, bit.parse::<u32>().ok()?)))
            .filter(|(_, bit)| *bit < 8)
            .ok_or_else(|| refuse(Refusal::NotABit(text.clone())))?;
        if self.indexed && bit > 3 {
            return Err(refuse(Refusal::IndexBit(text.clone())));
        }
        Ok(Bit {
            at: self.position(byte, &place.span())?,
            mask: 1 << bit,
        })
    }
}

impl Names {
    fn new(text: &CellsText, ground: Ground) -> Result<Self, Fault> {
        let mut flags: BTreeMap<String, Bit> = BTreeMap::new();
        for (name, place) in in_file_order(&text.flags) {
            let bit = ground.bit(place)?;
            if flags.values().any(|taken| *taken == bit) {
                let what = format!("bit {}", place.get_ref());
                return Err(Fault::at(&place.span(), Refusal::ClaimedTwice { what }));
            }
            flags.insert(name.clone(), bit);
        }
        let mut codes = BTreeMap::new();
        for (name, code) in &text.codes {
            let CodeText { at, length } = *code.get_ref();
            let length = length.unwrap_or(1);
            let start = ground.position(at, &code.span())?;
            let end = at.saturating_add(length.saturating_sub(1));
            let _last = ground.position(end, &code.span())?;
            if flags.contains_key(name) {
                let what = format!("the name {name:?}");
                return Err(Fault::at(&code.span(), Refusal::ClaimedTwice { what }));
            }
            codes.insert(name.clone(), (start, length));
        }
        Ok(Self {
            ground,
            flags,
            codes,
        })
    }

    fn term(&self, text: &str, span: &std::ops::Range<usize>) -> Result<Term, Fault> {
        if let Some(bit) = self.flags.get(text) {
            return Ok(Term::Flag(*bit));
        }
        let unknown = || Fault::at(span, Refusal::UnknownName(text.to_owned()));
        let (name, value) = text.split_once('=').ok_or_else(unknown)?;
        self.code(name, value, span)
    }

    fn code(
        &self,
        name: &str,
        value: &str,
        span: &std::ops::Range<usize>,
    ) -> Result<Term, Fault> {
        let unknown = || Fault::at(span, Refusal::UnknownName(name.to_owned()));
        let (at, length) = *self.codes.get(name).ok_or_else(unknown)?;
        if value.len() != length {
            let (name, value) = (name.to_owned(), value.to_owned());
            return Err(Fault::at(
                span,
                Refusal::CodeLength {
                    name,
                    length,
                    value,
                },
            ));
        }
        let value = value.as_bytes().to_vec();
        Ok(Term::Code { at, value })
    }

    fn terms(&self, texts: &[Spanned<String>]) -> Result<Vec<Term>, Fault> {
        texts
            .iter()
            .map(|text| self.term(text.get_ref(), &text.span()))
            .collect()
    }
}

/// The entries as the file has them, so that the later of two that clash is the one told.
fn in_file_order<T>(table: &BTreeMap<String, Spanned<T>>) -> Vec<(&String, &Spanned<T>)> {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(_, value)| value.span().start);
    entries
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
            at: None,
            decimals: None,
        } => {
            if places.len() >= digits.cells.len() {
                return incomplete("a point stands between digits: one bit fewer than digits");
            }
            let bits: Result<Vec<Bit>, Fault> =
                places.iter().map(|place| ground.bit(place)).collect();
            Ok(Point::After(bits?))
        }
        PointText {
            after: None,
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
        _ => incomplete("[layout.cells.point] gives either after, or at and decimals"),
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
        let fits = !whole || bytes.len() == digits.cells.len();
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
