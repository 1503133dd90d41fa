//! A number as the meter showed it: whole digits and a power of ten.
//!
//! The shown digits are kept until the last moment, since their count is the resolution.
//! Statistics use [`Decimal::to_f64`], which rounds correctly.

use std::fmt;
use std::str::FromStr;

/// `digits` times ten to the `exponent`.
///
/// Equality is of the shown form: 1.0 and 1.00 differ, since they were measured differently.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Decimal {
    /// The shown digits with their sign, as a whole number.
    pub digits: i64,
    /// The power of ten of the last digit.
    pub exponent: i8,
}

/// A text was not a decimal number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotADecimal;

impl Decimal {
    /// The nearest double, by the standard library's correctly rounding parser.
    pub fn to_f64(self) -> f64 {
        format!("{}e{}", self.digits, self.exponent)
            .parse()
            .unwrap_or(f64::NAN)
    }

    /// The shortest decimal that reads back as this double; `None` if it is not finite or
    /// does not fit.
    pub fn from_f64(value: f64) -> Option<Self> {
        value
            .is_finite()
            .then(|| format!("{value:e}").parse().ok())
            .flatten()
    }

    /// The same number times ten to the `power`; `None` out of range.
    pub fn scaled(self, power: i8) -> Option<Self> {
        let exponent = self.exponent.checked_add(power)?;
        Some(Self {
            digits: self.digits,
            exponent,
        })
    }

    /// The negative of the number.
    #[must_use]
    pub const fn negated(self) -> Self {
        Self {
            digits: self.digits.saturating_neg(),
            exponent: self.exponent,
        }
    }
}

impl FromStr for Decimal {
    type Err = NotADecimal;

    /// Reads an optional sign, digits with at most one point, and an optional exponent: the
    /// NR1, NR2 and NR3 forms of IEEE 488.2, and the looser spellings found in the field.
    /// Digits beyond eighteen are dropped after the point and refused before it.
    fn from_str(text: &str) -> Result<Self, NotADecimal> {
        let (negative, rest) = match text.as_bytes() {
            [b'-', rest @ ..] => (true, rest),
            [b'+', rest @ ..] | rest => (false, rest),
        };
        let end = rest.iter().position(|byte| matches!(byte, b'e' | b'E'));
        let (mantissa, power) = match end {
            None => (rest, 0),
            Some(at) => {
                let (mantissa, power) = rest.split_at(at);
                (mantissa, whole(power.get(1..).unwrap_or_default())?)
            }
        };
        let mut digits: i64 = 0;
        let mut exponent = power;
        let (mut seen, mut point) = (false, false);
        for byte in mantissa {
            match byte {
                b'0'..=b'9' => {
                    seen = true;
                    let wider = digits
                        .checked_mul(10)
                        .and_then(|ten| ten.checked_add(i64::from(byte - b'0')));
                    match wider {
                        Some(wider) => {
                            digits = wider;
                            exponent -= i32::from(point);
                        }
                        None if point => {}
                        None => return Err(NotADecimal),
                    }
                }
                b'.' if !point => point = true,
                _ => return Err(NotADecimal),
            }
        }
        if !seen {
            return Err(NotADecimal);
        }
        let exponent = i8::try_from(exponent).map_err(|_wide| NotADecimal)?;
        Ok(Self {
            digits: if negative { -digits } else { digits },
            exponent,
        })
    }
}

/// A signed whole number of at most three digits.
fn whole(text: &[u8]) -> Result<i32, NotADecimal> {
    let (negative, digits) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] | rest => (false, rest),
    };
    if digits.is_empty() || digits.len() > 3 {
        return Err(NotADecimal);
    }
    let mut value = 0;
    for byte in digits {
        match byte {
            b'0'..=b'9' => value = value * 10 + i32::from(byte - b'0'),
            _ => return Err(NotADecimal),
        }
    }
    Ok(if negative { -value } else { value })
}

impl fmt::Display for Decimal {
    /// Plain digits for ordinary sizes, an exponent for the rest; always reads back equal.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.exponent {
            0 => write!(f, "{}", self.digits),
            -18..0 => {
                let places = usize::from(self.exponent.unsigned_abs());
                let sign = if self.digits < 0 { "-" } else { "" };
                let padded =
                    format!("{:0width$}", self.digits.unsigned_abs(), width = places + 1);
                let (whole, fraction) = padded.split_at(padded.len() - places);
                write!(f, "{sign}{whole}.{fraction}")
            }
            exponent => write!(f, "{}e{exponent}", self.digits),
        }
    }
}
