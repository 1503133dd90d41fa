//! Why a format file is refused: sentences with file, line and what to do.

use thiserror::Error;

/// A format file could not be taken.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ProtocolError {
    /// The text is not TOML, or not the tables and keys of a format file.
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
        refusal: Refusal,
    },
}

impl ProtocolError {
    /// The line the error points at, from 1.
    pub const fn line(&self) -> usize {
        match self {
            Self::Written { line, .. } | Self::Refused { line, .. } => *line,
        }
    }
}

/// What a format file says that cannot be.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "the sentence of each is its description")]
pub enum Refusal {
    #[error("this program reads schema 1, not {0}")]
    Schema(u32),
    #[error("the id {0:?} must be lower-case words joined by hyphens, such as my-meter")]
    Id(String),
    #[error("{key} must be {allowed}, not {found}")]
    Number {
        key: &'static str,
        allowed: &'static str,
        found: String,
    },
    #[error("byte {at} is outside the frame, whose bytes are numbered 1 to {length}")]
    Outside { at: usize, length: usize },
    #[error("{0:?} names no bit; write the byte from 1 and the bit from 0, such as \"12.2\"")]
    NotABit(String),
    #[error("bit {0} carries the byte's index; only bits 0 to 3 hold data here")]
    IndexBit(String),
    #[error("there is no flag or code {0:?}; name one of [layout.cells.flags], or CODE=VALUE")]
    UnknownName(String),
    #[error("the code {name:?} is {length} characters long, and {value:?} is not")]
    CodeLength {
        name: String,
        length: usize,
        value: String,
    },
    #[error("there is no quantity {found:?}; it is one of {allowed}")]
    UnknownQuantity { found: String, allowed: String },
    #[error("there is no mark {found:?}; it is one of {allowed}")]
    UnknownMark { found: String, allowed: String },
    #[error("{what} is claimed twice; each may mean one thing only")]
    ClaimedTwice { what: String },
    #[error("a table has at most {0} entries")]
    TableTooLong(usize),
    #[error("{0:?} must be one printable ASCII character")]
    NotACharacter(String),
    #[error("{0:?} must not be empty, hold a line end, or start or end with a space")]
    NotAWord(String),
    #[error("a format with layout {layout} cannot have frames of kind {frame}")]
    Mismatch {
        layout: &'static str,
        frame: &'static str,
    },
    #[error("{0}")]
    Incomplete(&'static str),
    #[error("no byte can stand at position {0}: its conditions exclude each other")]
    Impossible(usize),
    #[error("{0:?} is not bytes in hexadecimal, such as \"13 20 0D\"")]
    NotHex(String),
    #[error(
        "{0:?} is not a reading; write garbled, or QUANTITY VALUE MARKS, such as \"resistance 10.02e3 auto_range\""
    )]
    NotAReading(String),
    #[error("there is no column {number}; a line has {count}, numbered from 1")]
    NoColumn { number: usize, count: usize },
    #[error("there is no column {name:?}; the header names {known}")]
    UnknownColumn { name: String, known: String },
    #[error("{0:?} is not a path; write names joined by points, such as \"reading.ohms\"")]
    NotAPath(String),
    #[error("carries leaves out {0}, which this layout reads")]
    CarriesLess(&'static str),
    #[error("carries names {0}, which nothing in this layout reads")]
    CarriesMore(&'static str),
    #[error("the display cannot show {0:?}")]
    NotShowable(String),
}

/// A refusal and where in the text it is.
#[derive(Debug)]
pub(crate) struct Fault {
    pub(crate) offset: usize,
    pub(crate) refusal: Refusal,
}

impl Fault {
    pub(crate) fn at(span: &std::ops::Range<usize>, refusal: Refusal) -> Self {
        Self {
            offset: span.start,
            refusal,
        }
    }
}

/// The line of a byte of a text, from 1.
pub(crate) fn line_of(text: &str, offset: usize) -> usize {
    1 + text
        .bytes()
        .take(offset)
        .filter(|byte| *byte == b'\n')
        .count()
}
