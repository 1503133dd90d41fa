//! Values as people type them.

use crate::reading::{Ohms, Seconds};

/// Ohms with an optional `k`, `M` or `m` and an optional unit: `0.21`, `4.7k`, `20M`, `20 Mohm`.
pub(super) fn ohms(text: &str) -> Result<Ohms, String> {
    let trimmed = text.trim();
    let body = ["ohms", "ohm", "Ohm", "Ω", "Ω"]
        .iter()
        .find_map(|unit| trimmed.strip_suffix(unit))
        .unwrap_or(trimmed)
        .trim_end();
    let (digits, scale) = match body.chars().next_back() {
        Some('m') => (body.strip_suffix('m'), 1e-3),
        Some('k' | 'K') => (body.strip_suffix(['k', 'K']), 1e3),
        Some('M') => (body.strip_suffix('M'), 1e6),
        _ => (Some(body), 1.0),
    };
    digits
        .and_then(|digits| digits.trim_end().parse::<f64>().ok())
        .map(|value| value * scale)
        .filter(|value| value.is_finite() && *value >= 0.0)
        .map(Ohms)
        .ok_or_else(|| format!("`{text}` is no resistance; write it like 0.21, 4.7k or 20M"))
}

/// A time: `0.8`, `0.8s`, `100ms`.
pub(super) fn seconds(text: &str) -> Result<Seconds, String> {
    let trimmed = text.trim();
    let (digits, scale) = match (trimmed.strip_suffix("ms"), trimmed.strip_suffix('s')) {
        (Some(digits), _) => (digits, 1e-3),
        (None, Some(digits)) => (digits, 1.0),
        (None, None) => (trimmed, 1.0),
    };
    digits
        .trim_end()
        .parse::<f64>()
        .ok()
        .map(|value| value * scale)
        .filter(|value| value.is_finite() && *value > 0.0 && *value < 86_400.0)
        .map(Seconds)
        .ok_or_else(|| {
            format!("`{text}` is no length of time; write it like 0.8, 0.8s or 100ms")
        })
}

/// How long an opening to be caught is: no bend is held for more than a few seconds.
pub(super) fn opening(text: &str) -> Result<Seconds, String> {
    seconds(text).and_then(|span| {
        if span <= Seconds(5.0) {
            Ok(span)
        } else {
            Err(format!(
                "`{text}` is {span}; an opening to be caught is at most 5 s, as in 100ms"
            ))
        }
    })
}

/// A share in percent, from 50 to below 100.
pub(super) fn percent(text: &str) -> Result<f64, String> {
    text.trim()
        .trim_end_matches('%')
        .trim_end()
        .parse::<f64>()
        .ok()
        .filter(|value| *value >= 50.0 && *value < 100.0)
        .map(|value| value / 100.0)
        .ok_or_else(|| {
            format!("`{text}` is no confidence in percent; write a number from 50 to below 100")
        })
}

/// `on` or `off`.
pub(super) fn switch(text: &str) -> Result<bool, String> {
    match text {
        "on" => Ok(true),
        "off" => Ok(false),
        _ => Err(format!("`{text}` is neither on nor off")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resistances_are_read_as_people_type_them() {
        for (text, value) in [
            ("0.21", 0.21),
            ("4.7k", 4_700.0),
            ("20M", 20e6),
            ("20 Mohm", 20e6),
            ("210m", 0.21),
            ("47 Ω", 47.0),
        ] {
            let read = ohms(text).unwrap();
            assert!((read.0 - value).abs() <= 1e-12 * value, "{text}: {read}");
        }
        for bad in ["", "k", "-1", "nan", "inf", "1e", "4k7", "1 V"] {
            assert!(ohms(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn times_and_shares_are_read_as_people_type_them() {
        assert_eq!(seconds("100ms"), Ok(Seconds(0.1)));
        assert_eq!(seconds("0.8s"), Ok(Seconds(0.8)));
        assert_eq!(seconds("2"), Ok(Seconds(2.0)));
        assert!(
            ["0", "-1", "x", "ms"]
                .iter()
                .all(|bad| seconds(bad).is_err())
        );
        assert_eq!(percent("95"), Ok(0.95));
        assert!(
            ["0", "0.95", "49", "100", "x"]
                .iter()
                .all(|bad| percent(bad).is_err())
        );
    }
}
