//! The job file: an instrument's parts and wiring, judged once, and its circuit.

mod error;
mod judge;
mod merge;
mod plan;
mod wire;
mod words;

pub use error::{JobError, JobRefusal};
pub use plan::{
    Capacitor, ControlText, Jack, JackKind, Law, Metal, Pickup, Plan, Position, Resistor,
    SwitchText, Wiring, Workshop, plain,
};

use std::ops::Range;

use crate::circuit::model::Circuit;
use crate::protocol::line_of;

/// The schema this program reads.
pub const SCHEMA: u32 = 1;

/// A refusal and where in the text it is.
#[derive(Debug)]
struct Fault {
    offset: usize,
    refusal: JobRefusal,
}

impl Fault {
    fn at(span: &Range<usize>, refusal: JobRefusal) -> Self {
        Self {
            offset: span.start,
            refusal,
        }
    }
}

/// A job that holds together.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    plan: Plan,
    whole: Plan,
    circuit: Circuit,
}

impl Job {
    /// Reads and judges the text of a job file; `origin` names it in errors.
    pub fn from_text(text: &str, origin: &str) -> Result<Self, JobError> {
        let plan: Plan = toml::from_str(text).map_err(|error| JobError::Written {
            origin: origin.to_owned(),
            line: line_of(text, error.span().map_or(0, |span| span.start)),
            message: error.message().to_owned(),
        })?;
        Self::judged(plan).map_err(|fault| JobError::Refused {
            origin: origin.to_owned(),
            line: line_of(text, fault.offset),
            refusal: fault.refusal,
        })
    }

    fn judged(plan: Plan) -> Result<Self, Fault> {
        let schema = *plan.schema.get_ref();
        if schema != SCHEMA {
            return Err(Fault::at(&plan.schema.span(), JobRefusal::Schema(schema)));
        }
        let whole = merge::whole(&plan)?;
        judge::parts(&whole)?;
        let circuit = wire::circuit(&whole, merge::typical(&plan, &whole))?;
        Ok(Self {
            plan,
            whole,
            circuit,
        })
    }

    /// The file as it was written.
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The file with its layout's parts and wiring filled in.
    pub const fn whole(&self) -> &Plan {
        &self.whole
    }

    /// Its circuit.
    pub const fn circuit(&self) -> &Circuit {
        &self.circuit
    }
}

impl Plan {
    /// A plan of a layout with nothing given yet: the layout's own values.
    pub fn named(layout: &str) -> Self {
        merge::named(layout)
    }

    /// The text of a job file that reads back as this plan.
    pub fn to_text(&self) -> Result<String, toml::ser::Error> {
        toml::to_string_pretty(self)
    }
}
