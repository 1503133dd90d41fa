//! The tolerance a letter stands for: IEC 60062 (letters from memory, universally known).

/// How far a total may stand from its nominal value, as a part of it.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Tolerance(f64);

/// Letter and part.
const LETTERS: [(char, f64); 9] = [
    ('B', 0.001),
    ('C', 0.0025),
    ('D', 0.005),
    ('F', 0.01),
    ('G', 0.02),
    ('J', 0.05),
    ('K', 0.10),
    ('M', 0.20),
    ('N', 0.30),
];

impl Tolerance {
    /// Twenty per cent: what carbon controls are sold with unless they say otherwise.
    pub const USUAL: Self = Self(0.20);

    /// A tolerance in per cent; `None` outside 0.01 to 50.
    pub fn from_percent(percent: f64) -> Option<Self> {
        (0.01..=50.0)
            .contains(&percent)
            .then_some(Self(percent / 100.0))
    }

    /// The tolerance of a letter of IEC 60062, in either case.
    pub fn from_letter(letter: char) -> Option<Self> {
        LETTERS
            .into_iter()
            .find(|(known, _part)| known.eq_ignore_ascii_case(&letter))
            .map(|(_known, part)| Self(part))
    }

    /// The letter of IEC 60062, where there is one.
    pub fn letter(self) -> Option<char> {
        LETTERS
            .into_iter()
            .find(|(_letter, part)| (part - self.0).abs() < 1e-9)
            .map(|(letter, _part)| letter)
    }

    /// As a part of the nominal value.
    pub const fn part(self) -> f64 {
        self.0
    }

    /// In per cent.
    pub fn percent(self) -> f64 {
        100.0 * self.0
    }
}
