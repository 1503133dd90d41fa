//! One go of flexing: bends paced by ticks, each held long enough to be seen whole, and the
//! gaps found meanwhile.

use crate::check::meter::{MeterFacts, MeterView};
use crate::check::step::plan::Pace;
use crate::check::step::regain::Regain;
use crate::check::step::rest::{Rest, lower, shows_contact};
use crate::reading::{Magnitude, Ohms, Reading, Seconds, Stamp};
use crate::signal::{Basis, FlickerFinder, Gap, GapFinder, Standing, shown_chance};

/// What a go is to reach, and how fast it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pacing {
    /// Bends to be held.
    pub flexes: u32,
    /// Time from one tick to the next.
    pub period: Seconds,
    /// How much of that the bend is held.
    pub hold: Seconds,
    /// The longest time without a reading that still counts as watched.
    pub watched: Seconds,
    /// A gap longer than this is not the work of a bend alone.
    pub lift: Seconds,
    /// The opening that is to be caught.
    pub momentary: Seconds,
    /// The chance that one bend shows it, and on what that rests.
    pub chance: Option<(f64, Basis)>,
}

impl Pacing {
    /// The pacing at the meter's present rate.
    pub fn of(meter: &MeterView, rest: &Rest, pace: &Pace) -> Self {
        let interval = meter.pacing_interval();
        let spot = meter.blind_spot(Some(rest.lift()));
        let held = spot.map_or(Seconds(interval.0 * 3.0), |spot| spot.held());
        let momentary = pace.goal.momentary;
        let chance = spot.map(|spot| (spot.chance(momentary), spot.basis));
        let flexes = chance
            .and_then(|(chance, _)| pace.goal.flexes(chance))
            .unwrap_or(pace.goal.least_flexes);
        let period = Seconds(held.0 + pace.moving.0).max(pace.tick);
        Self {
            flexes,
            period,
            hold: Seconds(period.0 - pace.moving.0),
            watched: Self::watched(meter, pace),
            // Two bends and a half: a conductor that opens at every bend closes in between.
            lift: Seconds(period.0 * 2.5).max(Seconds(interval.0 * 4.0)),
            momentary,
            chance,
        }
    }

    /// One late reading is not a hole, a missing one is: an interval and three quarters.
    /// Nor is a hole so short that most of the opening to be caught lies outside it.
    fn watched(meter: &MeterView, pace: &Pace) -> Seconds {
        let interval = meter.pacing_interval();
        let arrival = meter.arrival.unwrap_or(interval).max(interval);
        Seconds(arrival.0 * 1.75).max(Seconds(pace.goal.momentary.0 / 2.0))
    }
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Happened {
    /// A bend is due; its number.
    Tick(u32),
    /// A gap ended.
    Gap(Found),
    /// Over-range was entered again and again.
    Flicker(Gap),
    /// The display went blank where it should not.
    Blanked,
    /// A gap has lasted longer than a bend.
    Outlasted,
    /// All bends were held.
    Finished,
    /// Too many bends could not be watched.
    GaveUp,
}

/// A gap and the bend it began in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// The gap.
    pub gap: Gap,
    /// Which go of flexing.
    pub go: u32,
    /// Which tick of it, from 1; 0 before the first.
    pub bend: u32,
}

/// One go of flexing.
#[derive(Debug, Clone)]
pub struct Flexing {
    /// What it is to reach.
    pub pacing: Pacing,
    /// Which go this is, from 1.
    pub go: u32,
    /// Bends held and watched so far.
    pub held: u32,
    /// The lowest number read between conductors that should be apart.
    pub lowest: Option<Ohms>,
    rest: Rest,
    attempts: u32,
    bend: Option<Bend>,
    next: Stamp,
    finder: GapFinder,
    regain: Regain,
    gap_began_in: u32,
    flicker: FlickerFinder,
    in_contact: bool,
    blanked: bool,
}

#[derive(Debug, Clone, Copy)]
struct Bend {
    last_reading: Stamp,
    readings: u32,
    watched: bool,
}

impl Flexing {
    /// What the bends so far are worth: the chance that a fault acting for the momentary time
    /// at each of them would have shown, and on what that rests.
    pub fn worth(&self) -> Option<(f64, Basis)> {
        let (chance, basis) = self.pacing.chance?;
        Some((shown_chance(chance, self.held), basis))
    }

    /// Time between the prompt and the first tick.
    const LEAD_IN: Seconds = Seconds(0.6);

    /// Begins a go.
    pub fn new(now: Stamp, rest: Rest, pacing: Pacing, go: u32) -> Self {
        Self {
            pacing,
            go,
            held: 0,
            lowest: None,
            rest,
            attempts: 0,
            bend: None,
            next: now + Self::LEAD_IN,
            finder: GapFinder::new(now),
            regain: Regain::default(),
            gap_began_in: 0,
            flicker: FlickerFinder::new(pacing.period),
            in_contact: true,
            blanked: false,
        }
    }

    /// When this wants to be called next.
    pub fn due(&self) -> Stamp {
        self.outlasts_at()
            .map_or(self.next, |lift| self.next.min(lift))
    }

    /// The bend in progress, from 1; 0 before the first.
    pub const fn bend_number(&self) -> u32 {
        if self.bend.is_some() {
            self.held.saturating_add(1)
        } else {
            self.held
        }
    }

    /// Whether a break or a touch is going on.
    pub const fn in_gap(&self) -> bool {
        self.finder.open().is_some()
    }

    /// Whether the last reading showed contact.
    pub const fn in_contact(&self) -> bool {
        self.in_contact
    }

    /// Takes a reading.
    pub fn reading(&mut self, reading: &Reading, facts: &MeterFacts) -> Vec<Happened> {
        let mut happened = Vec::new();
        let measured = &reading.measured;
        if measured.magnitude != Magnitude::Blank {
            self.in_contact = shows_contact(measured);
        }
        if matches!(self.rest, Rest::Open(_)) {
            self.lowest = lower(self.lowest, measured);
        }
        let was_open = self.finder.open().is_some();
        let (standing, regained) = self.regain.weigh(reading, &self.rest, facts, was_open);
        self.note_watching(reading.at, standing);
        if standing == Standing::Nothing && !was_open && !self.blanked {
            self.blanked = true;
            happened.push(Happened::Blanked);
        }
        if let Some(at) = regained {
            happened.extend(
                self.finder
                    .close(at)
                    .map(|gap| Happened::Gap(self.found(gap))),
            );
        }
        let closed = self.finder.feed(reading.at, standing);
        if (!was_open || regained.is_some()) && self.finder.open().is_some() {
            // By tick, not by bend held: a break can keep its own bend from counting as held.
            self.gap_began_in = self.attempts;
        }
        if let Some(gap) = closed {
            happened.push(Happened::Gap(self.found(gap)));
            happened.extend(self.flicker.feed(&gap).map(Happened::Flicker));
            if self.held >= self.pacing.flexes {
                happened.push(Happened::Finished);
            }
        }
        happened
    }

    /// Time has come to [`Self::due`].
    pub fn time(&mut self, now: Stamp) -> Option<Happened> {
        if self.outlasts_at().is_some_and(|lift| lift <= now) {
            return Some(Happened::Outlasted);
        }
        if self.next > now {
            return None;
        }
        if let Some(bend) = self.bend.take() {
            let seen_to_the_end = now.since(bend.last_reading) <= self.pacing.watched;
            if bend.watched && bend.readings >= 2 && seen_to_the_end {
                self.held = self.held.saturating_add(1);
            }
        }
        self.next = now + self.pacing.period;
        if self.held >= self.pacing.flexes {
            // A gap still open when the last bend ends is waited for.
            return self.finder.open().is_none().then_some(Happened::Finished);
        }
        self.attempts = self.attempts.saturating_add(1);
        if self.is_worn_out() {
            return Some(Happened::GaveUp);
        }
        self.bend = Some(Bend {
            last_reading: now,
            readings: 0,
            watched: true,
        });
        Some(Happened::Tick(self.bend_number()))
    }

    /// Watching stops here: gives the gap that was open.
    pub fn stop(&mut self, now: Stamp) -> Option<Found> {
        self.bend = None;
        let gap = self.finder.close(now)?;
        Some(self.found(gap))
    }

    /// Watching goes on after an interruption; the bend it interrupted does not count, and
    /// counts as tried: a meter that falters again and again comes to an end.
    pub fn resume(&mut self, now: Stamp) -> Option<Happened> {
        self.attempts = self.attempts.saturating_add(1);
        self.bend = None;
        self.next = now + Self::LEAD_IN;
        self.finder = GapFinder::new(now);
        self.regain = Regain::default();
        self.is_worn_out().then_some(Happened::GaveUp)
    }

    /// Whether as many bends were tried as are worth trying.
    const fn is_worn_out(&self) -> bool {
        self.attempts > self.pacing.flexes.saturating_mul(2)
    }

    fn outlasts_at(&self) -> Option<Stamp> {
        self.finder.open().map(|gap| gap.from + self.pacing.lift)
    }

    /// A frame came that tells nothing: the bend it came in was not watched whole.
    pub const fn missed(&mut self) {
        if let Some(bend) = &mut self.bend {
            bend.watched = false;
        }
    }

    /// A bend counts as watched if readings that tell something came all through it.
    fn note_watching(&mut self, at: Stamp, standing: Standing) {
        if standing == Standing::Nothing {
            return self.missed();
        }
        if let Some(bend) = &mut self.bend {
            bend.watched &= at.since(bend.last_reading) <= self.pacing.watched;
            bend.last_reading = at;
            bend.readings = bend.readings.saturating_add(1);
        }
    }

    const fn found(&self, gap: Gap) -> Found {
        Found {
            gap,
            go: self.go,
            bend: self.gap_began_in,
        }
    }
}
