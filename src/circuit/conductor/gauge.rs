//! How thick a conductor is, as the trade writes it.

use std::f64::consts::PI;
use std::fmt;
use std::str::FromStr;

use crate::circuit::conductor::{ConductorError, Metres};

/// An area in square millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct SquareMillimetres(pub f64);

/// The size of a conductor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gauge {
    /// An American Wire Gauge number.
    Awg(u8),
    /// A nominal cross-section.
    Area(SquareMillimetres),
}

impl Gauge {
    /// The highest AWG number of ASTM B258 (from memory).
    pub const THINNEST: u8 = 56;

    /// The diameter as a round solid wire.
    /// AWG by ASTM B258: 0.127 mm times 92 to the power of (36 - n) / 39.
    pub fn diameter(self) -> Metres {
        match self {
            Self::Awg(number) => {
                let steps = (36.0 - f64::from(number)) / 39.0;
                Metres(0.127e-3 * 92_f64.powf(steps))
            }
            Self::Area(area) => Metres((4.0 * area.0 / PI).sqrt() * 1e-3),
        }
    }

    /// The cross-section.
    pub fn area(self) -> SquareMillimetres {
        match self {
            Self::Awg(_) => {
                let millimetres = self.diameter().0 * 1e3;
                SquareMillimetres(PI * millimetres * millimetres / 4.0)
            }
            Self::Area(area) => area,
        }
    }
}

impl FromStr for Gauge {
    type Err = ConductorError;

    /// Reads `24`, `24AWG`, `AWG24`, `0.22mm2` or `0.22 mm²`, in capitals or not. A number
    /// without a unit is an AWG number, and then a whole one: a bare `0.22` is refused.
    fn from_str(text: &str) -> Result<Self, ConductorError> {
        let unclear = || ConductorError::Gauge {
            text: text.to_owned(),
        };
        let plain = text.trim().to_lowercase();
        let area = ["mm2", "mm²", "mm^2"]
            .into_iter()
            .find_map(|unit| plain.strip_suffix(unit));
        if let Some(number) = area {
            let area = unsigned(number.trim_end()).ok_or_else(unclear)?;
            return if (0.001..=1000.0).contains(&area) {
                Ok(Self::Area(SquareMillimetres(area)))
            } else {
                Err(ConductorError::Area { area })
            };
        }
        let number = plain
            .strip_prefix("awg")
            .or_else(|| plain.strip_suffix("awg"))
            .unwrap_or(&plain)
            .trim();
        if !number.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(unclear());
        }
        let number: u64 = number.parse().map_err(|_empty_or_endless| unclear())?;
        match u8::try_from(number) {
            Ok(awg) if awg <= Self::THINNEST => Ok(Self::Awg(awg)),
            _ => Err(ConductorError::GaugeNumber { number }),
        }
    }
}

impl fmt::Display for Gauge {
    /// `24 AWG` or `0.22 mm²`; reads back equal.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Awg(number) => write!(f, "{number} AWG"),
            Self::Area(area) => write!(f, "{} mm²", area.0),
        }
    }
}

/// A plain number of digits and at most one point, without sign or exponent.
pub(super) fn unsigned(text: &str) -> Option<f64> {
    text.bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'.')
        .then(|| text.parse().ok())
        .flatten()
}
