//! One format's part in the listening: what it could read, and what it could not.

use std::sync::Arc;

use super::form;
use super::settings::Heard;
use crate::protocol::decoder::{Decoder, Garble, Item, Joining};
use crate::protocol::model::Protocol;
use crate::reading::{Magnitude, Measured};

/// A format and its counts.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub(super) protocol: Arc<Protocol>,
    /// Whether such a meter is expected to speak as this one did: by itself, or when asked.
    pub(super) expected: bool,
    /// The one length of all its frames, if it is a format of fixed places.
    pub(super) rigid: Option<usize>,
    pub(super) tally: Tally,
    decoder: Decoder,
    heard: Heard,
    /// The bytes since the last item.
    raw: Vec<u8>,
}

/// What became of the bytes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Tally {
    /// Frames or lines that read well.
    pub(super) frames: u32,
    /// The readings in them.
    pub(super) readings: u32,
    /// Their bytes.
    pub(super) explained: u64,
    /// Bytes outside them.
    pub(super) garbled: u64,
    /// Frames of the right shape that mean nothing.
    pub(super) impossible: u32,
    /// Frames whose value the display cannot show.
    pub(super) implausible: u32,
    /// Frames of a text format that bare numbers would not give.
    pub(super) telling: u32,
    /// Whether a line named the columns as the format does.
    pub(super) headed: bool,
}

impl Candidate {
    pub(super) fn new(protocol: Arc<Protocol>, joining: Joining, expected: bool) -> Self {
        Self {
            rigid: form::one_length(&protocol),
            heard: Heard::by(&protocol),
            decoder: Decoder::new(Arc::clone(&protocol), joining),
            protocol,
            expected,
            tally: Tally::default(),
            raw: Vec::new(),
        }
    }

    pub(super) fn push(&mut self, byte: u8) {
        let byte = self.heard.character(byte);
        self.raw.push(byte);
        let items = self.decoder.push(&[byte]);
        if items.is_empty() {
            let ended = matches!(byte, b'\r' | b'\n');
            self.tally.headed |= ended && self.protocol.layout.is_header(last_line(&self.raw));
            // What goes by without an item (comments, a joined line) is not kept for long.
            let most = self.protocol.longest_frame().saturating_mul(2) + 2;
            let excess = self.raw.len().saturating_sub(most);
            self.raw.drain(..excess);
            return;
        }
        let mut measured = None;
        let mut garbled = 0;
        for item in &items {
            match item {
                Item::Reading(reading) => {
                    self.tally.readings = self.tally.readings.saturating_add(1);
                    measured = Some(*reading);
                }
                Item::Garbled { bytes, why } => {
                    garbled += bytes.len();
                    self.garbled(bytes.len(), *why);
                }
            }
        }
        if let Some(measured) = measured {
            let frame = self.raw.get(garbled..).unwrap_or_default().to_vec();
            self.frame(&frame, &measured);
        }
        let kept = self.raw.len().saturating_sub(self.decoder.pending());
        self.raw.drain(..kept);
    }

    fn garbled(&mut self, count: usize, why: Garble) {
        let tally = &mut self.tally;
        let count = u64::try_from(count).unwrap_or(u64::MAX);
        tally.garbled = tally.garbled.saturating_add(count);
        let shaped = matches!(
            why,
            Garble::UnknownDigit(_)
                | Garble::TwoPoints
                | Garble::UnknownPoint
                | Garble::Contradiction
                | Garble::UnknownFunction
        );
        if shaped {
            tally.impossible = tally.impossible.saturating_add(1);
        }
    }

    fn frame(&mut self, frame: &[u8], measured: &Measured) {
        let line = last_line(frame);
        let length = self
            .rigid
            .map_or(line.len() + 1, |rigid| rigid.min(frame.len()));
        let tally = &mut self.tally;
        tally.frames = tally.frames.saturating_add(1);
        let length = u64::try_from(length).unwrap_or(u64::MAX);
        tally.explained = tally.explained.saturating_add(length);
        if beyond_display(&self.protocol, measured) {
            tally.implausible = tally.implausible.saturating_add(1);
        }
        if self.rigid.is_none() && form::is_telling(&self.protocol, line, measured) {
            tally.telling = tally.telling.saturating_add(1);
        }
    }
}

/// The last line of a text that ends in one. Before it may stand others that say nothing:
/// comments, a joined line.
fn last_line(text: &[u8]) -> &[u8] {
    let is_end = |byte: &u8| matches!(byte, b'\r' | b'\n');
    let end = text.iter().rposition(|byte| !is_end(byte));
    let text = end.and_then(|end| text.get(..=end)).unwrap_or_default();
    text.rsplit(is_end).next().unwrap_or_default()
}

/// Whether a display of the format's counts could not show this. Many a display goes a little
/// beyond its nominal counts.
fn beyond_display(protocol: &Protocol, measured: &Measured) -> bool {
    let (Some(counts), Magnitude::Number(decimal)) = (protocol.counts(), measured.magnitude)
    else {
        return false;
    };
    let most = u64::from(counts).saturating_mul(11) / 10;
    protocol.resolution_tells_range() && decimal.digits.unsigned_abs() > most
}
