//! The device under test: a control, at its lugs or in an instrument, with at most one fault.

mod turner;
mod work;

pub use turner::TurnPlan;
pub(super) use turner::Turner;
pub(super) use work::{PotWork, Turned};

use crate::circuit::control::{BenchTrack, Jack, Law, Lug, Wiring};
use crate::reading::{Ohms, Seconds};
use crate::signal::Track as _;

/// What is wrong with a control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PotFault {
    /// Nothing.
    Good,
    /// A conductive patch: a part of the turn changes nothing.
    DeadSpot,
    /// A stretch of dirt adds contact resistance, new at every touch.
    DirtyZone,
    /// No contact near the high end of the turn.
    OpenEnd,
    /// The track is cracked across.
    Cracked,
    /// The wiper has little pressure left: contact resistance everywhere.
    WornWiper,
    /// The low end never reads low.
    HighEndResistance,
    /// No contact at one place, turned upwards only.
    IntermittentTurn,
}

impl PotFault {
    /// Every fault, in the order they are listed to the user.
    pub const ALL: [Self; 8] = [
        Self::Good,
        Self::DeadSpot,
        Self::DirtyZone,
        Self::OpenEnd,
        Self::Cracked,
        Self::WornWiper,
        Self::HighEndResistance,
        Self::IntermittentTurn,
    ];

    /// The word on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::DeadSpot => "dead-spot",
            Self::DirtyZone => "dirty-zone",
            Self::OpenEnd => "open-end",
            Self::Cracked => "cracked",
            Self::WornWiper => "worn-wiper",
            Self::HighEndResistance => "high-end-resistance",
            Self::IntermittentTurn => "intermittent-turn",
        }
    }

    /// The fault of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.word() == word)
    }
}

/// Where the control sits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seat {
    /// On the bench, its lugs free.
    Lugs,
    /// In an instrument, seen from the jack with this pickup.
    Jack(Wiring, Ohms),
}

/// How the hand turns it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turning {
    /// From stop to stop.
    pub pass: Seconds,
    /// How much its speed wavers, as a part of it.
    pub jitter: f64,
    /// How often in a second it pauses for a moment.
    pub pauses: f64,
    /// Whether it turns slower when told to.
    pub heeds: bool,
}

impl Default for Turning {
    fn default() -> Self {
        Self {
            pass: Seconds(15.0),
            jitter: 0.3,
            pauses: 0.05,
            heeds: true,
        }
    }
}

/// A control.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pot {
    /// From outer lug to outer lug.
    pub total: Ohms,
    /// How it goes with the turn.
    pub law: Law,
    /// Where it sits.
    pub seat: Seat,
    /// What is wrong with it.
    pub fault: PotFault,
    /// The stretch of the turn the fault takes, 0 to 1.
    pub zone: (f64, f64),
    /// The hand.
    pub turning: Turning,
}

/// What each end reads with the wiper at its stop, as a part of the total.
const END: f64 = 0.0005;

/// The step from the end onto the track, as a part of the total.
const HOP: f64 = 0.003;

/// What a bad end reads, as a part of the total.
const BAD_END: f64 = 0.08;

/// What dirt adds at most, as a part of the total.
const DIRT: f64 = 0.12;

/// What a worn wiper adds at most, as a part of the total.
const WORN: f64 = 0.08;

impl Pot {
    /// A 250k control on the bench, its fault in the middle of the turn.
    pub const fn new(law: Law, fault: PotFault) -> Self {
        Self {
            total: Ohms(250e3),
            law,
            seat: Seat::Lugs,
            fault,
            zone: (0.55, 0.62),
            turning: Turning {
                pass: Seconds(15.0),
                jitter: 0.3,
                pauses: 0.05,
                heeds: true,
            },
        }
    }

    /// The stretch of the turn its fault takes.
    pub const fn fault_zone(&self) -> (f64, f64) {
        match self.fault {
            PotFault::OpenEnd => (0.96, 1.0),
            PotFault::Cracked => (self.zone.0, 1.0),
            _ => self.zone,
        }
    }

    /// Where on the track the wiper stands at a part of the turn, electrical.
    pub fn electrical(&self, turn: f64) -> f64 {
        let (from, to) = self.zone;
        let live = match self.fault {
            // What is skipped is missing from the whole.
            PotFault::DeadSpot => {
                let passed = (turn - from).clamp(0.0, to - from);
                (turn - passed) / (1.0 - (to - from))
            }
            _ => turn,
        };
        let track = self.law.fraction(live);
        let end = match self.fault {
            PotFault::HighEndResistance => BAD_END,
            _ => END,
        };
        if live <= 0.0 {
            end
        } else if live >= 1.0 {
            1.0 - END
        } else {
            let low = end + HOP;
            low + (1.0 - END - HOP - low) * track
        }
    }

    /// What its wiper's contact adds at a part of the turn: `chance` from 0 to 1 is new at each
    /// touch. Infinite without contact.
    fn contact(&self, turn: f64, chance: f64, lost: bool) -> Ohms {
        let (from, to) = self.fault_zone();
        let inside = (from..=to).contains(&turn);
        let part = match self.fault {
            PotFault::DirtyZone if inside => DIRT * (0.4 + 0.6 * chance),
            PotFault::WornWiper if turn > 0.01 && turn < 0.99 => WORN * chance * chance,
            PotFault::OpenEnd if inside => f64::INFINITY,
            PotFault::IntermittentTurn if inside && lost => f64::INFINITY,
            _ => 0.0,
        };
        Ohms(part * self.total.0)
    }

    /// From outer lug to outer lug.
    fn end_to_end(&self) -> f64 {
        match self.fault {
            PotFault::Cracked => f64::INFINITY,
            _ => self.total.0,
        }
    }

    /// What the meter sees of a wiper at this part of the turn.
    fn level(&self, lug: Lug, turn: f64, contact: Ohms) -> f64 {
        let position = self.electrical(turn);
        let beyond_crack = self.fault == PotFault::Cracked && turn > self.zone.0;
        match self.seat {
            Seat::Lugs => {
                let parted = match lug {
                    Lug::Low => beyond_crack,
                    Lug::High => self.fault == PotFault::Cracked && !beyond_crack,
                };
                if parted {
                    return f64::INFINITY;
                }
                let track = BenchTrack {
                    total: self.total,
                    lug,
                    end: Ohms(0.0),
                };
                track.reading_through(position, contact).0
            }
            Seat::Jack(wiring, pickup) => {
                let jack = Jack {
                    wiring,
                    total: self.total,
                    pickup,
                };
                if self.fault == PotFault::Cracked {
                    self.cracked_at_jack(&jack, position, beyond_crack)
                } else if contact.0.is_infinite() {
                    jack.open_reading().map_or(f64::INFINITY, |open| open.0)
                } else {
                    jack.reading_through(position, contact).0
                }
            }
        }
    }

    /// A crack leaves one path of the two.
    fn cracked_at_jack(&self, jack: &Jack, position: f64, beyond: bool) -> f64 {
        let (below, above) = (position * self.total.0, (1.0 - position) * self.total.0);
        match (jack.wiring, beyond) {
            (Wiring::Standard, false) => below,
            (Wiring::Independent, false) => f64::INFINITY,
            (_, true) => above + jack.pickup.0,
        }
    }
}
