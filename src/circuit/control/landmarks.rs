//! The control and the pickup worked out from what the jack showed, where they are not given.

use crate::circuit::control::{Jack, Wiring};
use crate::reading::Ohms;

/// Why the control and the pickup could not be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// The highest and the full-up reading belong to no such circuit.
    #[error(
        "a highest reading of {peak} and {full} full up fit no volume control with a pickup: turn \
         slowly all the way up and down again, or give --total and --pickup"
    )]
    NoSuchCircuit {
        /// The highest reading.
        peak: Ohms,
        /// The reading full up.
        full: Ohms,
    },
    /// The pickup beside the track cannot read more than the track.
    #[error(
        "full up reads {full}, more than the {total} control could: check the nominal value"
    )]
    AboveTotal {
        /// The reading full up.
        full: Ohms,
        /// The control.
        total: Ohms,
    },
}

/// Control and pickup from two readings: in standard wiring the highest and the full-up one,
/// in independent wiring the one at zero and the full-up one.
///
/// Standard: S = 4 times the highest, and R and Rp are the roots of t² - S t + S r = 0, the
/// pickup taken as the smaller. The full-up reading must be taken at the stop: the last one per
/// cent of the travel changes it by two fifths.
pub fn fit(wiring: Wiring, peak: Ohms, full: Ohms) -> Result<Jack, FitError> {
    let wrong = || FitError::NoSuchCircuit { peak, full };
    if !(peak.0.is_finite() && full.0 > 0.0 && full < peak) {
        return Err(wrong());
    }
    match wiring {
        Wiring::Independent => pickup_with_total(peak, full).map(|pickup| Jack {
            wiring,
            total: peak,
            pickup,
        }),
        Wiring::Standard => {
            let s = 4.0 * peak.0;
            let inside = s * s - 4.0 * s * full.0;
            if inside < 0.0 {
                return Err(wrong());
            }
            // The smaller root, without the difference of two near numbers.
            let pickup = 2.0 * s * full.0 / (s + inside.sqrt());
            Ok(Jack {
                wiring,
                total: Ohms(s - pickup),
                pickup: Ohms(pickup),
            })
        }
    }
}

/// The pickup when the control's total is known: 1 / (1/r - 1/R). A control a fifth off moves
/// it by less than one per cent.
pub fn pickup_with_total(total: Ohms, full: Ohms) -> Result<Ohms, FitError> {
    if full.0 > 0.0 && full < total {
        Ok(Ohms(1.0 / (1.0 / full.0 - 1.0 / total.0)))
    } else {
        Err(FitError::AboveTotal { full, total })
    }
}

/// The circuit when the control's total is known and full up was read.
pub fn fit_with_total(wiring: Wiring, total: Ohms, full: Ohms) -> Result<Jack, FitError> {
    let pickup = pickup_with_total(total, full)?;
    Ok(Jack {
        wiring,
        total,
        pickup,
    })
}
