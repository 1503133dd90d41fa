//! The values: decimals read and write exactly, stamps do not drift, ohms print plainly.

use proptest::prelude::*;
use steadyohm::reading::{Annunciator, Annunciators, Decimal, Ohms, Quantity, Seconds, Stamp};

#[test]
fn decimals_keep_their_shown_digits() {
    let read = |text: &str| text.parse::<Decimal>().map(|d| (d.digits, d.exponent));
    // NR1, NR2 and NR3 forms: IEEE 488.2 (from memory); the pointless and signless spellings
    // are the looser ones found in published interface manuals.
    assert_eq!(read("47"), Ok((47, 0)));
    assert_eq!(read("-.00002"), Ok((-2, -5)));
    assert_eq!(read("+1.00234500E+04"), Ok((100_234_500, -4)));
    assert_eq!(read("9.9E37"), Ok((99, 36)));
    assert_eq!(read("3.30"), Ok((330, -2)));
    for bad in [
        "", "+", ".", "1.2.3", "1e", "1e+", "1e1234", "0x10", "1 2", "47..2",
    ] {
        assert!(bad.parse::<Decimal>().is_err(), "{bad:?} is not a number");
    }
}

#[test]
fn words_read_back() {
    for quantity in Quantity::ALL {
        assert_eq!(Quantity::from_word(quantity.word()), Some(quantity));
    }
    for mark in Annunciator::ALL {
        assert_eq!(Annunciator::from_word(mark.word()), Some(mark));
    }
    let both: Annunciators = [Annunciator::Hold, Annunciator::AutoRange]
        .into_iter()
        .collect();
    assert_eq!(both.to_string(), "auto_range+hold");
    assert!(!both.without(Annunciator::Hold).has(Annunciator::Hold));
}

#[test]
fn ohms_print_as_the_trade_writes_them() {
    for (value, text) in [
        (0.412, "0.412 Ω"),
        (10.0, "10.00 Ω"),
        (100.0, "100.0 Ω"),
        (4_700.0, "4.700 kΩ"),
        (999.96, "1.000 kΩ"),
        (250_000.0, "250.0 kΩ"),
        (22e6, "22.00 MΩ"),
        (-1.2, "-1.200 Ω"),
    ] {
        assert_eq!(Ohms(value).to_string(), text);
    }
}

proptest! {
    /// Reference: the standard library's correctly rounding parser.
    #[test]
    fn a_decimal_is_the_double_its_text_is(digits in -999_999_999_999_i64..999_999_999_999, exponent in -12_i8..12) {
        let decimal = Decimal { digits, exponent };
        let text = decimal.to_string();
        prop_assert_eq!(text.parse::<Decimal>(), Ok(decimal));
        prop_assert_eq!(decimal.to_f64().to_bits(), text.parse::<f64>().unwrap().to_bits());
    }

    #[test]
    fn a_double_survives_as_a_decimal(value in -1e30_f64..1e30) {
        let decimal = Decimal::from_f64(value).unwrap();
        prop_assert_eq!(decimal.to_f64().to_bits(), value.to_bits());
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in "\\PC{0,40}") {
        let _ignored = text.parse::<Decimal>();
    }

    #[test]
    fn stamps_read_back_from_their_seconds(micros in 0_u64..4_000_000_000_000) {
        let stamp = Stamp::from_micros(micros);
        prop_assert_eq!(Stamp::from_seconds(format!("{:.6}", stamp.seconds()).parse().unwrap()), stamp);
        prop_assert_eq!(Stamp::START + Seconds::from(stamp), stamp);
    }
}
