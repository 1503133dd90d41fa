//! The names of a display: flags and codes, looked up with the place they were written at.

use std::collections::BTreeMap;

use toml::Spanned;

use super::parts::{Bit, Term};
use crate::protocol::document::{CellsText, CodeText};
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::model::Span;

/// What the frame decides about the positions in it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ground {
    /// Bytes in a frame.
    pub(crate) length: usize,
    /// Whether the high half of each byte is its number.
    pub(crate) indexed: bool,
}

pub(super) struct Names {
    pub(super) ground: Ground,
    flags: BTreeMap<String, Bit>,
    codes: BTreeMap<String, (usize, usize)>,
}

impl Ground {
    /// A position written from 1, as one from 0.
    pub(super) fn position(self, at: usize, span: &Span) -> Result<usize, Fault> {
        let length = self.length;
        match at.checked_sub(1) {
            Some(position) if position < length => Ok(position),
            _ => Err(Fault::at(span, Refusal::Outside { at, length })),
        }
    }

    pub(super) fn bit(self, place: &Spanned<String>) -> Result<Bit, Fault> {
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
    pub(super) fn new(text: &CellsText, ground: Ground) -> Result<Self, Fault> {
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

    pub(super) fn term(&self, text: &str, span: &Span) -> Result<Term, Fault> {
        if let Some(bit) = self.flags.get(text) {
            return Ok(Term::Flag(*bit));
        }
        let unknown = || Fault::at(span, Refusal::UnknownName(text.to_owned()));
        let (name, value) = text.split_once('=').ok_or_else(unknown)?;
        self.code(name, value, span)
    }

    pub(super) fn code(&self, name: &str, value: &str, span: &Span) -> Result<Term, Fault> {
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

    pub(super) fn terms(&self, texts: &[Spanned<String>]) -> Result<Vec<Term>, Fault> {
        texts
            .iter()
            .map(|text| self.term(text.get_ref(), &text.span()))
            .collect()
    }
}

/// The entries as the file has them, so that the later of two that clash is the one told.
pub(crate) fn in_file_order<T>(
    table: &BTreeMap<String, Spanned<T>>,
) -> Vec<(&String, &Spanned<T>)> {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(_, value)| value.span().start);
    entries
}
