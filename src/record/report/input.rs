//! What a report is made of: plain values, whatever check they come from.

use crate::check::notice::{DisturbanceKind, Proof, Verdict};
use crate::reading::{Ohms, Seconds, Stamp};
use crate::signal::{BlindSpot, Point};

/// One page.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportInput {
    /// What was measured, as the user names it.
    pub subject: Subject,
    /// The run that the page is about.
    pub run: RunReport,
    /// The run before the repair, if there was one: the page then compares the two.
    pub before: Option<RunReport>,
}

/// What was measured: nothing but what the user typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Subject {
    /// The job.
    pub job: Option<String>,
    /// The instrument.
    pub instrument: Option<String>,
    /// The batch.
    pub batch: Option<String>,
    /// The supplier's lot.
    pub lot: Option<String>,
    /// The tag of the lead.
    pub tag: Option<String>,
    /// The lead's length and conductor.
    pub length: Option<String>,
    /// The temperature of the workshop.
    pub workshop: Option<String>,
    /// The meter's accuracy as its maker states it.
    pub accuracy: Option<String>,
    /// Who measured.
    pub measured_by: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl Subject {
    /// Labels and texts of what was given, in the order of the page.
    pub fn entries(&self) -> impl Iterator<Item = (&'static str, &str)> {
        [
            ("Job", &self.job),
            ("Instrument", &self.instrument),
            ("Batch", &self.batch),
            ("Lot", &self.lot),
            ("Tag", &self.tag),
            ("Length", &self.length),
            ("Workshop", &self.workshop),
            ("Meter accuracy", &self.accuracy),
            ("Measured by", &self.measured_by),
            ("Note", &self.note),
        ]
        .into_iter()
        .filter_map(|(label, text)| {
            Some((
                label,
                text.as_deref().filter(|text| !text.trim().is_empty())?,
            ))
        })
    }
}

/// One run.
#[derive(Debug, Clone, PartialEq)]
pub struct RunReport {
    /// The check: `lead`.
    pub check: String,
    /// When it began, as it is to be printed.
    pub date: String,
    /// The recording it can be replayed from.
    pub recording: String,
    /// How the recording was made, if it is not from a meter: the page then says so first.
    pub made_by: Option<String>,
    /// The meter behind the readings.
    pub meter: MeterLine,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, in words.
    pub reasons: Vec<String>,
    /// What was measured, in the order of the page.
    pub sections: Vec<Section>,
    /// What the meter could not have seen; none if no interval was ever measured.
    pub blind_spot: Option<BlindSpot>,
    /// What the reader must know before relying on the page.
    pub cautions: Vec<String>,
    /// What was not checked.
    pub unchecked: Vec<String>,
}

impl RunReport {
    /// The rows of all its tables.
    pub fn rows(&self) -> impl Iterator<Item = &StateRow> {
        self.sections.iter().flat_map(|section| match section {
            Section::States(states) => states.rows.as_slice(),
            Section::Traces(_) | Section::Track(_) => &[],
        })
    }
}

/// The meter behind the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterLine {
    /// The wire format.
    pub format: String,
    /// Where the bytes came from.
    pub source: String,
    /// Time between readings as measured on the stream.
    pub interval: Option<Seconds>,
    /// The same as the format's document states it.
    pub documented: Option<Seconds>,
}

/// A part of the page.
#[derive(Debug, Clone, PartialEq)]
pub enum Section {
    /// A table of what was expected and what was measured.
    States(States),
    /// What the readings did over time.
    Traces(Vec<Trace>),
    /// A control's track from end to end.
    Track(Track),
}

/// A table of what was expected and what was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct States {
    /// Its heading.
    pub title: String,
    /// Its rows.
    pub rows: Vec<StateRow>,
}

/// One thing measured: a step of a lead, a position of a selector.
#[derive(Debug, Clone, PartialEq)]
pub struct StateRow {
    /// Its name.
    pub name: String,
    /// What it should be.
    pub expected: Expected,
    /// What it was.
    pub measured: MeasuredValue,
    /// Its verdict; none if it was not reached.
    pub verdict: Option<Verdict>,
    /// How it is known that the probes were on the work.
    pub proof: Option<Proof>,
    /// The chance that a fault of the judged length would have shown, 0 to 1.
    pub coverage: Option<f64>,
    /// Why, in words.
    pub reasons: Vec<String>,
}

/// What a value should be.
#[derive(Debug, Clone, PartialEq)]
pub enum Expected {
    /// At most `pass`; above `fail` it is a fault, in between a retest.
    AtMost {
        /// The limit.
        pass: Ohms,
        /// Where the fault begins.
        fail: Ohms,
    },
    /// At least `pass`; below `fail` it is a fault, in between a retest.
    AtLeast {
        /// The limit.
        pass: Ohms,
        /// Where the fault begins.
        fail: Ohms,
    },
    /// From `low` to `high`, and nearest to `nominal`.
    Between {
        /// The lowest that is right.
        low: Ohms,
        /// What the circuit predicts.
        nominal: Ohms,
        /// The highest that is right.
        high: Ohms,
    },
    /// Only this much is known, in words.
    Word(String),
}

/// What a value was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MeasuredValue {
    /// A number.
    Value(Ohms),
    /// Over-range: more than this, where the range is known.
    MoreThan(Option<Ohms>),
    /// Nothing was read.
    Nothing,
}

/// What the readings did over a time.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// What was measured.
    pub name: String,
    /// The window shown.
    pub from: Stamp,
    /// Its end.
    pub to: Stamp,
    /// The readings in order, tare taken off.
    pub points: Vec<Point>,
    /// Time between readings: where longer than a few of these nothing was read, the line breaks.
    pub interval: Option<Seconds>,
    /// The value at rest.
    pub rest: Option<Ohms>,
    /// Beyond this a reading is a break, or a touch.
    pub threshold: Option<Ohms>,
    /// Whether conductors that should be apart are watched.
    pub apart: bool,
    /// The highest that a turned control should read: the scale then runs evenly up to it.
    pub top: Option<Ohms>,
    /// The bends.
    pub ticks: Vec<TickMark>,
    /// Breaks, touches and the like.
    pub marks: Vec<MarkSpan>,
}

/// One bend.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TickMark {
    /// When it was called for.
    pub at: Stamp,
    /// Its number, from 1.
    pub number: u32,
    /// Where.
    pub place: Option<String>,
}

/// Something that happened for a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkSpan {
    /// Which kind.
    pub kind: DisturbanceKind,
    /// The first reading of it.
    pub from: Stamp,
    /// The last reading of it.
    pub to: Stamp,
    /// It lasted at least this long.
    pub at_least: Seconds,
    /// It lasted at most this long.
    pub at_most: Seconds,
    /// The most telling number in it; none if it was over-range throughout.
    pub ohms: Option<Ohms>,
}

/// A control's track from end to end, in bins of equal width.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// Its heading.
    pub title: String,
    /// The end that the first bin lies at, and the other.
    pub ends: [String; 2],
    /// The most noise that is right, in ohms.
    pub noise_limit: Ohms,
    /// The bins from one end to the other.
    pub bins: Vec<TrackBin>,
}

/// A part of a track.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TrackBin {
    /// Readings that fell into it; none means that it was not seen.
    pub readings: u32,
    /// How far they left the smooth sweep at most.
    pub noise: Option<Ohms>,
    /// What is wrong there.
    pub fault: Option<TrackFault>,
}

/// What is wrong with a part of a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TrackFault {
    /// It opened once.
    Once,
    /// It opened there again.
    Again,
    /// Noise beyond the limit.
    Noisy,
    /// The reading stands still while the control is turned.
    Dead,
    /// The reading steps suddenly.
    Jump,
}

impl TrackFault {
    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Once => "opened once",
            Self::Again => "opened again at the same place",
            Self::Noisy => "noisy",
            Self::Dead => "dead spot",
            Self::Jump => "jump",
        }
    }
}

impl Track {
    /// The share of its bins in which something was read, 0 to 1.
    pub fn coverage(&self) -> f64 {
        let of_bin = |bin: &TrackBin| if bin.readings > 0 { 1.0 } else { 0.0 };
        let (seen, all) = self
            .bins
            .iter()
            .map(of_bin)
            .fold((0.0, 0.0), |(seen, all), bin| (seen + bin, all + 1.0));
        if all > 0.0 { seen / all } else { 0.0 }
    }

    /// Stretches with the same fault: from where to where in percent of the track, and what.
    pub fn faults(&self) -> Vec<(f64, f64, TrackFault)> {
        let mut found: Vec<(f64, f64, TrackFault)> = Vec::new();
        let width = 100.0 / self.bins.iter().fold(0.0, |count, _| count + 1.0);
        let mut from = 0.0;
        for bin in &self.bins {
            let to = from + width;
            match (bin.fault, found.last_mut()) {
                (Some(fault), Some(last)) if last.2 == fault && last.1 + width / 2.0 > from => {
                    last.1 = to;
                }
                (Some(fault), _) => found.push((from, to, fault)),
                (None, _) => {}
            }
            from = to;
        }
        found
    }
}
