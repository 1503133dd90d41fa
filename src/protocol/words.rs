//! The words of format files: quantities, marks, single characters.

use std::ops::Range;

use toml::Spanned;

use crate::protocol::error::{Fault, Refusal};
use crate::reading::{Annunciator, Quantity};

/// Entries in a table of a format file.
const MOST_ENTRIES: usize = 4096;

/// Whether a table with this many entries may take one more, written at `span`.
pub(crate) fn room(entries: usize, span: &Range<usize>) -> Result<(), Fault> {
    if entries < MOST_ENTRIES {
        return Ok(());
    }
    Err(Fault::at(span, Refusal::TableTooLong(MOST_ENTRIES)))
}

/// The quantity of a word, or a refusal that lists them all.
pub(crate) fn quantity(word: &Spanned<String>) -> Result<Quantity, Fault> {
    Quantity::from_word(word.get_ref()).ok_or_else(|| {
        let words: Vec<&str> = Quantity::ALL.into_iter().map(Quantity::word).collect();
        let found = word.get_ref().clone();
        let allowed = words.join(", ");
        Fault::at(&word.span(), Refusal::UnknownQuantity { found, allowed })
    })
}

/// The annunciator of a word, or a refusal that lists them all.
pub(crate) fn mark(word: &str, span: &Range<usize>) -> Result<Annunciator, Fault> {
    Annunciator::from_word(word).ok_or_else(|| {
        let words: Vec<&str> = Annunciator::ALL
            .into_iter()
            .map(Annunciator::word)
            .collect();
        let found = word.to_owned();
        let allowed = words.join(", ");
        Fault::at(span, Refusal::UnknownMark { found, allowed })
    })
}

/// The one printable ASCII character of a text.
pub(crate) fn character(text: &str, span: &Range<usize>) -> Result<u8, Fault> {
    match text.as_bytes() {
        [byte @ b' '..=b'~'] => Ok(*byte),
        _ => Err(Fault::at(span, Refusal::NotACharacter(text.to_owned()))),
    }
}

/// A word that can stand in a line.
pub(crate) fn word(text: &Spanned<String>) -> Result<String, Fault> {
    let word = text.get_ref();
    if word.is_empty() || word.trim() != word || word.contains(char::is_control) {
        return Err(Fault::at(&text.span(), Refusal::NotAWord(word.clone())));
    }
    Ok(word.clone())
}
