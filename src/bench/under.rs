//! Whatever is under test, and whoever holds the probes: one door for each kind of piece.

use std::sync::Arc;

use super::agenda::{Act, Agenda};
use super::course::Course;
use super::instrument::{Handled, Technician};
use super::operator::{Acts, Follower};
use super::pot::{PotWork, Turner};
use super::work::Work;
use super::{BenchSettings, Hands, Method, Piece};
use crate::check::notice::Notice;
use crate::reading::Stamp;

/// The piece with hands and probes on it.
#[derive(Debug, Clone)]
pub(super) enum Under {
    Lead(Box<Work>),
    Instrument(Box<Handled>),
    Pot(Box<PotWork>),
}

impl Under {
    pub(super) fn new(settings: &BenchSettings) -> Self {
        let movement = settings.hands.paced(settings.hands.movement);
        let interval = settings.meter.interval();
        match &settings.piece {
            Piece::Lead(lead) => {
                let work = Work::new(lead.clone(), movement, interval, settings.seed);
                Self::Lead(Box::new(work))
            }
            Piece::Instrument(instrument) => {
                Self::Instrument(Box::new(Handled::new(instrument, settings.seed)))
            }
            Piece::Pot(pot) => Self::Pot(Box::new(PotWork::new(*pot, interval, settings.seed))),
        }
    }

    pub(super) fn course(&self) -> &Course {
        match self {
            Self::Lead(work) => work.course(),
            Self::Instrument(handled) => handled.course(),
            Self::Pot(work) => work.course(),
        }
    }

    pub(super) fn forget(&mut self, before: Stamp) {
        match self {
            Self::Lead(work) => work.forget(before),
            Self::Instrument(handled) => handled.forget(before),
            Self::Pot(work) => work.forget(before),
        }
    }

    pub(super) fn perform(&mut self, at: Stamp, act: Act, agenda: &mut Agenda) {
        match self {
            Self::Lead(work) => work.perform(at, act, agenda),
            Self::Instrument(handled) => handled.perform(at, act, agenda),
            Self::Pot(work) => work.perform(at, act, agenda),
        }
    }
}

/// Who follows the program with this piece.
#[derive(Debug, Clone)]
pub(super) enum Ear {
    Lead(Box<Follower>),
    Instrument(Box<Technician>),
    Pot(Box<Turner>),
}

impl Ear {
    pub(super) fn new(piece: &Piece, method: Method, hands: Hands, seed: u64) -> Self {
        match piece {
            Piece::Lead(lead) => {
                let kind = Arc::clone(&lead.kind);
                Self::Lead(Box::new(Follower::new(kind, method, hands, seed)))
            }
            Piece::Instrument(instrument) => {
                Self::Instrument(Box::new(Technician::new(instrument, hands, seed)))
            }
            Piece::Pot(_) => Self::Pot(Box::new(Turner::new(hands, seed))),
        }
    }

    pub(super) fn hear(&mut self, at: Stamp, notice: &Notice) -> Acts {
        match self {
            Self::Lead(follower) => follower.hear(at, notice),
            Self::Instrument(technician) => technician.hear(at, notice),
            Self::Pot(turner) => turner.hear(at, notice),
        }
    }
}
