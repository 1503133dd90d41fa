//! Marks that a line tells as on or off, each at a place of its own.

use std::collections::BTreeMap;

use toml::Spanned;

use crate::protocol::cells::in_file_order;
use crate::protocol::decoder::Garble;
use crate::protocol::error::Fault;
use crate::protocol::words;
use crate::reading::{Annunciator, Annunciators};

/// Places that are on or off, and what that means.
#[derive(Debug, Clone)]
pub(crate) struct Flags<P> {
    marks: Vec<(Annunciator, P)>,
    over: Option<P>,
}

impl<P: Clone> Flags<P> {
    /// Judges the marks; `place` judges a place.
    pub(crate) fn new<T>(
        texts: &BTreeMap<String, Spanned<T>>,
        over: Option<&Spanned<T>>,
        place: impl Fn(&Spanned<T>) -> Result<P, Fault>,
    ) -> Result<Self, Fault> {
        let mut marks = Vec::new();
        for (word, text) in in_file_order(texts) {
            marks.push((words::mark(word, &text.span())?, place(text)?));
        }
        Ok(Self {
            marks,
            over: over.map(place).transpose()?,
        })
    }

    /// Whether over-range has a place of its own.
    pub(crate) const fn tells_over(&self) -> bool {
        self.over.is_some()
    }

    /// The marks that are on, and whether over-range is.
    pub(crate) fn read(
        &self,
        on: impl Fn(&P) -> Result<bool, Garble>,
    ) -> Result<(Annunciators, bool), Garble> {
        let mut lit = Annunciators::NONE;
        for (mark, place) in &self.marks {
            if on(place)? {
                lit = lit.with(*mark);
            }
        }
        let over = self.over.as_ref().map_or(Ok(false), on)?;
        Ok((lit, over))
    }

    /// Every place with whether it is on.
    pub(crate) fn written(
        &self,
        marks: Annunciators,
        over: bool,
    ) -> impl Iterator<Item = (P, bool)> {
        let lit = move |(mark, place): &(Annunciator, P)| (place.clone(), marks.has(*mark));
        let over = self.over.clone().map(|place| (place, over));
        self.marks.iter().map(lit).chain(over)
    }

    /// Every place.
    pub(crate) fn places(&self) -> impl Iterator<Item = &P> {
        self.marks.iter().map(|(_, place)| place).chain(&self.over)
    }

    /// The marks that have a place.
    pub(crate) fn marks(&self) -> Annunciators {
        self.marks.iter().map(|(mark, _)| *mark).collect()
    }

    /// Those of the marks that have no place.
    pub(crate) fn others(&self, marks: Annunciators) -> Annunciators {
        let placed = self.marks();
        marks.iter().filter(|mark| !placed.has(*mark)).collect()
    }
}
