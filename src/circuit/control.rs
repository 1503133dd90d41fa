//! What a control (a potentiometer) ought to read: at its own lugs, and through the jack.
//!
//! Limits named here are borrowed from standards and data sheets for parts of other kinds and
//! for tests of another bandwidth; each says where it is from. A sweep watched on a multimeter
//! is weaker evidence than those tests.

mod bench;

mod cracked;

mod figures;

mod jack;

mod landmarks;

mod law;

mod marks;

mod nominal;

mod series;

mod tolerance;

mod tone;

pub use bench::{BenchTrack, Lug};
pub use cracked::CrackedJack;
pub use figures::{
    contact_variation_percent, independent_linearity, loaded_ratio, noise_resistance,
    terminal_linearity, zero_based_linearity,
};
pub use jack::{Jack, Wiring, parallel};
pub use landmarks::{FitError, fit, fit_with_total, pickup_with_total};
pub use law::Law;
pub use marks::{LawReading, LetterReading, letter_readings, letter_sentence};
pub use nominal::{Band, Control, ControlError, USUAL, candidates};
pub use series::{Series, is_one_two_five};
pub use tolerance::Tolerance;
pub use tone::{SETTLED, Tone};

use crate::reading::Ohms;

/// The residual that a guitar control's data sheet allows as contact resistance variation, as a
/// part of the total. Borrowed: that test sees 100 Hz to 50 kHz (from memory), no meter does.
pub const CLEAN_RESIDUAL: f64 = 0.01;

/// The contact resistance variation of MIL-PRF-39035E 3.9, characteristic C, as a part of the
/// total. Borrowed from trimmers.
pub const WORST_RESIDUAL: f64 = 0.03;

/// The most an end may read, wiper at that end of the mechanical travel: the larger of 20 ohm
/// and 2 % (MIL-PRF-22097J 3.7.2). Borrowed from trimmers.
pub fn end_limit(total: Ohms) -> Ohms {
    Ohms((0.02 * total.0).max(20.0))
}

/// The least an end of a carbon control may be expected to reach, as a data sheet of small
/// carbon controls states its residual resistance: by steps below 250 kilohm, 0.1 % from there.
pub fn residual_limit(total: Ohms) -> Ohms {
    match total.0 {
        ohms if ohms <= 10e3 => Ohms(20.0),
        ohms if ohms <= 100e3 => Ohms(30.0),
        ohms if ohms < 250e3 => Ohms(50.0),
        ohms => Ohms(0.001 * ohms),
    }
}

/// The contact resistance variation MIL-PRF-39035E 3.9 allows, characteristic C: the larger of
/// 3 % and 20 ohm.
pub fn variation_limit(total: Ohms) -> Ohms {
    Ohms((WORST_RESIDUAL * total.0).max(20.0))
}

/// How far two gangs of one control are apart, as a part of their mean.
pub fn gang_mismatch(one: Ohms, other: Ohms) -> f64 {
    let mean = f64::midpoint(one.0, other.0);
    if mean > 0.0 {
        (one.0 - other.0).abs() / mean
    } else {
        0.0
    }
}
