//! What the law of a track can be told from: marks the operator confirms, and letters that
//! mean different things in different parts of the world.

use crate::circuit::control::Law;

/// What the reading at half the turn says about the law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LawReading {
    /// Within a fifth of the straight line.
    Linear,
    /// Slow first, as volume controls are.
    Audio,
    /// Fast first.
    Reverse,
    /// None of these.
    Unusual,
}

/// The exponential parts sold run from a tenth to three tenths at half the turn.
const AUDIO: std::ops::RangeInclusive<f64> = 0.05..=0.32;

/// MIL-PRF-94G 3.5.3 allows a reading a fifth of the curve's value up or down. Borrowed.
const LINEAR: std::ops::RangeInclusive<f64> = 0.40..=0.60;

impl LawReading {
    /// From the part of the total below the wiper at half the turn, which the operator has
    /// confirmed. A sweep alone never tells the law: the speed of the hand is unknown.
    pub fn of(at_half: f64) -> Self {
        if LINEAR.contains(&at_half) {
            Self::Linear
        } else if AUDIO.contains(&at_half) {
            Self::Audio
        } else if AUDIO.contains(&(1.0 - at_half)) {
            Self::Reverse
        } else {
            Self::Unusual
        }
    }

    /// The law with the part that was read.
    pub fn law(self, at_half: f64) -> Option<Law> {
        match self {
            Self::Linear => Some(Law::Linear),
            Self::Audio => Some(Law::Exponential { mid: at_half }),
            Self::Reverse => Some(Law::Reverse { mid: 1.0 - at_half }),
            Self::Unusual => None,
        }
    }

    /// In the trade's words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Linear => "linear",
            Self::Audio => "audio (sold as logarithmic)",
            Self::Reverse => "reverse audio",
            Self::Unusual => "neither linear nor audio nor reverse",
        }
    }
}

/// One of the meanings a law letter has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LetterReading {
    /// Who uses it so.
    pub custom: &'static str,
    /// What it means there.
    pub law: LawReading,
}

const fn meaning(custom: &'static str, law: LawReading) -> LetterReading {
    LetterReading { custom, law }
}

/// The meanings a law letter has, all of them: nothing on the part says which one its maker
/// follows. Common practice, no source; MIL-PRF-94G calls A linear.
pub const fn letter_readings(letter: char) -> &'static [LetterReading] {
    const NEW: &str = "newer American and Asian parts";
    const OLD: &str = "older British and European parts";
    const MILITARY: &str = "MIL-PRF-94G";
    const SOME: &str = "some makers";
    const A: &[LetterReading] = &[
        meaning(NEW, LawReading::Audio),
        meaning(OLD, LawReading::Linear),
        meaning(MILITARY, LawReading::Linear),
    ];
    const B: &[LetterReading] = &[
        meaning(NEW, LawReading::Linear),
        meaning(OLD, LawReading::Audio),
        meaning(SOME, LawReading::Reverse),
    ];
    const C: &[LetterReading] = &[
        meaning(NEW, LawReading::Reverse),
        meaning(MILITARY, LawReading::Audio),
    ];
    const F: &[LetterReading] = &[
        meaning(OLD, LawReading::Reverse),
        meaning(MILITARY, LawReading::Reverse),
    ];
    const L: &[LetterReading] = &[meaning(SOME, LawReading::Audio)];
    const U: &[LetterReading] = &[meaning(SOME, LawReading::Linear)];
    match letter.to_ascii_uppercase() {
        'A' => A,
        'B' => B,
        'C' => C,
        'F' => F,
        'L' => L,
        'U' => U,
        _ => &[],
    }
}

/// What a letter may mean, in one sentence; `None` for a letter no law is known by.
pub fn letter_sentence(letter: char) -> Option<String> {
    let readings = letter_readings(letter);
    let meanings: Vec<String> = readings
        .iter()
        .map(|reading| format!("{} on {}", reading.law.words(), reading.custom))
        .collect();
    let (last, others) = meanings.split_last()?;
    let listed = if others.is_empty() {
        last.clone()
    } else {
        format!("{} and {last}", others.join(", "))
    };
    let then = if others.is_empty() {
        "the reading at half the turn confirms it"
    } else {
        "only the reading at half the turn tells"
    };
    Some(format!(
        "The letter {} is {listed}: {then}.",
        letter.to_ascii_uppercase()
    ))
}
