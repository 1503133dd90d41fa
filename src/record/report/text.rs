//! Words and numbers as the page, the Markdown and the label show them.

use crate::check::notice::{Proof, Verdict};
use crate::reading::{Ohms, Seconds, Stamp};
use crate::record::report::input::{
    Expected, MarkSpan, MeasuredValue, ReportInput, RunReport, StateRow, Trace, Track,
};
use crate::signal::BlindSpot;

/// A text that any form can hold: what is no character in HTML or XML, and what would turn the
/// order of the text around it, is shown as `\u{FFFD}`; line ends and tabs are spaces.
pub(super) fn clean(text: &str) -> String {
    text.trim()
        .chars()
        .map(|character| match character {
            '\t' | '\n' | '\r' => ' ',
            spoils if !is_plain(spoils) => '\u{FFFD}',
            plain => plain,
        })
        .collect()
}

/// Control characters and non-characters are errors in both languages (HTML Living Standard,
/// 13.2.3.5, preprocessing the input stream; XML 1.0, production 2); the embeddings, overrides
/// and isolates reorder what follows (Unicode Standard Annex #9, section 2).
fn is_plain(character: char) -> bool {
    let code = u32::from(character);
    let non_character = (0xFDD0..=0xFDEF).contains(&code) || code & 0xFFFE == 0xFFFE;
    let reorders = matches!(
        character,
        '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
    );
    !(character.is_control() || non_character || reorders)
}

/// The sign of a verdict; its word always stands beside it.
pub(super) const fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "✓",
        Verdict::Fail => "✗",
        Verdict::Retest => "↻",
    }
}

/// The verdict's word, or that there is none.
pub(super) fn verdict_word(verdict: Option<Verdict>) -> &'static str {
    verdict.map_or("not reached", Verdict::word)
}

/// What a value should be, in words.
pub(super) fn expected(expected: &Expected) -> String {
    match expected {
        Expected::AtMost { pass, .. } => format!("at most {}", ohms(*pass)),
        Expected::AtLeast { pass, .. } => format!("at least {}", ohms(*pass)),
        Expected::Between { low, nominal, high } => {
            format!("{}, {} to {}", ohms(*nominal), ohms(*low), ohms(*high))
        }
        Expected::Word(word) => word.clone(),
    }
}

/// What a value was, in words.
pub(super) fn measured(row: &StateRow) -> String {
    match row.measured {
        MeasuredValue::Value(value) => value.to_string(),
        MeasuredValue::MoreThan(Some(range)) => format!("more than {}", ohms(range)),
        MeasuredValue::MoreThan(None) => "over-range, range not known".to_owned(),
        MeasuredValue::Nothing if row.verdict.is_none() => "not measured".to_owned(),
        MeasuredValue::Nothing => "no value at rest".to_owned(),
    }
}

/// A resistance, the zeros beyond its last digit left out: `2 Ω`, `20 MΩ`, `0.512 Ω`.
pub(super) fn ohms(value: Ohms) -> String {
    let text = value.to_string();
    match text.split_once(' ') {
        Some((number, unit)) if number.contains('.') => {
            let number = number.trim_end_matches('0').trim_end_matches('.');
            let number = if number == "-0" { "0" } else { number };
            format!("{number}\u{A0}{unit}")
        }
        _ => text,
    }
}

/// How contact is known.
pub(super) const fn proof(proof: Proof) -> &'static str {
    match proof {
        Proof::Seen => "seen in readings",
        Proof::Operator => "operator's word",
    }
}

/// A chance in whole percent, never rounded to none or to certain.
pub(super) fn percent(share: f64) -> String {
    match 100.0 * share {
        none if none <= 0.0 => "0\u{A0}%".to_owned(),
        certain if certain >= 100.0 => "100\u{A0}%".to_owned(),
        low if low < 1.0 => "under 1\u{A0}%".to_owned(),
        high if high > 99.0 => "over 99\u{A0}%".to_owned(),
        shown => format!("{shown:.0}\u{A0}%"),
    }
}

/// A time on the clock of the run: `0:42.3`.
pub(super) fn clock(at: Stamp) -> String {
    let tenths = at.micros() / 100_000;
    let (minutes, seconds, tenths) = (tenths / 600, tenths / 10 % 60, tenths % 10);
    format!("{minutes}:{seconds:02}.{tenths}")
}

/// What happened, in one phrase: `break at 0:07.4 for 0.33 s to 1.00 s, over-range`.
fn mark_words(mark: &MarkSpan) -> String {
    let level = mark.ohms.map_or_else(|| "over-range".to_owned(), ohms);
    format!(
        "{} at {} for {} to {}, {level}",
        mark.kind.to_string().replace('_', " "),
        clock(mark.from),
        mark.at_least,
        mark.at_most
    )
}

/// `every 0.33 s, measured (0.33 s documented)`.
pub(super) fn interval(measured: Option<Seconds>, documented: Option<Seconds>) -> String {
    match (measured, documented) {
        (Some(measured), Some(documented)) => {
            format!("every {measured} as measured, {documented} as documented")
        }
        (Some(measured), None) => format!("every {measured} as measured"),
        (None, Some(documented)) => format!("{documented} as documented, not measured"),
        (None, None) => "not known".to_owned(),
    }
}

/// More reasons than this are joined where they say the same of several steps.
const MOST_REASONS: usize = 8;

/// Reasons as they have room: of many, what is said of several steps is said once.
pub(super) fn reasons(all: &[String]) -> Vec<String> {
    if all.len() <= MOST_REASONS {
        return all.to_vec();
    }
    let mut joined: Vec<(Vec<&str>, &str)> = Vec::new();
    for reason in all {
        let (step, why) = reason.split_once(": ").unwrap_or(("", reason));
        match joined.iter_mut().find(|(_, known)| *known == why) {
            Some((steps, _)) => steps.push(step),
            None => joined.push((vec![step], why)),
        }
    }
    joined
        .into_iter()
        .map(|(steps, why)| match steps.as_slice() {
            [""] => why.to_owned(),
            steps => format!("{}: {why}", steps.join(", ")),
        })
        .collect()
}

/// A sentence with a capital and a full stop.
pub(super) fn sentence(text: &str) -> String {
    let mut rest = text.chars();
    let capital = rest
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().to_string());
    let end = if text.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    };
    format!("{capital}{}{end}", rest.as_str())
}

/// What the page is about, in a line.
pub(super) fn title(input: &ReportInput) -> String {
    let subject = &input.subject;
    let name = [
        &subject.tag,
        &subject.instrument,
        &subject.batch,
        &subject.job,
    ]
    .into_iter()
    .flatten()
    .map(|name| clean(name))
    .find(|name| !name.is_empty());
    let check = capital(&input.run.check);
    let what = if input.before.is_some() {
        format!("{check}, before and after")
    } else {
        format!("{check} check")
    };
    name.map_or_else(|| what.clone(), |name| format!("{what}: {name}"))
}

/// With a capital.
pub(super) fn capital(word: &str) -> String {
    let mut rest = word.chars();
    rest.next().map_or_else(String::new, |first| {
        format!("{}{}", first.to_uppercase(), rest.as_str())
    })
}

/// What happened, numbered as in the drawing; of many the first ones, and how many more.
pub(super) fn marks(trace: &Trace, most: usize) -> String {
    let told = trace.marks.iter().take(most).enumerate();
    let told = told.map(|(index, mark)| format!("{}: {}", index + 1, mark_words(mark)));
    let mut told: Vec<String> = told.collect();
    let more = trace.marks.len().saturating_sub(most);
    if more > 0 {
        told.push(format!("and {more} more"));
    }
    told.join("; ")
}

/// What a track's strip shows, in words.
pub(super) fn track(track: &Track) -> String {
    let faults = track.faults();
    let seen = format!("{} of the track was seen", percent(track.coverage()));
    let faults: Vec<String> = faults
        .iter()
        .map(|(from, to, fault)| format!("{} at {from:.0} to {to:.0} %", fault.word()))
        .collect();
    if faults.is_empty() {
        format!("{seen}; no fault in it.")
    } else {
        format!("{seen}; {}.", faults.join("; "))
    }
}

/// The blind spot, or that none can be told.
pub(super) fn blind_spot(run: &RunReport) -> String {
    run.blind_spot.as_ref().map_or_else(
        || "Not known: the time between readings was never measured.".to_owned(),
        BlindSpot::sentence,
    )
}

/// That everything passed, where there is no room for every reason.
pub(super) fn all_passed(run: &RunReport) -> String {
    format!(
        "All {} steps passed; the reasons are on the page of {} alone.",
        run.rows().count(),
        clean(&run.recording)
    )
}

/// The first reasons, where there is no room for all of them.
pub(super) fn first_reasons(run: &RunReport) -> Vec<String> {
    const MOST: usize = 4;
    let more = run.reasons.len().saturating_sub(MOST);
    let rest = (more > 0).then(|| {
        format!(
            "{more} more are on the page of {} alone",
            clean(&run.recording)
        )
    });
    run.reasons.iter().take(MOST).cloned().chain(rest).collect()
}

/// What the column of coverage means.
pub(super) fn coverage_means(run: &RunReport) -> &'static str {
    if run.check == crate::check::pot::NAME {
        "Coverage is the part of the track, by resistance, that was read on at least two passes."
    } else {
        "Coverage is the chance that a fault which opens for the moment looked for, at each bend, \
         would have shown."
    }
}

/// The coverage of a row, if anything was watched.
pub(super) fn coverage(row: &StateRow) -> String {
    row.coverage
        .filter(|coverage| *coverage > 0.0)
        .map_or_else(|| "–".to_owned(), percent)
}

/// That nothing was measured, where it was not.
pub(super) fn made_by(input: &ReportInput) -> Vec<String> {
    let runs = [input.before.as_ref(), Some(&input.run)]
        .into_iter()
        .flatten();
    runs.filter_map(|run| Some((run, run.made_by.as_deref()?)))
        .map(|(run, made_by)| {
            let (recording, made_by) = (clean(&run.recording), clean(made_by));
            format!("Not a measurement: {recording} was made by {made_by}")
        })
        .collect()
}

/// What the reader must know, first of the run, then what is more to know of the one before.
pub(super) fn cautions(input: &ReportInput) -> Vec<String> {
    let of_before = input.before.iter().flat_map(|before| &before.cautions);
    let more = of_before.filter(|caution| !input.run.cautions.contains(caution));
    let more = more.map(|caution| format!("Before: {caution}"));
    input.run.cautions.iter().cloned().chain(more).collect()
}

/// What could not have been seen; of the run before too, where it differs.
pub(super) fn blind_spots(input: &ReportInput) -> Vec<String> {
    let of_run = blind_spot(&input.run);
    let of_before = input.before.as_ref().map(blind_spot);
    let more = of_before
        .filter(|before| *before != of_run)
        .map(|before| format!("Before: {before}"));
    [of_run].into_iter().chain(more).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_character_is_shown_as_such() {
        assert_eq!(clean(" a\tb\r\nc "), "a b  c");
        assert_eq!(clean("a\u{0}b\u{1B}c"), "a\u{FFFD}b\u{FFFD}c");
        assert_eq!(clean("fail\u{202E}ssap"), "fail\u{FFFD}ssap");
        assert_eq!(clean("\u{FFFF}\u{1FFFE}"), "\u{FFFD}\u{FFFD}");
        assert_eq!(clean("<b> & Ω ✓"), "<b> & Ω ✓");
    }

    #[test]
    fn many_reasons_are_joined_by_what_they_say() {
        let of = |count: usize| -> Vec<String> {
            let steps = ["tip", "ring", "sleeve"]
                .into_iter()
                .cycle()
                .take(count - 1);
            let told = steps.map(|step| format!("{step}: steady: 10 bends"));
            told.chain(["the stream stalled".to_owned()]).collect()
        };
        assert_eq!(reasons(&of(8)), of(8));
        let few = reasons(&of(9));
        assert_eq!(few.len(), 2, "{few:?}");
        assert!(
            few.iter()
                .any(|told| told.starts_with("tip, ring, sleeve, tip")
                    && told.ends_with(": steady: 10 bends"))
        );
        assert_eq!(few.last().unwrap(), "the stream stalled");
    }

    #[test]
    fn limits_are_shown_without_needless_zeros() {
        assert_eq!(ohms(Ohms(20e6)), "20\u{A0}MΩ");
        assert_eq!(ohms(Ohms(100.0)), "100\u{A0}Ω");
        assert_eq!(ohms(Ohms(0.512)), "0.512\u{A0}Ω");
        assert_eq!(ohms(Ohms(-0.0001)), "0\u{A0}Ω");
    }
}
