//! A hand that turns, a track with faults, and a meter with ranges.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use steadyohm::reading::{Ohms, Stamp};
use steadyohm::signal::Track;
use steadyohm::signal::sweep::{Level, SweepReading, Zone};

/// What is wrong with the track.
#[derive(Debug, Clone, Copy)]
pub(super) enum Fault {
    /// No contact there.
    Open(Zone),
    /// Contact resistance up to this part of the total there, new at each reading.
    Dirt(Zone, f64),
    /// The same, turned upwards only.
    DirtUp(Zone, f64),
    /// No contact above this place: the track is cracked, the meter on the low lug.
    Crack(f64),
    /// This part of the turn changes nothing, at this place.
    Dead(f64, f64),
}

/// How the hand turns and the meter reads.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scene {
    /// Readings a second.
    pub(super) rate: f64,
    /// Seconds for one pass.
    pub(super) pass: f64,
    /// Passes, beginning at the low end.
    pub(super) passes: u32,
    /// How much the speed of the hand wavers, as a part of it.
    pub(super) jitter: f64,
    /// Chance of a rest at each reading.
    pub(super) rests: f64,
    /// How often in a second the hand slips back, by up to 3 % of the turn.
    pub(super) slips: f64,
    /// Counts of the display, and whether it chooses its range.
    pub(super) counts: f64,
    /// Whether the meter changes its range by itself.
    pub(super) auto: bool,
    /// Noise as a part of the reading.
    pub(super) noise: f64,
    /// Chance.
    pub(super) seed: u64,
}

impl Scene {
    /// A careful hand on a meter of ten readings a second, its range locked.
    pub(super) const CAREFUL: Self = Self {
        rate: 10.0,
        pass: 20.0,
        passes: 4,
        jitter: 0.4,
        rests: 0.0,
        slips: 0.0,
        counts: 6000.0,
        auto: false,
        noise: 0.0002,
        seed: 1,
    };

    /// The readings.
    pub(super) fn readings(&self, track: &dyn Track, faults: &[Fault]) -> Vec<SweepReading> {
        let mut chance = Chance(ChaCha8Rng::seed_from_u64(self.seed));
        let mut meter = Meter::new(self, track);
        let mut readings = Vec::new();
        let rest = 1.0;
        let mut time = 0.0;
        let mut take = |position: f64, up: bool, time: &mut f64, chance: &mut Chance| {
            *time += (1.0 + 0.02 * chance.signed()) / self.rate;
            let level = wiper(track, position, up, faults, chance);
            let shown = level.map(|ohms| ohms * (1.0 + self.noise * chance.signed()));
            let (level, resolution) = meter.show(shown);
            readings.push(SweepReading {
                at: Stamp::from_seconds(*time),
                level,
                resolution,
            });
        };
        for pass in 0..self.passes {
            let up = pass % 2 == 0;
            let till = time + rest;
            while time < till {
                take(f64::from(u8::from(!up)), up, &mut time, &mut chance);
            }
            let mut turn: f64 = 0.0;
            let mut back = 0.0;
            while turn < 1.0 {
                let mut speed = (1.0 + self.jitter * chance.signed()) / self.pass;
                if chance.part() < self.slips / self.rate {
                    back = 0.03 * chance.part();
                }
                if back > 0.0 && turn > 0.1 {
                    // It slips back about as fast as it turns.
                    back -= speed / self.rate;
                    speed = -speed;
                }
                if chance.part() >= self.rests {
                    turn += speed / self.rate;
                }
                let along = turn.min(1.0);
                let at = electrical(if up { along } else { 1.0 - along }, faults);
                take(at, up, &mut time, &mut chance);
            }
        }
        let end = f64::from(u8::from(self.passes % 2 == 1));
        let till = time + rest;
        while time < till {
            take(end, true, &mut time, &mut chance);
        }
        readings
    }
}

/// The position on the track at a part of the turn, dead spots taken out.
fn electrical(turn: f64, faults: &[Fault]) -> f64 {
    for fault in faults {
        if let Fault::Dead(at, width) = fault {
            let live = 1.0 - width;
            let passed = (turn - at).clamp(0.0, *width);
            return (turn - passed) / live;
        }
    }
    turn
}

fn wiper(
    track: &dyn Track,
    at: f64,
    up: bool,
    faults: &[Fault],
    chance: &mut Chance,
) -> Option<f64> {
    let inside = |zone: &Zone| zone.from <= at && at <= zone.to;
    let mut contact = 0.0;
    for fault in faults {
        match fault {
            Fault::Open(zone) if inside(zone) => {
                return track.open_reading().map(|open| open.0);
            }
            Fault::Crack(place) if at > *place => return None,
            Fault::Dirt(zone, height) if inside(zone) => {
                contact += height * (0.7 + 0.3 * chance.part());
            }
            Fault::DirtUp(zone, height) if up && inside(zone) => {
                contact += height * (0.7 + 0.3 * chance.part());
            }
            _ => {}
        }
    }
    let contact = Ohms(contact * track.total().0);
    Some(track.reading_through(at, contact).0)
}

/// Even chances.
struct Chance(ChaCha8Rng);

impl Chance {
    fn part(&mut self) -> f64 {
        f64::from(self.0.next_u32()) / f64::from(u32::MAX)
    }

    fn signed(&mut self) -> f64 {
        2.0 * self.part() - 1.0
    }
}

/// A display of so many counts on decade ranges from 600 ohm up (with 6000 counts).
struct Meter {
    counts: f64,
    auto: bool,
    exponent: i32,
    top: i32,
}

impl Meter {
    fn new(scene: &Scene, track: &dyn Track) -> Self {
        let mut exponent = -1;
        while scene.counts * 10_f64.powi(exponent) < 1.2 * track.highest().0 {
            exponent += 1;
        }
        Self {
            counts: scene.counts,
            auto: scene.auto,
            exponent,
            top: 4,
        }
    }

    fn show(&mut self, ohms: Option<f64>) -> (Level, Option<f64>) {
        let count = 10_f64.powi(self.exponent);
        let full = self.counts * count;
        let shown = Some(count);
        match ohms {
            Some(ohms) if ohms < full => {
                if self.auto && ohms < 0.09 * full && self.exponent > -1 {
                    self.exponent -= 1;
                    return (Level::Blank, shown);
                }
                (Level::Ohms((ohms / count).round() * count), shown)
            }
            _ => {
                if self.auto && self.exponent < self.top {
                    self.exponent += 1;
                }
                (Level::Over(None), shown)
            }
        }
    }
}

/// The lugs of a 250k control.
pub(super) const TOTAL: Ohms = Ohms(250e3);
