//! What a step has seen so far, before it is judged.

use crate::check::notice::Proof;
use crate::check::step::Found;
use crate::check::step::judge::Judgement;
use crate::check::step::rest::Rest;
use crate::reading::{Ohms, Seconds};

/// What a step has seen so far.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    pub(super) proof: Proof,
    pub(super) rest: Option<Rest>,
    pub(super) value: Option<Judgement>,
    pub(super) gaps: Vec<Found>,
    pub(super) gos: u32,
    pub(super) second_go: bool,
    pub(super) held: u32,
    pub(super) needed: u32,
    pub(super) lowest: Option<Ohms>,
    /// Losses of contact that outlasted the bends.
    pub(super) lifts: Vec<Found>,
    /// Changes of level that outlasted the bends.
    pub(super) jumps: Vec<Found>,
    /// Times contact was lost while reading at rest.
    pub(super) bounces: u32,
    /// Times the reading at rest moved and was waited for anew.
    pub(super) stirs: u32,
    /// The lowest number read at rest between conductors that should be apart.
    pub(super) lowest_at_rest: Option<Ohms>,
    /// Times a step of conductors apart was interrupted.
    pub(super) interruptions: u32,
    /// How long the bends of the last go were held.
    pub(super) hold: Seconds,
    pub(super) flags: Flags,
}

/// What spoiled a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flags(u8);

impl Flags {
    /// The reading never came to rest.
    pub(super) const RESTLESS: u8 = 1;
    /// Too many bends could not be watched.
    pub(super) const UNWATCHED: u8 = 2;
    /// The probes were not lifted when asked.
    pub(super) const LEFT_ON: u8 = 4;

    pub(super) const fn set(&mut self, flag: u8) {
        self.0 |= flag;
    }

    pub(super) const fn clear(&mut self, flag: u8) {
        self.0 &= !flag;
    }

    pub(super) const fn has(self, flag: u8) -> bool {
        self.0 & flag != 0
    }
}

impl Default for Evidence {
    fn default() -> Self {
        Self {
            proof: Proof::Seen,
            rest: None,
            value: None,
            gaps: Vec::new(),
            gos: 0,
            second_go: false,
            held: 0,
            needed: 0,
            lowest: None,
            lifts: Vec::new(),
            jumps: Vec::new(),
            bounces: 0,
            stirs: 0,
            lowest_at_rest: None,
            interruptions: 0,
            hold: Seconds::default(),
            flags: Flags::default(),
        }
    }
}
