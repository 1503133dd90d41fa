//! Bytes in, readings out: a state machine that takes any bytes, in any portions, and keeps
//! no more than two frames of them.

use std::sync::Arc;

use thiserror::Error;

use crate::protocol::Protocol;
use crate::protocol::model::{Framing, Lines};
use crate::reading::Measured;

/// Where in the stream the first byte stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joining {
    /// At the start of a frame: the reply to a request, or a file.
    AtStart,
    /// Anywhere: what precedes the first frame's start is dropped unsaid, since a cut number
    /// is a wrong number.
    MidStream,
}

/// What the bytes gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Item {
    /// A reading.
    Reading(Measured),
    /// Bytes that are no frame of the format.
    Garbled {
        /// The bytes.
        bytes: Vec<u8>,
        /// What was wrong with the first of them.
        why: Garble,
    },
}

/// Why bytes are no frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "the sentence of each is its description")]
pub enum Garble {
    #[error("bytes outside any frame")]
    OutOfStep,
    #[error("a line longer than {0} bytes")]
    LineTooLong(usize),
    #[error("a frame of {found} bytes where {wanted} belong")]
    Length { found: usize, wanted: usize },
    #[error("byte {0} of the frame is one the format never sends there")]
    ForbiddenByte(usize),
    #[error("digit {0} of the display shows no known character")]
    UnknownDigit(usize),
    #[error("the value is no number")]
    NotANumber,
    #[error("two decimal points at once")]
    TwoPoints,
    #[error("no known place of the decimal point")]
    UnknownPoint,
    #[error("two statements that exclude each other")]
    Contradiction,
    #[error("no known function and range of the meter")]
    UnknownFunction,
    #[error("not a text")]
    NotText,
    #[error("a word the format does not know")]
    UnknownWord,
}

/// Turns the bytes of one stream into readings.
#[derive(Debug, Clone)]
pub struct Decoder {
    protocol: Arc<Protocol>,
    /// The frame so far.
    frame: Vec<u8>,
    /// Bytes given up on, not yet told, and why.
    junk: Vec<u8>,
    why: Garble,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Waiting for the first frame's start; junk is dropped unsaid.
    Joining,
    /// In step.
    Running,
    /// In a line that has already grown too long.
    Overlong,
}

impl Decoder {
    /// A decoder at the first byte of a stream.
    pub fn new(protocol: Arc<Protocol>, joining: Joining) -> Self {
        Self {
            protocol,
            frame: Vec::new(),
            junk: Vec::new(),
            why: Garble::OutOfStep,
            state: match joining {
                Joining::AtStart => State::Running,
                Joining::MidStream => State::Joining,
            },
        }
    }

    /// Takes the next bytes; any division of a stream into chunks gives the same items.
    pub fn push(&mut self, chunk: &[u8]) -> Vec<Item> {
        let mut items = Vec::new();
        let protocol = Arc::clone(&self.protocol);
        for byte in chunk {
            match &protocol.framing {
                Framing::Lines(lines) => self.line_byte(*byte, lines, &mut items),
                Framing::Fixed { length, .. } => self.fixed_byte(*byte, *length, &mut items),
            }
        }
        items
    }

    /// Bytes held that have given no item yet.
    pub fn pending(&self) -> usize {
        self.frame.len() + self.junk.len()
    }

    fn line_byte(&mut self, byte: u8, lines: &Lines, items: &mut Vec<Item>) {
        // Either line end ends a line, so that LF, CR LF and CR need not be told apart: the
        // second half of a pair ends an empty line, which says nothing.
        if matches!(byte, b'\n' | b'\r') {
            self.line_end(lines, items);
            return;
        }
        self.frame.push(byte);
        if self.frame.len() > lines.longest {
            let bytes = std::mem::take(&mut self.frame);
            let why = Garble::LineTooLong(lines.longest);
            items.push(Item::Garbled { bytes, why });
            self.state = State::Overlong;
        }
    }

    fn line_end(&mut self, lines: &Lines, items: &mut Vec<Item>) {
        let state = std::mem::replace(&mut self.state, State::Running);
        let result = match state {
            State::Joining => Ok(()),
            State::Overlong if self.frame.is_empty() => Ok(()),
            State::Overlong => Err(Garble::LineTooLong(lines.longest)),
            State::Running => match lines.payload(&self.frame) {
                Some(payload) => self.protocol.layout.read(payload, items),
                None => Ok(()),
            },
        };
        if let Err(why) = result {
            let bytes = self.frame.clone();
            items.push(Item::Garbled { bytes, why });
        }
        self.frame.clear();
    }

    fn fixed_byte(&mut self, byte: u8, length: usize, items: &mut Vec<Item>) {
        let position = self.frame.len();
        self.frame.push(byte);
        if !self.protocol.layout.allows(position, byte) {
            self.give_up(Garble::OutOfStep, length, items);
        }
        while self.frame.len() >= length {
            let before = items.len();
            match self.protocol.layout.read(&self.frame, items) {
                Ok(()) => {
                    if let Some(garbled) = self.told() {
                        items.insert(before, garbled);
                    }
                    self.state = State::Running;
                    self.frame.clear();
                }
                Err(why) => self.give_up(why, length, items),
            }
        }
    }

    /// Gives up the first byte and every further one with which no frame can begin.
    fn give_up(&mut self, why: Garble, length: usize, items: &mut Vec<Item>) {
        let layout = &self.protocol.layout;
        let begins = |from: &usize| {
            let mut rest = self.frame.iter().skip(*from).enumerate();
            rest.all(|(position, byte)| layout.allows(position, *byte))
        };
        let count = (1..self.frame.len())
            .find(begins)
            .unwrap_or(self.frame.len());
        for byte in self.frame.drain(..count) {
            if self.junk.is_empty() {
                self.why = why;
            }
            self.junk.push(byte);
            if self.junk.len() >= length {
                let bytes = std::mem::take(&mut self.junk);
                // A whole frame's worth of strange bytes is more than a cut frame.
                self.state = State::Running;
                items.push(Item::Garbled {
                    bytes,
                    why: self.why,
                });
            }
        }
    }

    /// The bytes given up, unless they are the cut frame a stream is joined in.
    fn told(&mut self) -> Option<Item> {
        let bytes = std::mem::take(&mut self.junk);
        let why = self.why;
        (!bytes.is_empty() && self.state != State::Joining)
            .then_some(Item::Garbled { bytes, why })
    }
}
