//! The circuit a sweep is taken in: at the lugs, or through the jack with what is known of it.

use crate::circuit::control::{
    BenchTrack, CrackedJack, FitError, Jack, Lug, Wiring, fit, fit_with_total,
    pickup_with_total,
};
use crate::reading::Ohms;
use crate::signal::sweep::{Landmarks, SweepReading, landmarks};
use crate::signal::{SweepSettings, Track, median};

/// The circuit of one sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Circuit {
    /// Wiper to one lug.
    Lugs(BenchTrack),
    /// Through the jack.
    Jack(JackCircuit),
    /// Through the jack, the track being cracked.
    Cracked(CrackedJack),
}

/// The circuit at the jack, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct JackCircuit {
    pub(super) wiring: Wiring,
    pub(super) total: Option<Ohms>,
    pub(super) pickup: Option<Ohms>,
    /// Given, or worked out from the sweep so far.
    pub(super) jack: Option<Jack>,
}

/// Two ends whose valleys differ by less than this part are not told apart.
const SAME_END: f64 = 0.1;

/// A valley below this part of the peak is the end that reads nothing.
const NOTHING: f64 = 0.012;

/// How far the reading must move to turn, as a part of the highest: both ends of a loaded control
/// read far less than its peak, and what dirt adds is large beside it.
const LOADED_TURN: f64 = 0.5;

/// Readings around a true peak lie within this part of it.
const FLAT_TOP: f64 = 0.008;

impl JackCircuit {
    /// Whether nothing is to be worked out.
    pub(super) const fn is_given(&self) -> bool {
        self.total.is_some() && self.pickup.is_some()
    }
}

impl Circuit {
    /// At the lugs.
    pub(super) const fn lugs(total: Ohms, lug: Lug) -> Self {
        Self::Lugs(BenchTrack {
            total,
            lug,
            end: Ohms(0.0),
        })
    }

    /// At the jack.
    pub(super) fn jack(wiring: Wiring, total: Option<Ohms>, pickup: Option<Ohms>) -> Self {
        Self::Jack(JackCircuit {
            wiring,
            total,
            pickup,
            jack: total.zip(pickup).map(|(total, pickup)| Jack {
                wiring,
                total,
                pickup,
            }),
        })
    }

    /// The circuit to reckon with, once there is one.
    pub(super) fn track(&self) -> Option<&dyn Track> {
        match self {
            Self::Lugs(bench) => Some(bench),
            Self::Jack(known) => known.jack.as_ref().map(|jack| jack as &dyn Track),
            Self::Cracked(jack) => Some(jack),
        }
    }

    /// Works out what is not given, from the readings so far; keeps what is known where that
    /// fails.
    pub(super) fn learn(&mut self, readings: &[SweepReading]) -> Result<(), FitError> {
        let Self::Jack(known) = self else {
            return Ok(());
        };
        if known.is_given() {
            return Ok(());
        }
        let turn = match known.wiring {
            Wiring::Standard => LOADED_TURN,
            Wiring::Independent => SweepSettings::DEFAULT.turn,
        };
        let marks = landmarks(readings, turn);
        let Some((peak, full)) = peak_and_full(&marks, known.wiring) else {
            return Ok(());
        };
        let peak = flat_top(readings, marks.tops.len(), peak).unwrap_or(peak);
        let found = match (known.total, known.pickup) {
            (Some(total), None) => fit_with_total(known.wiring, total, full),
            (None, Some(pickup)) => total_with_pickup(known.wiring, peak, pickup, full),
            _ => fit(known.wiring, peak, full),
        };
        found.map(|jack| known.jack = Some(jack))
    }
}

/// The control's total when the pickup is known: four times the peak less the pickup, or the
/// reading at zero.
fn total_with_pickup(
    wiring: Wiring,
    peak: Ohms,
    pickup: Ohms,
    full: Ohms,
) -> Result<Jack, FitError> {
    let total = match wiring {
        Wiring::Standard => Ohms(4.0 * peak.0 - pickup.0),
        Wiring::Independent => peak,
    };
    // Full up must read below the whole track, whatever the pickup is said to be.
    pickup_with_total(total, full).map(|_told| Jack {
        wiring,
        total,
        pickup,
    })
}

/// The highest reading and the one full up. A raw extreme may be a fault's, which only ever
/// adds: the least of the tops stands, and of the valleys that are no short the least.
fn peak_and_full(marks: &Landmarks, wiring: Wiring) -> Option<(Ohms, Ohms)> {
    let least = |list: &mut dyn Iterator<Item = f64>| list.reduce(f64::min);
    let tops = match wiring {
        // A sweep may have begun or ended on its way; at zero an independent volume is highest.
        Wiring::Standard => marks.inner_tops(),
        Wiring::Independent => match marks.tops.split_last() {
            // On its way to zero it is not there yet.
            Some((_, before)) if marks.ends_at_tops.1 && !before.is_empty() => before,
            _ => marks.tops.as_slice(),
        },
    };
    let peak = least(&mut tops.iter().copied())?;
    let full = match wiring {
        Wiring::Independent => least(&mut marks.valleys.iter().copied())?,
        Wiring::Standard => {
            // Down and up in turn: every second valley is at the same end.
            let end =
                |first: usize| least(&mut marks.valleys.iter().copied().skip(first).step_by(2));
            // The sweep was asked to begin at zero; a short is zero whenever it comes.
            let (zero, other) = (end(0)?, end(1)?);
            let short = |ohms: f64| ohms < NOTHING * peak;
            if (zero - other).abs() < SAME_END * zero.max(other) {
                return None;
            }
            if short(other) && !short(zero) {
                zero
            } else {
                other
            }
        }
    };
    (full < peak).then_some((Ohms(peak), Ohms(full)))
}

/// The highest level at which several readings lie close together, as they do where a hand
/// turns through a true peak and as dirt's do not; none if that is no lower than the least top.
fn flat_top(readings: &[SweepReading], tops: usize, least: Ohms) -> Option<Ohms> {
    let ohms: Vec<f64> = readings.iter().filter_map(SweepReading::ohms).collect();
    // Some hundredths of each pass, four readings at least.
    let width = (ohms.len() / (80 * tops.max(1))).max(4);
    let flat = ohms.windows(width).filter_map(|window| {
        let low = window.iter().copied().fold(f64::INFINITY, f64::min);
        let high = window.iter().copied().fold(0.0, f64::max);
        (high - low <= FLAT_TOP * high).then(|| median(window))?
    });
    flat.reduce(f64::max)
        .filter(|top| *top < (1.0 - FLAT_TOP) * least.0 && *top > 0.5 * least.0)
        .map(Ohms)
}
