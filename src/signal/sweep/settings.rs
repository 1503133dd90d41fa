//! What a sweep is judged by. Every figure is a choice of this program unless it says where it
//! is borrowed from.

use crate::reading::Seconds;

/// The settings of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweepSettings {
    /// Into how many stretches of equal resistance the track is divided.
    pub bins: u16,
    /// The part of the track at each end that is not judged for noise: leaving and reaching
    /// the end termination makes a step. 5 %; a cycle of a precision control is at least 90 %
    /// of the electrical travel (a maker's published terms).
    pub mask: f64,
    /// The track residual up to which a track is clean: 1 % of the total. Borrowed from the
    /// contact resistance variation of a guitar control's data sheet.
    pub clean: f64,
    /// The track residual above which a track fails: 3 % of the total. Borrowed from
    /// MIL-PRF-39035E 3.9, contact resistance variation of trimmers.
    pub fail: f64,
    /// The residual, in parts of the total, from which contact counts as lost even though the
    /// meter showed a number.
    pub open: f64,
    /// A sudden step of at least this part of the track is a jump.
    pub jump: f64,
    /// Places this near to one another are the same place.
    pub same_place: f64,
    /// How far a movement must go to be a pass of its own, as a part of the highest reading.
    pub turn: f64,
    /// The longest time the meter needs to find a new range.
    pub settling: Seconds,
    /// How many counts the display goes up to, where that is known: 4000, 6000.
    pub display_counts: Option<f64>,
    /// The window in which several opens are a flicker.
    pub flicker: Seconds,
    /// How many readings each bin should get in one pass.
    pub readings_per_bin: f64,
}

impl SweepSettings {
    /// Fifty bins of 2 %, 5 % masked at the ends.
    pub const DEFAULT: Self = Self {
        bins: 50,
        mask: 0.05,
        clean: 0.01,
        fail: 0.03,
        open: 0.2,
        jump: 0.03,
        same_place: 0.03,
        turn: 0.3,
        settling: Seconds(1.5),
        display_counts: None,
        flicker: Seconds(2.0),
        readings_per_bin: 1.0,
    };
}

impl Default for SweepSettings {
    fn default() -> Self {
        Self::DEFAULT
    }
}
