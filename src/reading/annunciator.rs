//! The small marks a meter's display shows beside the number.

use std::fmt;

/// One mark of the display.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Annunciator {
    /// The meter chooses its range by itself.
    AutoRange,
    /// The display is frozen: the value is not live.
    Hold,
    /// The value is a difference from a stored one.
    Relative,
    /// The battery is low: accuracy is suspect.
    LowBattery,
    /// A stored minimum is shown.
    Minimum,
    /// A stored maximum is shown.
    Maximum,
    /// A minus sign beside an over-range display (a number carries its own sign).
    Minus,
}

impl Annunciator {
    /// Every annunciator, in the order they are written.
    pub const ALL: [Self; 7] = [
        Self::AutoRange,
        Self::Hold,
        Self::Relative,
        Self::LowBattery,
        Self::Minimum,
        Self::Maximum,
        Self::Minus,
    ];

    /// The word used in format files and recordings.
    pub const fn word(self) -> &'static str {
        match self {
            Self::AutoRange => "auto_range",
            Self::Hold => "hold",
            Self::Relative => "relative",
            Self::LowBattery => "low_battery",
            Self::Minimum => "minimum",
            Self::Maximum => "maximum",
            Self::Minus => "minus",
        }
    }

    /// The annunciator of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mark| mark.word() == word)
    }

    const fn bit(self) -> u8 {
        1 << (self as u8)
    }
}

/// The set of marks shown with one value.
#[derive(Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Annunciators(u8);

impl Annunciators {
    /// No mark.
    pub const NONE: Self = Self(0);

    /// This set with one more mark.
    #[must_use]
    pub const fn with(self, mark: Annunciator) -> Self {
        Self(self.0 | mark.bit())
    }

    /// This set without a mark.
    #[must_use]
    pub const fn without(self, mark: Annunciator) -> Self {
        Self(self.0 & !mark.bit())
    }

    /// Whether a mark is shown.
    pub const fn has(self, mark: Annunciator) -> bool {
        self.0 & mark.bit() != 0
    }

    /// The marks shown, in their fixed order.
    pub fn iter(self) -> impl Iterator<Item = Annunciator> {
        Annunciator::ALL
            .into_iter()
            .filter(move |mark| self.has(*mark))
    }
}

impl FromIterator<Annunciator> for Annunciators {
    fn from_iter<I: IntoIterator<Item = Annunciator>>(marks: I) -> Self {
        marks.into_iter().fold(Self::NONE, Self::with)
    }
}

impl fmt::Display for Annunciators {
    /// The words, joined by a plus sign; nothing for the empty set.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, mark) in self.iter().enumerate() {
            if index > 0 {
                f.write_str("+")?;
            }
            f.write_str(mark.word())?;
        }
        Ok(())
    }
}

impl fmt::Debug for Annunciators {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Annunciators({self})")
    }
}
