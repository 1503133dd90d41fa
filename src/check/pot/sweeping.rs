//! A control being turned: readings gathered, the hand coached, the end told by itself.
//!
//! What is wrong is told pass by pass from the whole sweep so far, looked at a few times a
//! minute of it and whenever the hand rests at an end; all of it follows from the readings and
//! their stamps alone, so a replay finds the same.

mod cracked;
mod evidence;
mod pace;
mod stops;

pub(super) use cracked::Unplaced;

use std::collections::VecDeque;

use crate::check::meter::MeterView;
use crate::check::pot::circuit::Circuit;
use crate::check::pot::crack::Crack;
use crate::check::pot::rest::Rest;
use crate::check::pot::words;
use crate::circuit::control::Tone;
use crate::reading::{Ohms, Reading, Seconds, Stamp};
use crate::signal::sweep::{
    Advice, Analysis, Event, EventKind, Level, Sweep, SweepReading, SweepSettings, Zone,
};

/// What the live sweep asks its owner to say.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Said {
    /// The hand has begun to turn.
    Begun,
    /// Tell the hand this.
    Prompt(String),
    /// This happened.
    Event(Event),
    /// The sweep is over.
    Over,
}

/// How much is asked of one sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Demand {
    /// Passes each way in a go.
    pub(super) passes: usize,
    /// The largest zone a pass may have been unable to show.
    pub(super) zone: f64,
    /// Taken off every reading.
    pub(super) tare: Ohms,
}

/// A sweep under way.
#[derive(Debug, Clone)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "four plain facts of a sweep that do not exclude one another"
)]
pub(super) struct Sweeping {
    pub(super) circuit: Circuit,
    pub(super) demand: Demand,
    sweep: Sweep,
    rest: Rest,
    /// Whether this rest was looked at already.
    rested: bool,
    pub(super) moving: bool,
    extent: Option<(f64, f64)>,
    pub(super) analysis: Option<Analysis>,
    looked: Stamp,
    told: Vec<Event>,
    coached: Option<Stamp>,
    /// Where the wiper stood at the last readings.
    lately: VecDeque<f64>,
    /// Where the hand came to rest at an end, in ohms.
    pub(super) rests: Vec<f64>,
    pub(super) position: Option<f64>,
    pub(super) advice: Option<String>,
    /// Passes wanted each way by now.
    pub(super) needed: usize,
    shown: (usize, usize),
    /// Passes up and down when the hand was last told what to do.
    pub(super) asked: (usize, usize),
    more: u32,
    /// When the second go began.
    pub(super) second_go: Option<Stamp>,
    pub(super) last_contact: Option<Stamp>,
    /// When contact was first made.
    contact_made: Stamp,
    /// The range is too low since here, on this full scale, for so many readings.
    low_range: Option<(Stamp, Ohms, u32)>,
    /// A range set below the control was seen for several readings.
    pub(super) low_scale: Option<Ohms>,
    pub(super) range_trouble: Option<(Ohms, u32)>,
    hole: bool,
    /// How often what came before a rest was only the way there.
    begun_anew: u32,
    /// Over-range since here, and whether that was counted.
    open_since: Option<(Stamp, bool)>,
    /// How often contact was lost for a while.
    pub(super) opens: u32,
    /// Whether the end of a pass was reached by looking at a rest.
    pub(super) over: bool,
    /// The track is cracked, seen through the jack.
    pub(super) crack: Option<Crack>,
    /// What was out of reach, where no pass came of it.
    pub(super) beyond: Option<Zone>,
    /// The same as a crack, where the readings do not tell its place.
    pub(super) unplaced: Option<Unplaced>,
}

/// A movement below this part of the total is no beginning.
const BEGINS: f64 = 0.05;

/// The hand is not coached more often.
const COACH_EVERY: Seconds = Seconds(2.0);

/// An event this old is told: what follows it is known.
const SETTLED: Seconds = Seconds(2.0);

impl Sweeping {
    pub(super) fn new(circuit: Circuit, demand: Demand, now: Stamp) -> Self {
        Self {
            circuit,
            demand,
            sweep: Sweep::new(SweepSettings::DEFAULT),
            rest: Rest::default(),
            rested: false,
            moving: false,
            extent: None,
            analysis: None,
            looked: now,
            told: Vec::new(),
            coached: None,
            lately: VecDeque::new(),
            rests: Vec::new(),
            position: None,
            advice: None,
            needed: demand.passes,
            shown: (0, 0),
            asked: (0, 0),
            more: 0,
            second_go: None,
            last_contact: None,
            contact_made: now,
            low_range: None,
            low_scale: None,
            range_trouble: None,
            hole: false,
            begun_anew: 0,
            open_since: None,
            opens: 0,
            over: false,
            crack: None,
            beyond: None,
            unplaced: None,
        }
    }

    /// The readings gathered.
    pub(super) fn readings(&self) -> &[SweepReading] {
        self.sweep.readings()
    }

    /// The largest sane reading so far, or what the circuit says.
    fn scale(&self) -> f64 {
        let seen = self.extent.map_or(0.0, |(_, high)| high);
        self.circuit
            .track()
            .map_or(seen, |track| track.highest().0)
            .max(1.0)
    }

    /// A frame was lost, or judging stopped.
    pub(super) fn missed(&mut self) {
        self.hole = true;
    }

    fn anew(&mut self, now: Stamp, meter: &MeterView) {
        // A slow meter needs several of its readings to find a new range.
        let settling = Seconds((5.0 * meter.pacing_interval().0).max(1.5));
        self.sweep = Sweep::new(SweepSettings {
            display_counts: meter.facts.counts.map(f64::from),
            settling,
            ..SweepSettings::DEFAULT
        });
        (self.analysis, self.looked) = (None, now);
        self.told.clear();
        self.rests.clear();
        self.opens = 0;
        self.asked = (0, 0);
        self.lately.clear();
    }

    /// Takes a reading.
    pub(super) fn reading(&mut self, reading: &Reading, meter: &MeterView) -> Vec<Said> {
        let mut said = Vec::new();
        let taken = SweepReading::of(reading, self.demand.tare);
        let now = reading.at;
        if self.low_range(reading, meter, &mut said) {
            self.anew(now, meter);
            return said;
        }
        if let Some(ohms) = taken.ohms() {
            if self.last_contact.is_none() {
                self.anew(now, meter);
                self.contact_made = now;
            }
            self.last_contact = Some(now);
            if self.is_charging(now) {
                return said;
            }
            if ohms <= 1.02 * self.circuit.track().map_or(f64::MAX, |t| t.highest().0) {
                let (low, high) = self.extent.unwrap_or((ohms, ohms));
                self.extent = Some((low.min(ohms), high.max(ohms)));
            }
        } else if self.last_contact.is_none() {
            return said;
        }
        self.gather(taken, &mut said);
        self.count_opens(&taken);
        let begun = self
            .extent
            .is_some_and(|(low, high)| high - low > BEGINS * self.scale());
        if begun && !self.moving {
            self.moving = true;
            said.push(Said::Begun);
        }
        let rests = self.rest.feed(&taken, self.scale());
        if !rests {
            self.rested = false;
        } else if !self.rested {
            self.rests(now, meter, &mut said);
        }
        if self.moving && now.since(self.looked).0 > self.look_every() {
            self.look(now, &mut said);
        }
        if self.turned_in_vain() {
            self.finish(now, &mut said);
        }
        said
    }

    /// Whether a tone control's capacitor may still draw current: the jack then reads low.
    fn is_charging(&self, now: Stamp) -> bool {
        matches!(self.circuit, Circuit::Jack(_)) && now.since(self.contact_made) < Tone::WAIT
    }

    /// Keeps a reading and coaches the hand.
    fn gather(&mut self, taken: SweepReading, said: &mut Vec<Said>) {
        let now = taken.at;
        let followed = if let Some(track) = self.circuit.track() {
            if std::mem::take(&mut self.hole) {
                let blank = SweepReading {
                    level: Level::Blank,
                    ..taken
                };
                self.sweep.push(blank, track);
            }
            self.sweep.push(taken, track)
        } else {
            // Nothing is known of the circuit yet: kept only.
            let any = crate::circuit::control::BenchTrack::new(Ohms(self.scale()));
            self.sweep.push(taken, &any);
            None
        };
        let Some((position, _)) = followed else {
            self.lately.clear();
            return;
        };
        self.position = Some(position);
        let advice = self.pace(position);
        let quiet = self
            .coached
            .is_none_or(|last| now.since(last) >= COACH_EVERY);
        match advice {
            Advice::Slower { .. } if quiet && self.moving => {
                self.coached = Some(now);
                self.advice = advice.sentence();
                said.extend(advice.sentence().map(Said::Prompt));
            }
            Advice::Steady if quiet => self.advice = None,
            _ => {}
        }
    }

    /// Looking walks all readings: seldom in a long sweep.
    fn look_every(&self) -> f64 {
        let readings = self.sweep.readings();
        let whole = readings
            .first()
            .zip(readings.last())
            .map_or(0.0, |(first, last)| last.at.since(first.at).0);
        (whole / 25.0).clamp(1.5, 8.0)
    }

    /// Looks at the sweep so far.
    fn look(&mut self, now: Stamp, said: &mut Vec<Said>) {
        self.looked = now;
        // What cannot be worked out yet will be, or the verdict says so.
        drop(self.circuit.learn(self.sweep.readings()));
        self.analysis = self.circuit.track().map(|track| self.sweep.analyse(track));
        let before = Stamp::from_micros(now.micros().saturating_sub(SETTLED.micros()));
        self.tell(before, said);
    }

    /// Tells what happened up to a moment and was not told yet.
    fn tell(&mut self, until: Stamp, said: &mut Vec<Said>) {
        // At the jack what reads high depends on the circuit, known for certain only at the end.
        let learning = matches!(self.circuit, Circuit::Jack(known) if !known.is_given());
        let Some(analysis) = self
            .analysis
            .as_ref()
            .filter(|_| !learning || until == self.looked)
        else {
            return;
        };
        let mut news: Vec<Event> = analysis
            .passes
            .iter()
            .flat_map(|pass| pass.events.iter())
            .filter(|event| event.to <= until && is_told(event))
            .filter(|event| {
                !self
                    .told
                    .iter()
                    .any(|old| old.from <= event.to && event.from <= old.to)
            })
            .copied()
            .collect();
        news.sort_by_key(|event| event.from);
        for event in news {
            self.told.push(event);
            said.push(Said::Event(event));
        }
    }

    /// The hand has just come to rest somewhere.
    fn rests(&mut self, now: Stamp, meter: &MeterView, said: &mut Vec<Said>) {
        if self.is_only_the_way_there() {
            self.rested = true;
            self.begun_anew += 1;
            // What came before was only the way to where a sweep begins.
            let first = self.sweep.readings().last().copied();
            self.anew(now, meter);
            if let Some(first) = first {
                self.extent = first.ohms().map(|ohms| (ohms, ohms));
                self.rests.extend(first.ohms());
                self.gather(first, said);
            }
            return;
        }
        if !self.moving || !self.is_at_end() {
            return;
        }
        self.rested = true;
        self.rests.push(self.rest.level());
        self.look(now, said);
        let (up, down) = self.counted();
        self.asked = (up, down);
        if up >= self.needed && down >= self.needed {
            self.enough(now, said);
        } else if (up, down) != self.shown {
            self.shown = (up, down);
            said.push(Said::Prompt(words::onward(up, down, self.needed)));
        }
    }

    /// Passes each way so far.
    pub(super) fn counted(&self) -> (usize, usize) {
        self.analysis
            .as_ref()
            .map_or((0, 0), |analysis| words::counted(&analysis.passes))
    }

    /// Ends the sweep with what was seen.
    pub(super) fn finish(&mut self, now: Stamp, said: &mut Vec<Said>) {
        if self.over {
            return;
        }
        self.look(now, said);
        self.seek_crack();
        self.tell(now, said);
        self.over = true;
        said.push(Said::Over);
    }

    /// Whether the hand has stood still for so long.
    pub(super) fn stands_for(&self, now: Stamp) -> Seconds {
        self.rest.lasted(now)
    }
}

/// Whether an event has a line of its own: a rest of the hand reads flat, and fingers on the
/// probes are told with the verdict.
const fn is_told(event: &Event) -> bool {
    !matches!(event.kind, EventKind::Flat | EventKind::Dip) && !event.smooth
}
