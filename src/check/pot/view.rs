//! What a screen shows of a control: where the wiper stands and what each pass found.

use crate::check::notice::Phase;
use crate::reading::Ohms;
use crate::signal::Track;
use crate::signal::sweep::Analysis;

/// The track as it is known so far.
#[derive(Debug, Clone)]
pub struct TrackView<'a> {
    /// The place of the step under way in the list of steps; none once all are over.
    pub step: Option<usize>,
    /// Where that step is.
    pub phase: Phase,
    /// What to do now, in two or three words.
    pub headline: &'static str,
    /// Where the wiper stands, 0 to 1, as far as one reading tells.
    pub position: Option<f64>,
    /// What the hand should do otherwise.
    pub advice: Option<&'a str>,
    /// What the passes show.
    pub analysis: Option<&'a Analysis>,
    /// What a sound control reads, evenly along the track from the low end.
    pub curve: Vec<Ohms>,
    /// How many passes are wanted each way.
    pub needed: usize,
    /// The sweeps that are over, in order.
    pub swept: Vec<Swept<'a>>,
}

/// A sweep that is over.
#[derive(Debug, Clone, Copy)]
pub struct Swept<'a> {
    /// The step it was.
    pub step: &'a str,
    /// What it showed.
    pub analysis: &'a Analysis,
    /// The control's total, as it was reckoned with.
    pub total: Ohms,
}

/// Points of the expected curve.
const POINTS: u8 = 64;

/// What a sound control reads along its track.
pub(super) fn curve(track: Option<&dyn Track>) -> Vec<Ohms> {
    track.map_or_else(Vec::new, |track| {
        (0..=POINTS)
            .map(|point| track.reading(f64::from(point) / f64::from(POINTS)))
            .collect()
    })
}
