//! The device under test: a two-conductor lead, with at most one fault.

use crate::reading::{Ohms, Seconds};

/// What is wrong with a lead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LeadFault {
    /// Nothing.
    Good,
    /// The tip conductor parts at the plug when the cable is bent.
    TipOpensWhenFlexed,
    /// The sleeve conductor parts at the plug when the cable is bent.
    SleeveOpensWhenFlexed,
    /// The tip conductor is parted.
    TipOpen,
    /// The sleeve conductor is parted.
    SleeveOpen,
    /// Tip and sleeve touch inside the plug when the cable is bent.
    TipSleeveTouchWhenFlexed,
    /// Tip and sleeve touch all the time.
    TipSleeveShort,
    /// The tip joint has some ohms, and a few more when the cable is bent.
    HighResistanceJoint,
    /// Damp or flux between tip and sleeve conducts a little.
    MoistureLeakage,
    /// The lead is good; a probe lead of the meter parts whenever anything is bent.
    ProbeLeadOpensWhenFlexed,
}

/// Added to the tip conductor by a bad joint at rest, in ohms.
const JOINT: f64 = 8.0;
/// The same while bent.
const JOINT_BENT: f64 = 9.5;
/// Between tip and sleeve where they touch, in ohms.
const TOUCH: f64 = 0.3;
/// Between tip and sleeve through damp, in ohms.
const DAMP: f64 = 3e6;

impl LeadFault {
    /// Every fault, in the order they are listed to the user.
    pub const ALL: [Self; 10] = [
        Self::Good,
        Self::TipOpensWhenFlexed,
        Self::SleeveOpensWhenFlexed,
        Self::TipOpen,
        Self::SleeveOpen,
        Self::TipSleeveTouchWhenFlexed,
        Self::TipSleeveShort,
        Self::HighResistanceJoint,
        Self::MoistureLeakage,
        Self::ProbeLeadOpensWhenFlexed,
    ];

    /// The word on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::TipOpensWhenFlexed => "tip-opens-when-flexed",
            Self::SleeveOpensWhenFlexed => "sleeve-opens-when-flexed",
            Self::TipOpen => "tip-open",
            Self::SleeveOpen => "sleeve-open",
            Self::TipSleeveTouchWhenFlexed => "tip-sleeve-touch-when-flexed",
            Self::TipSleeveShort => "tip-sleeve-short",
            Self::HighResistanceJoint => "high-resistance-joint",
            Self::MoistureLeakage => "moisture-leakage",
            Self::ProbeLeadOpensWhenFlexed => "probe-lead-opens-when-flexed",
        }
    }

    /// The fault of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.word() == word)
    }

    /// How often a bend makes the fault act: always, never, or by its habit's chance.
    pub(super) const fn answers_a_bend(self) -> Answer {
        match self {
            Self::TipOpensWhenFlexed
            | Self::SleeveOpensWhenFlexed
            | Self::TipSleeveTouchWhenFlexed
            | Self::ProbeLeadOpensWhenFlexed => Answer::ByChance,
            Self::HighResistanceJoint => Answer::Always,
            Self::Good
            | Self::TipOpen
            | Self::SleeveOpen
            | Self::TipSleeveShort
            | Self::MoistureLeakage => Answer::Never,
        }
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
    /// The tips of both plugs.
    Tips,
    /// The sleeves of both plugs.
    Sleeves,
    /// Tip and sleeve of the near plug.
    NearEnd,
}

/// What the hands do to the lead at this moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Handling {
    /// What the probes rest on.
    pub probes: Probes,
    /// Whether a shorting plug joins tip and sleeve of the far end.
    pub far_short: bool,
    /// Whether the fault acts.
    pub acting: bool,
}

/// A two-conductor lead with a plug at each end, and the probe leads it is measured with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// Length in metres.
    pub metres: f64,
    /// Resistance of the tip conductor, in ohms per metre.
    pub tip_per_metre: f64,
    /// Resistance of the sleeve conductor, in ohms per metre.
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

impl Default for Lead {
    /// Three metres: a tip of AWG 24, a sleeve of about half of its resistance.
    fn default() -> Self {
        Self {
            metres: 3.0,
            tip_per_metre: 0.084_21,
            sleeve_per_metre: 0.042,
            contact: Ohms(0.01),
            probe_leads: Ohms(0.25),
            fault: LeadFault::Good,
            habit: FlexHabit::default(),
        }
    }
}

impl Lead {
    /// The default lead with a fault.
    pub fn with_fault(fault: LeadFault) -> Self {
        Self {
            fault,
            ..Self::default()
        }
    }

    /// What a perfect ohmmeter reads in a given handling; infinite if nothing conducts.
    pub fn resistance(&self, handling: Handling) -> Ohms {
        let probe_leads = match self.fault {
            LeadFault::ProbeLeadOpensWhenFlexed if handling.acting => f64::INFINITY,
            _ => self.probe_leads.0,
        };
        let contacts = 2.0 * self.contact.0;
        let work = match handling.probes {
            Probes::Apart => f64::INFINITY,
            Probes::Together => 0.0,
            Probes::Tips => contacts + self.tip(handling.acting),
            Probes::Sleeves => contacts + self.sleeve(handling.acting),
            Probes::NearEnd => contacts + self.near_end(handling),
        };
        Ohms(probe_leads + work)
    }

    /// The tip conductor with its joints, in ohms.
    fn tip(&self, acting: bool) -> f64 {
        let joint = match self.fault {
            LeadFault::TipOpen => f64::INFINITY,
            LeadFault::TipOpensWhenFlexed if acting => f64::INFINITY,
            LeadFault::HighResistanceJoint if acting => JOINT_BENT,
            LeadFault::HighResistanceJoint => JOINT,
            _ => 0.0,
        };
        self.metres * self.tip_per_metre + joint
    }

    /// The sleeve conductor with its joints, in ohms.
    fn sleeve(&self, acting: bool) -> f64 {
        let joint = match self.fault {
            LeadFault::SleeveOpen => f64::INFINITY,
            LeadFault::SleeveOpensWhenFlexed if acting => f64::INFINITY,
            _ => 0.0,
        };
        self.metres * self.sleeve_per_metre + joint
    }

    /// Between tip and sleeve of the near plug: what joins them there, beside the way
    /// through a shorting plug at the far end.
    fn near_end(&self, handling: Handling) -> f64 {
        let here = match self.fault {
            LeadFault::TipSleeveShort => TOUCH,
            LeadFault::TipSleeveTouchWhenFlexed if handling.acting => TOUCH,
            LeadFault::MoistureLeakage => DAMP,
            _ => f64::INFINITY,
        };
        let round = if handling.far_short {
            let plug = 2.0 * self.contact.0;
            self.tip(handling.acting) + self.sleeve(handling.acting) + plug
        } else {
            f64::INFINITY
        };
        // Conductances add; that of an open way is zero.
        1.0 / (here.recip() + round.recip())
    }
}
