//! The link judged: how the port is set, and how the meter is asked.

use toml::Spanned;

use super::within;
use crate::protocol::bit7::ParityBit;
use crate::protocol::document::{AskText, LineWord, ParityWord, Serial};
use crate::protocol::error::{Fault, Refusal};
use crate::protocol::model::{Ask, Request};
use crate::protocol::serial::{Parity, SerialSettings, StopBits};
use crate::reading::Seconds;

/// The settings of a serial line, the speeds, and what the decoder sees of the parity.
pub(super) fn serial(text: &Serial) -> Result<(SerialSettings, Vec<u32>, ParityBit), Fault> {
    let usual = SerialSettings::default();
    let mut bauds = Vec::new();
    for baud in &text.bauds {
        bauds.push(within(baud, "a baud rate", "50 to 4000000", 50, 4_000_000)?);
    }
    if bauds.is_empty() {
        bauds.push(usual.baud);
    }
    let level = |word: Option<LineWord>| word.map(|word| matches!(word, LineWord::Raised));
    let data_bits = match &text.data_bits {
        Some(bits) => within(bits, "data_bits", "5 to 8", 5, 8)?,
        None => usual.data_bits,
    };
    let (parity, bit) = parity(text, data_bits)?;
    let settings = SerialSettings {
        baud: bauds.first().copied().unwrap_or(usual.baud),
        data_bits,
        parity,
        stop_bits: match &text.stop_bits {
            Some(bits) if within(bits, "stop_bits", "1 or 2", 1, 2)? == 2 => StopBits::Two,
            _ => StopBits::One,
        },
        dtr: level(text.dtr),
        rts: level(text.rts),
        settle_ms: text.settle_ms,
    };
    Ok((settings, bauds, bit))
}

/// The parity the port is set to, and what the decoder sees of it.
fn parity(text: &Serial, data_bits: u8) -> Result<(Parity, ParityBit), Fault> {
    let Some(word) = &text.parity else {
        return Ok((Parity::None, ParityBit::Unseen));
    };
    let by_port = |parity, odd| {
        let seven = data_bits == 7;
        let either = ParityBit::Either { odd };
        Ok((parity, if seven { either } else { ParityBit::Unseen }))
    };
    let in_bit_7 = |odd| {
        if data_bits == 8 {
            return Ok((Parity::None, ParityBit::Carried { odd }));
        }
        let why = "parity in bit 7 takes a port of 8 data bits: leave data_bits out";
        Err(Fault::at(&word.span(), Refusal::Incomplete(why)))
    };
    match word.get_ref() {
        ParityWord::None => Ok((Parity::None, ParityBit::Unseen)),
        ParityWord::Odd => by_port(Parity::Odd, true),
        ParityWord::Even => by_port(Parity::Even, false),
        ParityWord::OddInBit7 => in_bit_7(true),
        ParityWord::EvenInBit7 => in_bit_7(false),
    }
}

/// How the meter is brought to talk.
pub(super) fn ask(text: Option<&Spanned<AskText>>, parity: ParityBit) -> Result<Ask, Fault> {
    let Some(spanned) = text else {
        return Ok(Ask::Listen);
    };
    let text = spanned.get_ref();
    if text.request.is_empty() {
        let why = "request is empty; a meter that talks by itself has no [ask]";
        return Err(Fault::at(&spanned.span(), Refusal::Incomplete(why)));
    }
    let command =
        |command: &String| parity.sent(format!("{command}{}", text.ending).as_bytes());
    let reply = &text.reply_within_ms;
    let reply_ms = within(reply, "reply_within_ms", "1 to 600000", 1, 600_000)?;
    Ok(Ask::Request(Request {
        at_open: text.at_open.iter().map(command).collect(),
        ask: command(&text.request),
        at_close: text.at_close.iter().map(command).collect(),
        reply_within: Seconds(f64::from(reply_ms) / 1e3),
    }))
}
