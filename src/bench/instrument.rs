//! An instrument under test: a circuit with parts off their values, the faults in it, and the
//! technician who sets what the program asks for.

use std::sync::Arc;

use super::Hands;
use super::agenda::{Act, Agenda};
use super::chance::Chance;
use super::course::Course;
use super::operator::Acts;
use crate::check::notice::{Notice, Phase};
use crate::check::rewire::find_measurement;
use crate::circuit::{Change, Circuit, Fault, Measurement};
use crate::reading::{Ohms, Seconds, Stamp};

/// A probe's contact on a plug or a lug (common practice, no source).
const CONTACT: Ohms = Ohms(0.05);

/// An instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    circuit: Arc<Circuit>,
    measurements: Arc<[Measurement]>,
    /// What every spread of the circuit is off by.
    off: Vec<f64>,
    faults: Vec<Fault>,
    /// The meter's probe leads.
    probe_leads: Ohms,
}

impl Instrument {
    /// One with its parts drawn from within their tolerances.
    pub fn drawn(circuit: Circuit, faults: Vec<Fault>, seed: u64) -> Self {
        Self {
            off: circuit.draw(seed, 1),
            measurements: circuit.measurements().into(),
            circuit: Arc::new(circuit),
            faults,
            probe_leads: Ohms(0.12),
        }
    }

    /// The faults of a text: `good`, or those named one by one with ` + ` between.
    pub fn faults_of(circuit: &Circuit, text: &str) -> Result<Vec<Fault>, String> {
        let each = text
            .split(" + ")
            .map(|one| Self::fault_of(circuit, one.trim()));
        let found: Result<Vec<Option<Fault>>, String> = each.collect();
        Ok(found?.into_iter().flatten().collect())
    }

    /// The fault of a number of the circuit's list, counted from 1, or of words that its
    /// sentence holds; none for `good`. A sentence if there is none such.
    pub fn fault_of(circuit: &Circuit, text: &str) -> Result<Option<Fault>, String> {
        if text == "good" {
            return Ok(None);
        }
        let faults = circuit.faults();
        let found = match text.parse::<usize>() {
            Ok(number) => number.checked_sub(1).and_then(|at| faults.get(at)),
            Err(_) => faults
                .iter()
                .find(|fault| fault.hypothesis.name.contains(text)),
        };
        found.cloned().map(Some).ok_or_else(|| {
            let some: Vec<&str> = faults
                .iter()
                .step_by((faults.len() / 6).max(1))
                .map(|fault| fault.hypothesis.name.as_str())
                .collect();
            format!(
                "no fault {text:?}: give `good`, a number from 1 to {}, or words of one, such \
                 as: {}",
                faults.len(),
                some.join("; ")
            )
        })
    }

    fn comes_and_goes(&self) -> bool {
        self.faults.iter().any(Fault::is_intermittent)
    }

    /// What a perfect ohmmeter reads at a measurement; infinite if nothing conducts.
    pub fn resistance(&self, measurement: usize, acting: bool) -> Ohms {
        let Some(at) = self.measurements.get(measurement) else {
            return Ohms(f64::INFINITY);
        };
        let changes: Vec<&Change> = self
            .faults
            .iter()
            .filter(|fault| acting || !fault.is_intermittent())
            .map(|fault| &fault.change)
            .collect();
        let [from, to] = at.between;
        let network = self.circuit.faulty_with(&at.state, &changes, &self.off);
        Ohms(network.resistance(from, to) + self.probe_leads.0 + 2.0 * CONTACT.0)
    }
}

/// The instrument with the probes on it.
#[derive(Debug, Clone)]
pub(super) struct Handled {
    instrument: Instrument,
    measurement: Option<usize>,
    acting: bool,
    course: Course,
    chance: Chance,
}

impl Handled {
    pub(super) fn new(instrument: &Instrument, seed: u64) -> Self {
        Self {
            acting: !instrument.comes_and_goes(),
            instrument: instrument.clone(),
            measurement: None,
            course: Course::new(f64::INFINITY),
            chance: Chance::new(seed, 3),
        }
    }

    pub(super) const fn course(&self) -> &Course {
        &self.course
    }

    pub(super) fn forget(&mut self, before: Stamp) {
        self.course.forget(before);
    }

    /// Carries out an act; what follows from it is noted in the agenda.
    pub(super) fn perform(&mut self, at: Stamp, act: Act, agenda: &mut Agenda) {
        match act {
            Act::Measure(measurement) => {
                self.measurement = measurement;
                if measurement.is_some() && self.instrument.comes_and_goes() {
                    self.come_and_go(at, agenda);
                }
            }
            Act::Fault(acting) => self.acting = acting,
            _ => return,
        }
        let ohms = self.measurement.map_or(f64::INFINITY, |measurement| {
            self.instrument.resistance(measurement, self.acting).0
        });
        if ohms.to_bits() != self.course.latest().to_bits() {
            self.course.change(at, ohms);
        }
    }

    /// A fault that comes and goes: in every second setting it parts again and again for as
    /// long as anybody waits.
    fn come_and_go(&mut self, at: Stamp, agenda: &mut Agenda) {
        const TIMES: u32 = 20;
        agenda.strike(|act| matches!(act, Act::Fault(_)));
        self.acting = false;
        if !self.chance.happens(0.5) {
            return;
        }
        let mut moment = at;
        for _ in 0..TIMES {
            moment = moment + Seconds(self.chance.between(0.2, 0.6));
            agenda.note(moment, Act::Fault(true));
            moment = moment + Seconds(self.chance.between(0.2, 0.6));
            agenda.note(moment, Act::Fault(false));
        }
    }
}

/// An operator who sets what the program asks for, and says so when it asks.
#[derive(Debug, Clone)]
pub(super) struct Technician {
    instrument: Instrument,
    hands: Hands,
    chance: Chance,
    at: Option<usize>,
    busy_until: Stamp,
}

impl Technician {
    pub(super) fn new(instrument: &Instrument, hands: Hands, seed: u64) -> Self {
        Self {
            instrument: instrument.clone(),
            hands,
            chance: Chance::new(seed, 4),
            at: None,
            busy_until: Stamp::START,
        }
    }

    /// What the operator will do about something said at `at`.
    pub(super) fn hear(&mut self, at: Stamp, notice: &Notice) -> Acts {
        let mut acts = Acts::new();
        match notice {
            Notice::Step(begins) => {
                let circuit = &self.instrument.circuit;
                let all = &self.instrument.measurements;
                let Some(wanted) = find_measurement(circuit, all, &begins.step) else {
                    return acts;
                };
                let mut ready = at.max(self.busy_until) + self.reaction();
                if begins.prompt.contains("read as before: press Enter if") {
                    acts.push((ready, Act::Confirm));
                    self.busy_until = ready;
                    return acts;
                }
                if self.at == Some(wanted) {
                    // Asked for the same again: the probes are lifted between.
                    acts.push((ready, Act::Measure(None)));
                    ready = ready + self.reaction();
                }
                acts.push((ready, Act::Measure(Some(wanted))));
                self.at = Some(wanted);
                self.busy_until = ready;
            }
            Notice::Phase {
                phase: Phase::Confirm,
                ..
            } => {
                let ready = at.max(self.busy_until) + self.reaction();
                acts.push((ready, Act::Confirm));
                self.busy_until = ready;
            }
            Notice::Verdict(_) => acts.push((at + self.reaction(), Act::Measure(None))),
            _ => {}
        }
        acts
    }

    fn reaction(&mut self) -> Seconds {
        let (quickest, slowest) = (self.hands.quickest.0, self.hands.slowest.0);
        let span = self.chance.between(quickest, slowest);
        self.hands.paced(Seconds(span))
    }
}
