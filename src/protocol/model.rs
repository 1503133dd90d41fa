//! A format after it has been judged: nothing in it can fail any more.

use std::ops::Range;

use crate::protocol::bit7::ParityBit;
use crate::protocol::block::Block;
use crate::protocol::cells::Cells;
use crate::protocol::columns::Columns;
use crate::protocol::decoder::{Garble, Item};
use crate::protocol::document::Checked;
use crate::protocol::json::Json;
use crate::protocol::number_block::NumberBlock;
use crate::protocol::number_line::NumberLine;
use crate::protocol::number_list::NumberList;
use crate::protocol::serial::SerialSettings;
use crate::protocol::shape::{Shape, shortest};
use crate::reading::{Annunciators, Magnitude, Measured, Quantity, Seconds};

/// A wire format.
#[derive(Debug, Clone)]
pub struct Protocol {
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) source: Option<String>,
    pub(crate) checked: Checked,
    /// What the file says it can carry, if it says so; judged to be true.
    pub(crate) carries: Option<Vec<Quantity>>,
    pub(crate) serial: SerialSettings,
    pub(crate) parity: ParityBit,
    pub(crate) bauds: Vec<u32>,
    pub(crate) ask: Ask,
    pub(crate) pace: Pace,
    pub(crate) counts: Option<u32>,
    pub(crate) framing: Framing,
    pub(crate) layout: Layout,
    pub(crate) examples: Vec<Example>,
}

/// How a meter is brought to talk.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// It talks by itself.
    Listen,
    /// It answers requests, one at a time.
    Request(Request),
}

/// How a meter is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// Commands sent once, in order, when the link is opened.
    pub at_open: Vec<Vec<u8>>,
    /// The command that asks for the next reading.
    pub ask: Vec<u8>,
    /// Commands sent once, in order, before the link is closed.
    pub at_close: Vec<Vec<u8>>,
    /// How long a reply may take before it is given up.
    pub reply_within: Seconds,
}

/// What the document says about time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pace {
    pub(crate) rate: Option<f64>,
    pub(crate) aperture: Option<Seconds>,
    pub(crate) settling_readings: u32,
    pub(crate) repeats_within: Option<Seconds>,
}

/// Bytes and the readings they mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Example {
    /// What it shows.
    pub name: String,
    /// The bytes as they come from the meter.
    pub bytes: Vec<u8>,
    /// What they mean, in order; `None` is a garbled item.
    pub reads: Vec<Option<Measured>>,
}

/// How frames follow each other.
#[derive(Debug, Clone)]
pub(crate) enum Framing {
    Lines(Lines),
    Block(Block),
    /// Frames of one length, found by the bytes the layout allows at each position.
    Fixed {
        length: usize,
        kind: FrameKind,
    },
}

impl Framing {
    pub(crate) const fn kind(&self) -> FrameKind {
        match self {
            Self::Lines(_) => FrameKind::Lines,
            Self::Block(_) => FrameKind::Block,
            Self::Fixed { kind, .. } => *kind,
        }
    }
}

/// How the frames of a format are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FrameKind {
    /// By line ends.
    Lines,
    /// By one length and the bytes that must stand in it.
    Fixed,
    /// By one length and the number that each byte carries.
    IndexedNibbles,
    /// By a header that counts the bytes.
    Block,
}

impl FrameKind {
    /// The word used in format files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Lines => "lines",
            Self::Fixed => "fixed",
            Self::IndexedNibbles => "indexed-nibbles",
            Self::Block => "block",
        }
    }
}

#[derive(Debug, Clone)]
pub(crate) struct Lines {
    pub(crate) longest: usize,
    pub(crate) ending: Vec<u8>,
    pub(crate) comments: Vec<Vec<u8>>,
    pub(crate) prompts: Vec<Vec<u8>>,
}

impl Lines {
    /// What a line says, without the prompt before it; `None` if it is empty or a comment.
    pub(crate) fn payload<'l>(&self, line: &'l [u8]) -> Option<&'l [u8]> {
        let trimmed = line.trim_ascii();
        let prompt = self
            .prompts
            .iter()
            .find_map(|prompt| trimmed.strip_prefix(prompt.as_slice()));
        let payload = prompt.map_or(line, <[u8]>::trim_ascii_start);
        let comment = |prefix: &Vec<u8>| payload.trim_ascii_start().starts_with(prefix);
        (!payload.trim_ascii().is_empty() && !self.comments.iter().any(comment))
            .then_some(payload)
    }
}

/// What a frame holds.
#[derive(Debug, Clone)]
pub(crate) enum Layout {
    NumberList(NumberList),
    NumberBlock(NumberBlock),
    NumberLine(NumberLine),
    Columns(Columns),
    Json(Json),
    Cells(Box<Cells>),
}

impl Layout {
    /// Reads one frame; adds nothing if it is bad.
    pub(crate) fn read(&self, frame: &[u8], items: &mut Vec<Item>) -> Result<(), Garble> {
        match self {
            Self::NumberList(list) => list.read(frame, items),
            Self::NumberBlock(block) => block.read(frame, items),
            Self::NumberLine(line) => line.read(frame, items),
            Self::Columns(columns) => columns.read(frame, items),
            Self::Json(json) => json.read(frame, items),
            Self::Cells(cells) => cells
                .read(frame)
                .map(|measured| items.push(Item::Reading(measured))),
        }
    }

    /// The frames that may show a value.
    pub(crate) fn write(&self, measured: &Measured) -> Vec<Vec<u8>> {
        match self {
            Self::NumberList(list) => list.write(measured),
            Self::NumberBlock(block) => block.write(measured),
            Self::NumberLine(line) => line.write(measured),
            Self::Columns(columns) => columns.write(measured),
            Self::Json(json) => json.write(measured),
            Self::Cells(cells) => cells.write(measured),
        }
    }

    /// Whether a line says nothing but what the columns of this format are.
    pub(crate) fn is_header(&self, line: &[u8]) -> bool {
        matches!(self, Self::Columns(columns) if columns.is_header(line))
    }

    /// Whether it is in words that the owner of a board has chosen.
    pub(crate) const fn is_ones_own(&self) -> bool {
        matches!(self, Self::NumberLine(_) | Self::Columns(_) | Self::Json(_))
    }

    /// Whether a byte may stand at a position of a frame.
    pub(crate) fn allows(&self, position: usize, byte: u8) -> bool {
        match self {
            Self::Cells(cells) => cells.allows(position, byte),
            _ => true,
        }
    }

    pub(crate) fn shapes(&self) -> Vec<Shape> {
        match self {
            Self::NumberList(list) => list.shapes(),
            Self::NumberBlock(block) => block.shapes(),
            Self::NumberLine(line) => line.shapes(Annunciators::NONE, false),
            Self::Columns(columns) => columns.shapes(),
            Self::Json(json) => json.shapes(),
            Self::Cells(cells) => cells.shapes(),
        }
    }

    /// Whether the last digit of a number means something, so that a number carries its
    /// resolution.
    pub(crate) const fn digits_mean(&self) -> bool {
        !matches!(
            self,
            Self::NumberList(_) | Self::NumberBlock(_) | Self::Json(_)
        )
    }

    /// The word used in format files.
    pub(crate) const fn word(&self) -> &'static str {
        match self {
            Self::NumberList(_) => "number-list",
            Self::NumberBlock(_) => "number-block",
            Self::NumberLine(_) => "number-line",
            Self::Columns(_) => "columns",
            Self::Json(_) => "json",
            Self::Cells(_) => "cells",
        }
    }

    /// A value as it reads back: in binary a number has no digits of its own.
    pub(crate) fn plain(&self, measured: &Measured) -> Measured {
        match (self, measured.magnitude) {
            (Self::NumberBlock(_), Magnitude::Number(decimal)) => Measured {
                magnitude: Magnitude::Number(shortest(decimal)),
                ..*measured
            },
            _ => *measured,
        }
    }
}

impl Protocol {
    /// The same format under another name.
    #[must_use]
    pub fn named(&self, id: &str) -> Self {
        Self {
            id: id.to_owned(),
            ..self.clone()
        }
    }

    /// The short name it is called by.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What it is, in words.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The document it was written from.
    pub fn source(&self) -> Option<&str> {
        self.source.as_deref()
    }

    /// How far it has been confirmed.
    pub const fn checked(&self) -> Checked {
        self.checked
    }

    /// How a serial line is set, at the first of the speeds.
    pub const fn serial(&self) -> SerialSettings {
        self.serial
    }

    /// The speeds such meters use, in bits per second, the usual one first.
    pub fn bauds(&self) -> &[u32] {
        &self.bauds
    }

    /// How the meter is brought to talk.
    pub const fn ask(&self) -> &Ask {
        &self.ask
    }

    /// The documented readings per second.
    pub const fn rate(&self) -> Option<f64> {
        self.pace.rate
    }

    /// The documented time over which one reading averages.
    pub const fn aperture(&self) -> Option<Seconds> {
        self.pace.aperture
    }

    /// How many readings after a change of range are not to be trusted.
    pub const fn settling_readings(&self) -> u32 {
        self.pace.settling_readings
    }

    /// Within which time a reading equal to the one before is the same one, sent again.
    pub const fn repeats_within(&self) -> Option<Seconds> {
        self.pace.repeats_within
    }

    /// The quantities that the format can carry, as its file says; empty if it does not.
    pub fn carries(&self) -> &[Quantity] {
        self.carries.as_deref().unwrap_or_default()
    }

    /// The counts of the display: full scale is this many of the last digit.
    pub const fn counts(&self) -> Option<u32> {
        self.counts
    }

    /// Whether the resolution of a reading tells the range it was taken on.
    pub const fn resolution_tells_range(&self) -> bool {
        self.counts.is_some() && matches!(self.layout, Layout::Cells(_))
    }

    /// Bytes with their meaning, from the file.
    pub fn examples(&self) -> &[Example] {
        &self.examples
    }

    /// Every family of values the format can show.
    pub fn shapes(&self) -> Vec<Shape> {
        self.layout.shapes()
    }

    /// How frames are told apart.
    pub const fn frame_kind(&self) -> FrameKind {
        self.framing.kind()
    }

    /// The most bytes a frame or line can have.
    pub const fn longest_frame(&self) -> usize {
        match &self.framing {
            Framing::Lines(lines) => lines.longest,
            Framing::Block(block) => block.longest_frame(),
            Framing::Fixed { length, .. } => *length,
        }
    }
}

/// A place in the text of a file.
pub(crate) type Span = Range<usize>;
