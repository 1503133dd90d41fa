//! A control by its nominal value: how it is written, and the band its total may read in.

use std::str::FromStr;

use crate::circuit::control::Tolerance;
use crate::reading::Ohms;

/// The totals guitar controls are sold in: 25k to 500k from a data sheet, 1M common practice,
/// no source.
pub const USUAL: [Ohms; 6] = [
    Ohms(25e3),
    Ohms(50e3),
    Ohms(250e3),
    Ohms(300e3),
    Ohms(500e3),
    Ohms(1e6),
];

/// A control as it is marked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Control {
    /// The nominal total resistance.
    pub nominal: Ohms,
    /// How far it may be off.
    pub tolerance: Tolerance,
}

/// What a total may read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The least.
    pub from: Ohms,
    /// The most.
    pub to: Ohms,
}

impl Band {
    /// Whether a reading lies within, the limits included: the limits of the standards are
    /// absolute (MIL-PRF-94G 3.5.1).
    pub fn holds(&self, total: Ohms) -> bool {
        self.from <= total && total <= self.to
    }
}

/// A text that should be a control's value is not one.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ControlError {
    /// Not a value.
    #[error(
        "the value {text:?} could not be read; write it like 500k, 4k7, 1M or 250kK, the last \
         letter being the tolerance"
    )]
    Value {
        /// What was written.
        text: String,
    },
    /// A value no control has.
    #[error("a control of {ohms} ohm is none; write a total from 10 ohm to 100M")]
    Outside {
        /// What was written, in ohms.
        ohms: f64,
    },
}

impl Control {
    /// A control with the usual tolerance.
    pub const fn usual(nominal: Ohms) -> Self {
        Self {
            nominal,
            tolerance: Tolerance::USUAL,
        }
    }

    /// What its total may read.
    pub fn band(&self) -> Band {
        let slack = self.nominal.0 * self.tolerance.part();
        Band {
            from: Ohms(self.nominal.0 - slack),
            to: Ohms(self.nominal.0 + slack),
        }
    }

    /// How far a total is off the nominal value, as a part of it.
    pub fn deviation(&self, total: Ohms) -> f64 {
        total.0 / self.nominal.0 - 1.0
    }
}

/// The usual controls a reading of the total fits, all of them: between 240k and 300k a 250k
/// and a 300k control read alike, and nothing decides between them but the mark on the part.
pub fn candidates(total: Ohms, tolerance: Tolerance) -> Vec<Ohms> {
    USUAL
        .into_iter()
        .filter(|nominal| {
            let control = Control {
                nominal: *nominal,
                tolerance,
            };
            control.band().holds(total)
        })
        .collect()
}

impl FromStr for Control {
    type Err = ControlError;

    /// Reads a value in the notation of IEC 60062 (`4k7`, `500k`, `1M`, `470R`) or as plain
    /// ohms, with a tolerance letter at the end if there is one: `500kM`, `1MM`.
    fn from_str(text: &str) -> Result<Self, ControlError> {
        let wrong = || ControlError::Value {
            text: text.to_owned(),
        };
        let mut rest: Vec<char> = text
            .trim()
            .trim_end_matches(['Ω', '\u{2126}'])
            .chars()
            .collect();
        let mut tolerance = Tolerance::USUAL;
        let letters = rest.iter().filter(|letter| letter.is_alphabetic()).count();
        if letters == 2 {
            let last = rest.pop().ok_or_else(wrong)?;
            tolerance = Tolerance::from_letter(last).ok_or_else(wrong)?;
        }
        let ohms = value(&rest).ok_or_else(wrong)?;
        if !(10.0..=100e6).contains(&ohms) {
            return Err(ControlError::Outside { ohms });
        }
        Ok(Self {
            nominal: Ohms(ohms),
            tolerance,
        })
    }
}

/// The ohms of digits with at most one multiplier, which stands for the point or at the end.
fn value(text: &[char]) -> Option<f64> {
    let mut digits = String::new();
    let mut multiplier = None;
    for letter in text {
        match letter {
            '0'..='9' => digits.push(*letter),
            '.' if multiplier.is_none() && !digits.contains('.') => digits.push('.'),
            'R' | 'r' | 'K' | 'k' | 'M' if multiplier.is_none() => {
                multiplier = Some(match letter {
                    'R' | 'r' => 1.0,
                    'M' => 1e6,
                    _ => 1e3,
                });
                digits.push('p');
            }
            _ => return None,
        }
    }
    let (whole, fraction) = digits.split_once('p').unwrap_or((&digits, ""));
    if whole.is_empty() || (whole.contains('.') && !fraction.is_empty()) {
        return None;
    }
    let number: f64 = if fraction.is_empty() {
        whole.parse().ok()?
    } else {
        format!("{whole}.{fraction}").parse().ok()?
    };
    Some(number * multiplier.unwrap_or(1.0))
}
