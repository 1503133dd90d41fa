//! Why a job file is refused: sentences with file, line and what to do.

use thiserror::Error;

/// A job file could not be taken.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum JobError {
    /// The text is not TOML, or not the tables and keys of a job file.
    #[error("{origin}, line {line}: {message}")]
    Written {
        /// The file.
        origin: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong, and what is allowed there.
        message: String,
    },
    /// The file reads well but contradicts itself.
    #[error("{origin}, line {line}: {refusal}")]
    Refused {
        /// The file.
        origin: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong.
        refusal: JobRefusal,
    },
}

impl JobError {
    /// The line the error points at, from 1.
    pub const fn line(&self) -> usize {
        match self {
            Self::Written { line, .. } | Self::Refused { line, .. } => *line,
        }
    }
}

/// What a job file says that cannot be.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "the sentence of each is its description")]
pub enum JobRefusal {
    #[error("this program reads schema 1, not {0}")]
    Schema(u32),
    #[error(
        "the name {0:?} must be lower-case letters, digits and _ or -, such as bridge or tone-2"
    )]
    Name(String),
    #[error("the name {0:?} is taken; every part needs one of its own")]
    Taken(String),
    #[error("{key} must be {allowed}, not {found}")]
    Number {
        key: &'static str,
        allowed: &'static str,
        found: String,
    },
    #[error("there is no layout {found:?}; the layouts are {known}")]
    NoLayout { found: String, known: String },
    #[error(
        "the layout {layout} says how it is wired: leave out {table}, or leave out layout and \
         describe everything"
    )]
    WiredByLayout { layout: String, table: &'static str },
    #[error("the layout has no {kind} {found:?}; it has {known}")]
    NotInLayout {
        kind: &'static str,
        found: String,
        known: String,
    },
    #[error("there is no terminal {found:?}; {hint}")]
    NoTerminal { found: String, hint: String },
    #[error("{0:?} would be joined to itself")]
    ToItself(String),
    #[error("{0} and {1} are joined already")]
    JoinedTwice(String, String),
    #[error("there is no control {0:?} for this one to sit on the shaft of")]
    NoShaft(String),
    #[error("{0}")]
    Incomplete(&'static str),
}
