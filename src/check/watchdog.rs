//! The meter itself: wrong function, HOLD, REL, low battery, a stalled stream, a lost port.
//!
//! Each of them stops judging and says so once, in plain words, when it begins.
//! Time is compared with the last reading, so a stall is found at its own moment however
//! seldom anybody looks.

use std::collections::BTreeSet;

use crate::check::Outbox;
use crate::check::meter::MeterView;
use crate::check::notice::{Notice, Trouble};
use crate::reading::{Annunciator, Magnitude, Measured, Ohms, Reading, Seconds, Stamp};

/// Watches the meter, not the work.
#[derive(Debug, Clone, Default)]
pub struct Watchdog {
    active: BTreeSet<Trouble>,
    /// Since when nothing can be judged.
    since: Stamp,
    last_reading: Option<Stamp>,
    opened: Option<Stamp>,
    heard: u64,
    /// Garbled frames since the last good reading.
    garbled: u32,
    garbled_told: Option<Stamp>,
    /// Whether the port was ever lost.
    was_lost: bool,
}

impl Watchdog {
    /// A stream faster than this is not called stalled for less.
    const SHORTEST_STALL: Seconds = Seconds(0.5);
    /// Before a reading came, and with no documented rate.
    const FIRST_READING: Seconds = Seconds(3.0);
    /// Single bad frames are not told more often than this.
    const GARBLED_AGAIN: Seconds = Seconds(5.0);
    /// So many bad frames in a row with no good one are not a disturbance but a mistake.
    const CLEARLY_WRONG: u32 = 5;

    /// Whether readings can be judged.
    pub fn is_well(&self) -> bool {
        !self.active.iter().any(|trouble| stops_judging(*trouble))
    }

    /// What is wrong now.
    pub fn active(&self) -> impl Iterator<Item = Trouble> {
        self.active.iter().copied()
    }

    /// Since when nothing can be judged, if nothing can.
    pub fn unwell_since(&self) -> Option<Stamp> {
        (!self.is_well()).then_some(self.since)
    }

    /// How many readings came.
    pub const fn heard(&self) -> u64 {
        self.heard
    }

    /// Whether the port was ever lost.
    pub const fn was_lost(&self) -> bool {
        self.was_lost
    }

    /// The port opened.
    pub fn opened(&mut self, now: Stamp) {
        self.opened = Some(now);
        self.last_reading = None;
        // A port that was lost is well again with its first reading.
    }

    /// The port vanished.
    pub fn lost(&mut self, now: Stamp, why: &str, out: &mut Outbox) {
        self.was_lost = true;
        self.opened = None;
        self.active.remove(&Trouble::Stalled);
        let text = format!(
            "the port is gone ({why}): check the cable; the check goes on when it is back, and \
             can then end in retest at best"
        );
        self.begin(Trouble::Lost, now, text, out);
    }

    /// A reading came.
    pub fn reading(&mut self, reading: &Reading, out: &mut Outbox) {
        self.heard = self.heard.saturating_add(1);
        self.last_reading = Some(reading.at);
        self.garbled = 0;
        self.active.remove(&Trouble::Stalled);
        self.active.remove(&Trouble::Garbled);
        self.active.remove(&Trouble::Lost);
        let measured = &reading.measured;
        for (trouble, text) in meter_states(measured) {
            match text {
                Some(text) => self.begin(trouble, reading.at, text, out),
                None => {
                    self.active.remove(&trouble);
                }
            }
        }
    }

    /// Bytes came that make no frame.
    pub fn garbled(&mut self, now: Stamp, out: &mut Outbox) {
        self.garbled = self.garbled.saturating_add(1);
        let told_lately = self
            .garbled_told
            .is_some_and(|told| now.since(told) < Self::GARBLED_AGAIN);
        if self.garbled == 1 && !told_lately {
            let text = "some bytes made no sense and were left out".to_owned();
            self.garbled_told = Some(now);
            self.begin(Trouble::Garbled, now, text, out);
        } else if self.garbled == Self::CLEARLY_WRONG {
            self.active.remove(&Trouble::Garbled);
            let text = "bytes arrive but none make a reading: check the meter format \
                        (--protocol) and the baud rate (--baud)"
                .to_owned();
            self.begin(Trouble::Garbled, now, text, out);
        }
    }

    /// When a stall would begin.
    pub fn due(&self, meter: &MeterView) -> Option<Stamp> {
        if self.active.contains(&Trouble::Stalled) {
            return None;
        }
        let opened = self.opened?;
        Some(match (self.last_reading, meter.interval) {
            (Some(last), Some(interval)) => {
                last + Seconds(interval.0 * 3.0).max(Self::SHORTEST_STALL)
            }
            (Some(last), None) => {
                let documented = meter
                    .facts
                    .interval
                    .map_or(0.0, |interval| interval.0 * 3.0);
                last + Seconds(documented).max(Self::FIRST_READING)
            }
            (None, _) => {
                let known = meter.interval.or(meter.facts.interval);
                let documented = known.map_or(0.0, |interval| interval.0 * 3.0);
                opened + Seconds(documented).max(Self::FIRST_READING)
            }
        })
    }

    /// Time has come to [`Self::due`].
    pub fn time(&mut self, now: Stamp, meter: &MeterView, out: &mut Outbox) {
        if self.due(meter).is_none_or(|due| due > now) {
            return;
        }
        let silence = now.since(self.last_reading.or(self.opened).unwrap_or_default());
        let text = match self.last_reading {
            _ if self.garbled >= Self::CLEARLY_WRONG => format!(
                "no reading for {silence}, though bytes arrive: check the meter format \
                 (--protocol) and the baud rate (--baud)"
            ),
            Some(_) => {
                format!("nothing received for {silence}: did the meter switch itself off?")
            }
            None => format!(
                "nothing received for {silence} since the port opened: switch the meter's data \
                 output on, and check cable and baud rate"
            ),
        };
        self.begin(Trouble::Stalled, now, text, out);
    }

    fn begin(&mut self, what: Trouble, now: Stamp, text: String, out: &mut Outbox) {
        if self.is_well() {
            self.since = now;
        }
        if self.active.insert(what) {
            out.say(Notice::Trouble { what, text });
        }
    }
}

/// Whether a trouble stops the judging; garbled bytes only leave a hole in what was watched.
pub const fn stops_judging(trouble: Trouble) -> bool {
    !matches!(trouble, Trouble::Garbled | Trouble::RangeChange)
}

/// The states of the meter that a reading shows, each with its sentence if it is on.
fn meter_states(measured: &Measured) -> [(Trouble, Option<String>); 4] {
    let marks = measured.annunciators;
    let frozen = marks.has(Annunciator::Hold)
        || marks.has(Annunciator::Minimum)
        || marks.has(Annunciator::Maximum);
    [
        (
            Trouble::WrongFunction,
            wrong_function(measured),
        ),
        (
            Trouble::Hold,
            frozen.then(|| {
                "the meter shows HOLD or a stored extreme, so its number is not live: switch \
                 that off"
                    .to_owned()
            }),
        ),
        (
            Trouble::Relative,
            marks.has(Annunciator::Relative).then(|| {
                "the meter shows REL, a difference: switch it off, and use --tare for the probe \
                 leads"
                    .to_owned()
            }),
        ),
        (
            Trouble::LowBattery,
            marks
                .has(Annunciator::LowBattery)
                .then(|| "the meter's battery is low, so its numbers are suspect: replace it".to_owned()),
        ),
    ]
}

/// The dial is not on ohms, or what is measured is not a resistance.
fn wrong_function(measured: &Measured) -> Option<String> {
    let over = matches!(measured.magnitude, Magnitude::Over { .. });
    if !measured.quantity.is_resistance() {
        Some(format!(
            "the meter is on {}: turn its dial to ohms, with the work unplugged and without power",
            measured.quantity.plain()
        ))
    } else if over && measured.annunciators.has(Annunciator::Minus) {
        Some(voltage("over-range below zero"))
    } else {
        let below = measured
            .ohms()
            .filter(|ohms| is_below_zero(*ohms, measured));
        below.map(|ohms| voltage(&format!("{ohms}, below zero")))
    }
}

/// Whether a resistance lies further below zero than a meter's own zero strays.
fn is_below_zero(ohms: Ohms, measured: &Measured) -> bool {
    /// What thermal voltages and a zero not quite set amount to (common practice, no source).
    const STRAYS: f64 = 0.5;
    const COUNTS: f64 = 5.0;
    let digits = measured.resolution_value().unwrap_or(0.0);
    ohms.0 < -STRAYS.max(COUNTS * digits)
}

fn voltage(shown: &str) -> String {
    format!(
        "the meter shows {shown}: there is a voltage on the work; take the probes off and unplug \
         everything"
    )
}
