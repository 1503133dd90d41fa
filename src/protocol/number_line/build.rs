//! The words of the lines judged: each means one thing.

use toml::Spanned;

use super::NumberLine;
use crate::protocol::document::NumberLineText;
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::model::Span;
use crate::protocol::words;

/// Judges the description, written at `span`; `over_told` where over-range has a place of its
/// own beside the line.
pub(crate) fn build(
    text: &NumberLineText,
    span: &Span,
    over_told: bool,
) -> Result<NumberLine, Fault> {
    if text.over_words.is_empty() && !over_told {
        let why = "over_words is missing: without a word for over-range an open circuit could \
                   not be read";
        return Err(Fault::at(span, Refusal::Incomplete(why)));
    }
    let mut prefixes = Vec::new();
    for prefix in &text.prefixes {
        add(&mut prefixes, &prefix.words, *prefix.power.get_ref())?;
    }
    let mut units = Vec::new();
    for unit in &text.units {
        add(&mut units, &unit.words, words::quantity(&unit.quantity)?)?;
    }
    let mut labels = Vec::new();
    for label in &text.labels {
        add(&mut labels, &label.words, words::quantity(&label.quantity)?)?;
    }
    let mut marks = Vec::new();
    for mark in &text.marks {
        let meaning = words::mark(mark.mark.get_ref(), &mark.mark.span())?;
        add(&mut marks, &mark.words, meaning)?;
    }
    let mut others = Vec::new();
    add(&mut others, &text.over_words, ())?;
    let over_words = others.len();
    add(&mut others, &text.blank_words, ())?;
    let mut specials = others.into_iter().map(|(word, ())| word);
    let line = NumberLine {
        unit_if_missing: words::quantity(&text.unit_if_missing)?,
        power_if_missing: text.power_if_missing,
        point: if text.decimal_comma { ',' } else { '.' },
        prefixes,
        units,
        labels,
        marks,
        ignored: {
            let ignored: Result<Vec<String>, Fault> =
                text.ignored.iter().map(words::word).collect();
            ignored?
        },
        over_words: specials.by_ref().take(over_words).collect(),
        blank_words: specials.collect(),
    };
    // The word after a number is first tried as its unit: it could never be such a mark.
    for word in text.marks.iter().flat_map(|mark| &mark.words) {
        if line.unit(word.get_ref()).is_some() {
            let what = format!("the word {:?}, also a unit,", word.get_ref());
            return Err(Fault::at(&word.span(), Refusal::ClaimedTwice { what }));
        }
    }
    Ok(line)
}

fn add<T: Copy>(
    table: &mut Vec<(String, T)>,
    texts: &[Spanned<String>],
    meaning: T,
) -> Result<(), Fault> {
    for text in texts {
        words::room(table.len(), &text.span())?;
        let word = words::word(text)?;
        if table.iter().any(|(known, _)| *known == word) {
            let what = format!("the word {word:?}");
            return Err(Fault::at(&text.span(), Refusal::ClaimedTwice { what }));
        }
        if word.contains([' ', '\t']) {
            return Err(Fault::at(&text.span(), Refusal::NotAWord(word)));
        }
        table.push((word, meaning));
    }
    Ok(())
}
