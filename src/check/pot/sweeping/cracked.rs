//! A sweep at the jack that is over: whether the track is cracked, and where as far as the
//! readings tell.

use crate::check::pot::circuit::{Circuit, JackCircuit};
use crate::check::pot::sweeping::Sweeping;
use crate::check::pot::{crack, leaps};
use crate::circuit::control::{Control, Jack, Lug, USUAL, Wiring};
use crate::reading::Ohms;
use crate::signal::sweep::{
    Cause, EventKind, Finding, Grade, SweepReading, Zone, beside_numbers,
};
use crate::signal::{Branch, Track as _};

/// A break this near the low end is one of the readings' own low end.
const AT_LOW_END: f64 = 0.05;

/// Where a crack may lie whose place the readings do not tell.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::check::pot) struct Unplaced {
    /// The resistance from the high end to the crack.
    pub(in crate::check::pot) from_high_end: Ohms,
    /// The usual totals it fits into, each with its place from the low end.
    pub(in crate::check::pot) places: Vec<(Ohms, f64)>,
    /// The whole range, with the totals' tolerance.
    pub(in crate::check::pot) zone: Zone,
}

impl Sweeping {
    /// Looks for a crack once the readings are complete; with one, the track is worked out anew.
    pub(super) fn seek_crack(&mut self) {
        self.seek_beyond();
        let Circuit::Jack(known) = self.circuit else {
            return;
        };
        match known.wiring {
            Wiring::Standard => {
                let readings = self.sweep.readings();
                let at_the_middle = || {
                    let (total, jack) = known.total.zip(known.jack)?;
                    crack::at_the_middle(readings, total, jack.full())
                };
                let Some(crack) = crack::at_jack(readings, known.total).or_else(at_the_middle)
                else {
                    return;
                };
                self.crack = Some(crack);
                self.circuit = Circuit::Cracked(crack.track);
                let mut analysis = self.sweep.analyse(&crack.track);
                analysis
                    .findings
                    .retain(|other| !other.zone.meets(&crack.zone, AT_LOW_END));
                analysis.findings.insert(0, crack.finding());
                self.analysis = Some(analysis);
            }
            Wiring::Independent if known.total.is_none() => {
                let unplaced = self.unplaced(&known);
                if let (Some(unplaced), Some(analysis)) = (unplaced, &mut self.analysis) {
                    for finding in analysis.findings.iter_mut().filter(|f| is_below(f)) {
                        finding.zone = unplaced.zone;
                    }
                    self.unplaced = Some(unplaced);
                }
            }
            Wiring::Independent => {}
        }
        let lost = leaps::lost(self.sweep.readings(), &self.circuit);
        if let (Some(lost), Some(analysis)) = (lost, &mut self.analysis)
            && !analysis.findings.iter().any(|other| is_told(other, &lost))
        {
            analysis.findings.insert(0, lost);
        }
    }

    /// An independent volume that reads nothing from some place downwards: below a crack there is
    /// no way left to the jack, and the total can no longer be read at zero.
    fn unplaced(&self, known: &JackCircuit) -> Option<Unplaced> {
        let jack = known.jack?;
        self.analysis
            .as_ref()?
            .findings
            .iter()
            .find(|f| is_below(f))?;
        Some(places(&jack))
    }

    /// Contact on a short stretch only, so that no pass came of it, and lost again and again
    /// beyond: what is out of reach.
    pub(super) fn seek_beyond(&mut self) {
        let passes = self.analysis.as_ref().is_some_and(|a| !a.passes.is_empty());
        let Some(high) = self
            .highest_beside_numbers()
            .filter(|_| self.opens >= 2 && !passes)
        else {
            return;
        };
        let (from, to) = match self.circuit {
            Circuit::Lugs(bench) => {
                let place = (high / bench.total.0).clamp(0.0, 1.0);
                match bench.lug {
                    Lug::Low => (place, 1.0),
                    Lug::High => (0.0, 1.0 - place),
                }
            }
            Circuit::Jack(JackCircuit {
                wiring: Wiring::Independent,
                total: Some(_),
                jack: Some(jack),
                ..
            }) => (0.0, jack.position(Ohms(high), Branch::Falling)),
            Circuit::Jack(_) | Circuit::Cracked(_) => return,
        };
        let zone = Zone { from, to };
        self.beyond = Some(zone);
        if let Some(analysis) = &mut self.analysis {
            let times = usize::try_from(self.opens).unwrap_or(usize::MAX);
            analysis
                .findings
                .insert(0, Finding::lost(zone, Cause::Track, times));
        }
    }

    /// The highest reading that the meter did not lift on its way to over-range.
    pub(in crate::check::pot) fn highest_beside_numbers(&self) -> Option<f64> {
        let marks = beside_numbers(self.sweep.readings());
        marks.iter().filter_map(SweepReading::ohms).reduce(f64::max)
    }

    /// Whether the peak of a loaded control is a corner, as two straight lines make it: the
    /// total the track would then have, and what was taken for it.
    pub(in crate::check::pot) fn corner(&self) -> Option<(Ohms, Ohms)> {
        let Circuit::Jack(JackCircuit {
            wiring: Wiring::Standard,
            jack: Some(jack),
            ..
        }) = self.circuit
        else {
            return None;
        };
        let highest = jack.highest();
        crack::roundness(self.sweep.readings(), highest)
            .filter(|roundness| *roundness < crack::CORNER)
            .map(|_| (Ohms(2.0 * highest.0 - jack.full().0), jack.total))
    }
}

/// Whether something found tells of the same loss of contact.
fn is_told(other: &Finding, lost: &Finding) -> bool {
    let bad = other.grade == Grade::Bad && other.confirmed;
    bad && other.zone.meets(&lost.zone, 0.0)
}

/// Whether a finding is contact lost, over-range, from some place down to the low end.
fn is_below(finding: &Finding) -> bool {
    let open = matches!(finding.kind, EventKind::Break | EventKind::Flicker);
    open && finding.confirmed
        && finding.zone.from <= AT_LOW_END
        && finding.events.iter().any(|event| event.ohms.is_none())
}

/// What lies between the crack and the high end, and where that is in the usual controls.
fn places(jack: &Jack) -> Unplaced {
    let from_high_end = Ohms((jack.total.0 - jack.pickup.0).max(0.0));
    let place = |total: f64| 1.0 - from_high_end.0 / total;
    let places: Vec<(Ohms, f64)> = USUAL
        .into_iter()
        .filter(|usual| Control::usual(*usual).band().to > from_high_end)
        .map(|usual| (usual, place(usual.0).max(0.0)))
        .collect();
    let bands = || {
        places
            .iter()
            .map(|(usual, _)| Control::usual(*usual).band())
    };
    let from = bands().map(|band| place(band.from.0)).fold(1.0, f64::min);
    let to = bands().map(|band| place(band.to.0)).fold(0.0, f64::max);
    Unplaced {
        from_high_end,
        zone: Zone::between(from, to),
        places,
    }
}
