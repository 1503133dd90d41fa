//! The simulated bench: a lead, a meter and an operator, for the demo, the simulator and the
//! tests.
//!
//! It owns no clock and does no I/O: time is an input, what happened is the output.
//! The same seed and the same words heard at the same times give the same happenings, however
//! the time is sliced.

mod agenda;
mod board;
mod chance;
mod course;
mod crated;
mod instrument;
mod lead;
mod meter;
mod operator;
mod pot;
mod range;
mod timed;
mod under;
mod work;

pub use board::BoardPlan;
pub use course::Course;
pub use crated::{Crate, CrateOrder};
pub use instrument::Instrument;
pub use lead::{FlexHabit, Handling, Lead, LeadFault, Opening, Probes, Shorted};
pub use meter::{Meter, MeterSettings};
pub use operator::Hands;
pub use pot::{Pot, PotFault, Seat, TurnPlan, Turning};
pub use range::{Display, Hunting, Ranging};
pub use timed::TimedPlan;

pub use crate::check::lead::Method;
use crate::check::notice::Notice;
use crate::reading::{Annunciators, Measured, Quantity, Stamp};

use agenda::{Act, Agenda};
use under::{Ear, Under};

/// What an operator goes by.
#[derive(Debug, Clone, PartialEq)]
pub enum OperatorStyle {
    /// What the program says.
    Follows(Method),
    /// A plan by the clock; what the program says is not heard.
    Timed(TimedPlan),
    /// No operator: a board opens and closes the loop of the probe leads by the clock.
    Board(BoardPlan),
    /// A control is turned by the clock; what the program says is not heard.
    Turns(TurnPlan),
}

impl Default for OperatorStyle {
    fn default() -> Self {
        Self::Follows(Method::EndToEnd)
    }
}

/// All that makes a bench.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchSettings {
    /// What is under test.
    pub piece: Piece,
    /// The meter.
    pub meter: MeterSettings,
    /// What the operator goes by.
    pub operator: OperatorStyle,
    /// How the operator's hands work.
    pub hands: Hands,
    /// Everything left to chance follows from this.
    pub seed: u64,
}

/// What is under test.
#[derive(Debug, Clone, PartialEq)]
pub enum Piece {
    /// A lead.
    Lead(Lead),
    /// A control.
    Pot(Pot),
    /// An instrument at its jack.
    Instrument(Box<Instrument>),
}

impl From<Pot> for Piece {
    fn from(pot: Pot) -> Self {
        Self::Pot(pot)
    }
}

impl From<Lead> for Piece {
    fn from(lead: Lead) -> Self {
        Self::Lead(lead)
    }
}

/// Something that reaches the program from the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Happening {
    /// The meter finished a conversion.
    Reading {
        /// When.
        at: Stamp,
        /// What it shows.
        measured: Measured,
    },
    /// The operator pressed Enter.
    Confirm {
        /// When.
        at: Stamp,
    },
}

impl Happening {
    /// When it happened.
    pub const fn at(&self) -> Stamp {
        match self {
            Self::Reading { at, .. } | Self::Confirm { at } => *at,
        }
    }
}

/// A simulated bench.
#[derive(Debug, Clone)]
pub struct Bench {
    settings: BenchSettings,
    meter: Meter,
    work: Under,
    agenda: Agenda,
    follower: Option<Ear>,
    next_conversion: Stamp,
    /// Happened, but not handed out yet.
    waiting: Vec<Happening>,
    /// All up to here has happened.
    now: Stamp,
}

impl Bench {
    /// A bench with the probes in the air. A timed operator begins at the start.
    pub fn new(settings: &BenchSettings) -> Self {
        let hands = settings.hands;
        let mut meter = Meter::new(settings.meter, settings.seed);
        let follower = match settings.operator {
            OperatorStyle::Follows(method) => {
                Some(Ear::new(&settings.piece, method, hands, settings.seed))
            }
            OperatorStyle::Timed(_) | OperatorStyle::Board(_) | OperatorStyle::Turns(_) => None,
        };
        let next_conversion = meter.after(Stamp::START);
        let mut bench = Self {
            settings: settings.clone(),
            meter,
            work: Under::new(settings),
            agenda: Agenda::default(),
            follower,
            next_conversion,
            waiting: Vec::new(),
            now: Stamp::START,
        };
        bench.begin_plan(Stamp::START);
        bench
    }

    /// When the next reading or key press is due.
    pub fn next_at(&self) -> Stamp {
        let due = self
            .agenda
            .next_confirm()
            .map_or(self.next_conversion, |at| at.min(self.next_conversion));
        self.waiting.first().map_or(due, Happening::at)
    }

    /// Everything due up to and including `now`, in time order.
    pub fn advance(&mut self, now: Stamp) -> Vec<Happening> {
        self.run(now);
        std::mem::take(&mut self.waiting)
    }

    /// What the program just said. A word about the past is heard now.
    pub fn hear(&mut self, at: Stamp, notice: &Notice) {
        self.run(at);
        if let Some(follower) = &mut self.follower {
            let acts = follower.hear(self.now, notice);
            self.agenda.note_all(acts);
        }
    }

    /// The operator lays the lead aside and takes up another of its kind.
    pub fn take_up(&mut self, at: Stamp, lead: Lead) {
        self.run(at);
        if let (Under::Lead(work), Some(Ear::Lead(follower))) =
            (&mut self.work, &mut self.follower)
        {
            work.make_ready(lead);
            let acts = follower.take_up(self.now);
            self.agenda.note_all(acts);
        }
    }

    /// A timed operator drops everything and begins the plan anew, as when the port has just
    /// been opened; one who follows takes no notice.
    pub fn begin_again(&mut self, at: Stamp) {
        self.run(at);
        if self.follower.is_none() {
            self.agenda = Agenda::default();
            for act in [
                Act::Straighten,
                Act::Fault(false),
                Act::Probes(Probes::Apart),
            ] {
                self.agenda.note(self.now, act);
            }
            self.begin_plan(self.now);
        }
    }

    /// Switches HOLD, REL and the rest on the meter.
    pub const fn mark(&mut self, marks: Annunciators) {
        self.meter.mark(marks);
    }

    /// Turns the meter's dial.
    pub const fn turn(&mut self, quantity: Quantity) {
        self.meter.turn(quantity);
    }

    /// What the bench was made from.
    pub const fn settings(&self) -> &BenchSettings {
        &self.settings
    }

    fn begin_plan(&mut self, at: Stamp) {
        match &self.settings.operator {
            OperatorStyle::Follows(_) => {}
            OperatorStyle::Timed(plan) => self.agenda.note_all(plan.acts(at)),
            OperatorStyle::Board(plan) => self.agenda.note_all(plan.acts(at)),
            OperatorStyle::Turns(plan) => self.agenda.note_all(plan.acts(at)),
        }
    }

    /// Lets everything happen up to and including `now`; of one moment, hands first.
    fn run(&mut self, now: Stamp) {
        loop {
            let acts_until = now.min(self.next_conversion);
            if let Some((at, act)) = self.agenda.take(acts_until) {
                self.perform(at, act);
            } else if self.next_conversion <= now {
                self.convert();
            } else {
                break;
            }
        }
        self.now = self.now.max(now);
    }

    fn perform(&mut self, at: Stamp, act: Act) {
        self.now = self.now.max(at);
        self.work.perform(at, act, &mut self.agenda);
        match act {
            Act::Confirm => self.waiting.push(Happening::Confirm { at }),
            Act::Again => self.begin_plan(at),
            _ => {}
        }
    }

    fn convert(&mut self) {
        let at = self.next_conversion;
        let measured = self.meter.convert(self.work.course(), at);
        self.waiting.push(Happening::Reading { at, measured });
        // No later aperture reaches further back than this one.
        self.work.forget(self.meter.aperture_before(at));
        self.next_conversion = self.meter.after(at);
    }
}
