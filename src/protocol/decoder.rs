//! Bytes in, readings out: a state machine that takes any bytes, in any portions, and keeps
//! no more than two frames of them.

use std::sync::Arc;

use thiserror::Error;

use crate::protocol::Protocol;
use crate::protocol::block::{Block, Fit};
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
    #[error("characters of the wrong parity")]
    WrongParity,
    #[error("a block of indefinite length, whose end no stream of bytes can tell")]
    IndefiniteBlock,
    #[error("a block of more than {0} bytes")]
    BlockTooLong(usize),
    #[error("no line end after a block")]
    NoLineEnd,
    #[error("{found} columns where {wanted} belong")]
    Columns { found: usize, wanted: usize },
    #[error("not one JSON object")]
    NotAnObject,
    #[error("an object without the value")]
    NoValue,
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
                Framing::Block(block) => self.block_byte(*byte, block, &mut items),
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
        if matches!(self.protocol.parity.character(byte), Some(b'\n' | b'\r')) {
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
            State::Running => match self.protocol.parity.characters(&self.frame) {
                None => Err(Garble::WrongParity),
                Some(line) => match lines.payload(&line) {
                    Some(payload) => self.protocol.layout.read(payload, items),
                    None => Ok(()),
                },
            },
        };
        if let Err(why) = result {
            let bytes = self.frame.clone();
            items.push(Item::Garbled { bytes, why });
        }
        self.frame.clear();
    }

    fn fixed_byte(&mut self, byte: u8, length: usize, items: &mut Vec<Item>) {
        let protocol = Arc::clone(&self.protocol);
        let allows = |position, byte| {
            let character = protocol.parity.character(byte);
            character.is_some_and(|byte| protocol.layout.allows(position, byte))
        };
        let begins = |bytes: &[u8]| {
            let mut bytes = bytes.iter().enumerate();
            bytes.all(|(position, byte)| allows(position, *byte))
        };
        let position = self.frame.len();
        self.frame.push(byte);
        if !allows(position, byte) {
            self.give_up(Garble::OutOfStep, begins, length, items);
        }
        while self.frame.len() >= length {
            let before = items.len();
            let read = match protocol.parity.characters(&self.frame) {
                None => Err(Garble::WrongParity),
                Some(frame) => protocol.layout.read(&frame, items),
            };
            match read {
                Ok(()) => {
                    self.in_step(before, items);
                    self.frame.clear();
                }
                Err(why) => self.give_up(why, begins, length, items),
            }
        }
    }

    fn block_byte(&mut self, byte: u8, block: &Block, items: &mut Vec<Item>) {
        let protocol = Arc::clone(&self.protocol);
        let begins = |bytes: &[u8]| !matches!(block.fit(bytes), Fit::Not(_));
        let longest = block.longest_frame();
        self.frame.push(byte);
        while !self.frame.is_empty() {
            let why = match block.fit(&self.frame) {
                Fit::Part => return,
                Fit::Between => {
                    self.frame.drain(..1);
                    // A reply that is no block, such as an error, is a line.
                    items.extend(self.told());
                    continue;
                }
                Fit::Whole(counted) => {
                    let before = items.len();
                    let end = counted.end;
                    let data = self.frame.get(counted).unwrap_or_default();
                    match protocol.layout.read(data, items) {
                        Ok(()) => {
                            self.in_step(before, items);
                            // The line end stays, and is passed over as one between blocks.
                            self.frame.drain(..end);
                            continue;
                        }
                        Err(why) => why,
                    }
                }
                Fit::Not(why) => why,
            };
            self.give_up(why, begins, longest, items);
        }
    }

    /// After a good frame, whose items begin at `before`: tells what was given up before it.
    fn in_step(&mut self, before: usize, items: &mut Vec<Item>) {
        if let Some(garbled) = self.told() {
            items.insert(before, garbled);
        }
        self.state = State::Running;
    }

    /// Gives up the first byte and every further one with which no frame begins.
    fn give_up(
        &mut self,
        why: Garble,
        begins: impl Fn(&[u8]) -> bool,
        length: usize,
        items: &mut Vec<Item>,
    ) {
        let rest = |from: &usize| begins(self.frame.get(*from..).unwrap_or_default());
        let count = (1..self.frame.len()).find(rest).unwrap_or(self.frame.len());
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
