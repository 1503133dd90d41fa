//! The device under test: a lead of any kind, with at most one fault.

use std::sync::Arc;

use crate::circuit::lead::{Contact, LeadKind, Wired, WiringFault};
use crate::reading::{Ohms, Seconds};

/// What is wrong with a lead. Conductors and nets are those of its kind, by number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LeadFault {
    /// Nothing.
    Good,
    /// A conductor parts at the plug when the cable is bent.
    OpensWhenFlexed(usize),
    /// A conductor is parted.
    Open(usize),
    /// Two nets touch inside a plug when the cable is bent.
    TouchWhenFlexed(usize, usize),
    /// Two nets touch all the time.
    Short(usize, usize),
    /// A conductor's joint has some ohms, and a few more when the cable is bent.
    HighResistanceJoint(usize),
    /// Damp or flux between two nets conducts a little.
    Leakage(usize, usize),
    /// The wires on two nets' contacts are exchanged in the last plug.
    Crossed(usize, usize),
    /// The lead is good; a probe lead of the meter parts whenever anything is bent.
    ProbeLeadOpensWhenFlexed,
}

/// Added to a conductor by a bad joint while bent, beyond what it adds at rest.
const JOINT_BENT: Ohms = Ohms(1.5);
/// Between two nets through damp.
pub(super) const DAMP: Ohms = Ohms(3e6);

impl LeadFault {
    /// Every fault a kind of lead can have, in the order they are listed to the user.
    pub fn all(kind: &LeadKind) -> Vec<Self> {
        let wires = || 0..kind.conductors.len();
        let mut all = vec![Self::Good];
        all.extend(wires().map(Self::OpensWhenFlexed));
        all.extend(wires().map(Self::Open));
        all.extend(wires().map(Self::HighResistanceJoint));
        for (a, b) in kind.apart() {
            all.extend([
                Self::TouchWhenFlexed(a, b),
                Self::Short(a, b),
                Self::Leakage(a, b),
            ]);
            if place(kind, a, b, true).is_some() {
                all.push(Self::Crossed(a, b));
            }
        }
        all.push(Self::ProbeLeadOpensWhenFlexed);
        all
    }

    /// The word on the command line.
    pub fn word(self, kind: &LeadKind) -> String {
        let wire = |number: usize| kind.conductors.get(number).map_or("", |c| c.name.as_str());
        let nets = |a: usize, b: usize| format!("{}-{}", kind.net_name(a), kind.net_name(b));
        match self {
            Self::Good => "good".to_owned(),
            Self::OpensWhenFlexed(number) => format!("{}-opens-when-flexed", wire(number)),
            Self::Open(number) => format!("{}-open", wire(number)),
            Self::TouchWhenFlexed(a, b) => format!("{}-touch-when-flexed", nets(a, b)),
            Self::Short(a, b) => format!("{}-short", nets(a, b)),
            Self::HighResistanceJoint(number) => {
                format!("{}-high-resistance-joint", wire(number))
            }
            Self::Leakage(a, b) => format!("{}-leakage", nets(a, b)),
            Self::Crossed(a, b) => format!("{}-crossed", nets(a, b)),
            Self::ProbeLeadOpensWhenFlexed => "probe-lead-opens-when-flexed".to_owned(),
        }
    }

    /// The fault of a word. `high-resistance-joint` and `moisture-leakage` alone mean the
    /// first conductor and the first pair.
    pub fn from_word(word: &str, kind: &LeadKind) -> Option<Self> {
        let all = Self::all(kind);
        let first = |is: fn(&Self) -> bool| all.iter().copied().find(is);
        match word {
            "high-resistance-joint" => {
                first(|fault| matches!(fault, Self::HighResistanceJoint(_)))
            }
            "moisture-leakage" => first(|fault| matches!(fault, Self::Leakage(..))),
            _ => all.iter().copied().find(|fault| fault.word(kind) == word),
        }
    }

    /// Whether a conductor never reads closed from end to end, so that a check waits and asks.
    pub const fn keeps_a_step_waiting(self) -> bool {
        matches!(self, Self::Open(_) | Self::Crossed(..))
    }

    /// How often a bend makes the fault act: always, never, or by its habit's chance.
    pub(super) const fn answers_a_bend(self) -> Answer {
        match self {
            Self::OpensWhenFlexed(_)
            | Self::TouchWhenFlexed(..)
            | Self::ProbeLeadOpensWhenFlexed => Answer::ByChance,
            Self::HighResistanceJoint(_) => Answer::Always,
            Self::Good
            | Self::Open(_)
            | Self::Short(..)
            | Self::Leakage(..)
            | Self::Crossed(..) => Answer::Never,
        }
    }

    /// What it does to the wiring, while it acts or does not.
    fn wiring(self, kind: &LeadKind, acting: bool) -> Option<WiringFault> {
        match self {
            Self::Open(number) => Some(WiringFault::Open(number)),
            Self::OpensWhenFlexed(number) if acting => Some(WiringFault::Open(number)),
            Self::HighResistanceJoint(number) => Some(WiringFault::HighResistance(number)),
            Self::Short(a, b) => joined(kind, a, b),
            Self::TouchWhenFlexed(a, b) if acting => joined(kind, a, b),
            Self::Crossed(a, b) => {
                place(kind, a, b, true).map(|(a, b)| WiringFault::Crossed(a, b))
            }
            _ => None,
        }
    }
}

fn joined(kind: &LeadKind, a: usize, b: usize) -> Option<WiringFault> {
    place(kind, a, b, false).map(|(a, b)| WiringFault::Joined(a, b))
}

/// Where two nets meet: in the first plug that has both, or in the last.
fn place(kind: &LeadKind, a: usize, b: usize, last: bool) -> Option<(Contact, Contact)> {
    let mut places = (0..kind.plugs.len())
        .filter_map(|plug| kind.on_plug(a, plug).zip(kind.on_plug(b, plug)));
    if last {
        places.next_back()
    } else {
        places.next()
    }
}

/// Whether a bend makes a fault act.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Answer {
    /// A bend changes nothing.
    Never,
    /// In the way and with the chance of the [`FlexHabit`].
    ByChance,
    /// In each bend, as long as it is held.
    Always,
}

/// How long a flexing fault acts in one bend.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Opening {
    /// As long as the bend is held.
    #[default]
    WhileHeld,
    /// For a moment of this length, at a random phase.
    Moment(Seconds),
}

/// How a flexing fault behaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlexHabit {
    /// The chance that one bend makes it act, 0 to 1.
    pub open_chance: f64,
    /// For how long.
    pub opening: Opening,
    /// How many times the contact comes back for a millisecond or two before it parts for
    /// good.
    pub chatter: u32,
}

impl Default for FlexHabit {
    fn default() -> Self {
        Self {
            open_chance: 0.8,
            opening: Opening::WhileHeld,
            chatter: 0,
        }
    }
}

/// What the two probes rest on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Probes {
    /// Nothing.
    #[default]
    Apart,
    /// Each other.
    Together,
    /// Two contacts.
    On(Contact, Contact),
}

/// A set of plugs: the ends that wear a shorting plug.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Shorted(u64);

impl Shorted {
    /// None of them.
    pub const NONE: Self = Self(0);

    /// These plugs, by number. Plugs beyond the sixty-fourth cannot be shorted here.
    pub fn of(plugs: &[usize]) -> Self {
        let bit = |plug: &usize| u32::try_from(*plug).ok().and_then(|p| 1_u64.checked_shl(p));
        Self(plugs.iter().filter_map(bit).fold(0, |set, bit| set | bit))
    }

    fn plugs(self, kind: &LeadKind) -> impl Iterator<Item = usize> {
        (0..kind.plugs.len()).filter(move |plug| self.0 & Self::of(&[*plug]).0 != 0)
    }
}

/// What the hands do to the lead at this moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Handling {
    /// What the probes rest on.
    pub probes: Probes,
    /// The ends that wear a shorting plug.
    pub shorted: Shorted,
    /// Whether the fault acts.
    pub acting: bool,
}

/// A lead, and the probe leads it is measured with.
#[derive(Debug, Clone, PartialEq)]
pub struct Lead {
    /// What kind of lead it is.
    pub kind: Arc<LeadKind>,
    /// Length in metres.
    pub metres: f64,
    /// Resistance of a core, in ohms per metre.
    pub core_per_metre: f64,
    /// Resistance of the sleeve's conductors, in ohms per metre.
    pub sleeve_per_metre: f64,
    /// Resistance of one contact on a plug.
    pub contact: Ohms,
    /// Resistance of both probe leads together.
    pub probe_leads: Ohms,
    /// What is wrong with it.
    pub fault: LeadFault,
    /// How the fault answers to bending, if it does.
    pub habit: FlexHabit,
}

impl Lead {
    /// Three metres of a kind: cores of AWG 24, a sleeve of about half of their resistance.
    pub fn of(kind: Arc<LeadKind>) -> Self {
        Self {
            kind,
            metres: 3.0,
            core_per_metre: 0.084_21,
            sleeve_per_metre: 0.042,
            contact: Ohms(0.01),
            probe_leads: Ohms(0.25),
            fault: LeadFault::Good,
            habit: FlexHabit::default(),
        }
    }

    /// The same with a fault.
    #[must_use]
    pub fn with_fault(self, fault: LeadFault) -> Self {
        Self { fault, ..self }
    }

    /// What a perfect ohmmeter reads in a given handling; infinite if nothing conducts.
    pub fn resistance(&self, handling: Handling) -> Ohms {
        let probe_leads = match self.fault {
            LeadFault::ProbeLeadOpensWhenFlexed if handling.acting => f64::INFINITY,
            _ => self.probe_leads.0,
        };
        let work = match handling.probes {
            Probes::Apart => f64::INFINITY,
            Probes::Together => 0.0,
            Probes::On(a, b) => 2.0 * self.contact.0 + self.between(a, b, handling),
        };
        Ohms(probe_leads + work)
    }

    fn between(&self, a: Contact, b: Contact, handling: Handling) -> f64 {
        let copper: Vec<Ohms> = self
            .kind
            .conductors
            .iter()
            .enumerate()
            .map(|(number, conductor)| {
                let sleeve = self.kind.contact_name(conductor.from) == "sleeve";
                let per_metre = if sleeve {
                    self.sleeve_per_metre
                } else {
                    self.core_per_metre
                };
                let bent = match self.fault {
                    LeadFault::HighResistanceJoint(at) if at == number && handling.acting => {
                        JOINT_BENT.0
                    }
                    _ => 0.0,
                };
                Ohms(self.metres * per_metre + bent)
            })
            .collect();
        let faults = self.fault.wiring(&self.kind, handling.acting);
        let mut wired = Wired::new(&self.kind, &copper, faults.as_slice());
        for plug in handling.shorted.plugs(&self.kind) {
            wired.short(plug, Ohms(2.0 * self.contact.0));
        }
        if let LeadFault::Leakage(x, y) = self.fault
            && let Some((x, y)) = place(&self.kind, x, y, false)
        {
            wired.join(x, y, DAMP);
        }
        wired.between(a, b).0
    }
}
