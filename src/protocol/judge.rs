//! A format file judged: from its text to a format in which nothing can fail.

mod link;

use toml::Spanned;

use crate::protocol::bit7::ParityBit;
use crate::protocol::block::Block;
use crate::protocol::cells::{self, Ground};
use crate::protocol::document::{
    About, Document, ExampleText, Frame, Layout as LayoutText, LinesText, Pace as PaceText,
};
use crate::protocol::error::{Fault, ProtocolError, Refusal, line_of};
use crate::protocol::model::{
    Example, FrameKind, Framing, Layout, Lines, Pace, Protocol, Span,
};
use crate::protocol::{columns, json, notation, number_block, number_line, number_list, words};
use crate::reading::{Quantity, Seconds};

/// The schema this program reads.
const SCHEMA: u32 = 1;

/// Longest frame and line, and longest text of a format file's tables, in bytes.
const LONGEST: usize = 4096;

impl Protocol {
    /// Reads and judges the text of a format file; `origin` names it in errors.
    pub fn from_text(text: &str, origin: &str) -> Result<Self, ProtocolError> {
        let document: Document =
            toml::from_str(text).map_err(|error| ProtocolError::Written {
                origin: origin.to_owned(),
                line: line_of(text, error.span().map_or(0, |span| span.start)),
                message: error.message().to_owned(),
            })?;
        judge(&document).map_err(|fault| ProtocolError::Refused {
            origin: origin.to_owned(),
            line: line_of(text, fault.offset),
            refusal: fault.refusal,
        })
    }
}

fn judge(document: &Document) -> Result<Protocol, Fault> {
    let schema = *document.schema.get_ref();
    if schema != SCHEMA {
        return Err(Fault::at(&document.schema.span(), Refusal::Schema(schema)));
    }
    let about = &document.about;
    let id = about.id.get_ref();
    let lower = |part: &str| {
        !part.is_empty()
            && part
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit())
    };
    if !id.split('-').all(lower) {
        return Err(Fault::at(&about.id.span(), Refusal::Id(id.clone())));
    }
    let (serial, bauds, parity) = link::serial(&document.serial)?;
    let counts = match &document.display.counts {
        Some(counts) => Some(within(
            counts,
            "counts",
            "1 to 1000000000",
            1,
            1_000_000_000,
        )?),
        None => None,
    };
    let (framing, layout) = body(document, counts)?;
    if matches!(framing, Framing::Block(_)) && parity != ParityBit::Unseen {
        let why = "the bytes of a block have eight bits: data_bits must be 8, without parity";
        return Err(Fault::at(&document.frame.span(), Refusal::Incomplete(why)));
    }
    let mut examples = Vec::new();
    for example in &document.examples {
        examples.push(self::example(example, layout.digits_mean())?);
    }
    Ok(Protocol {
        id: id.clone(),
        title: about.title.clone(),
        source: about.source.clone(),
        checked: about.checked,
        carries: carries(about, &layout)?,
        serial,
        parity,
        bauds,
        ask: link::ask(document.ask.as_ref(), parity)?,
        pace: pace(&document.pace)?,
        counts,
        framing,
        layout,
        examples,
    })
}

fn within<T>(
    value: &Spanned<T>,
    key: &'static str,
    allowed: &'static str,
    least: T,
    most: T,
) -> Result<T, Fault>
where
    T: Copy + PartialOrd + std::fmt::Display,
{
    let number = *value.get_ref();
    if number >= least && number <= most {
        return Ok(number);
    }
    let found = number.to_string();
    Err(Fault::at(
        &value.span(),
        Refusal::Number {
            key,
            allowed,
            found,
        },
    ))
}

/// The quantities that the file says it can carry: those and no others that its layout reads.
fn carries(about: &About, layout: &Layout) -> Result<Option<Vec<Quantity>>, Fault> {
    let Some(text) = &about.carries else {
        return Ok(None);
    };
    let shapes = layout.shapes();
    let reads = |quantity| shapes.iter().any(|shape| shape.quantity == quantity);
    let mut carried = Vec::new();
    for word in text.get_ref() {
        let quantity = words::quantity(word)?;
        if carried.contains(&quantity) {
            let what = format!("the quantity {:?}", word.get_ref());
            return Err(Fault::at(&word.span(), Refusal::ClaimedTwice { what }));
        }
        if !reads(quantity) {
            let refusal = Refusal::CarriesMore(quantity.word());
            return Err(Fault::at(&word.span(), refusal));
        }
        carried.push(quantity);
    }
    let forgotten = |quantity: &Quantity| reads(*quantity) && !carried.contains(quantity);
    match Quantity::ALL.into_iter().find(forgotten) {
        None => Ok(Some(carried)),
        Some(quantity) => {
            let refusal = Refusal::CarriesLess(quantity.word());
            Err(Fault::at(&text.span(), refusal))
        }
    }
}

fn pace(text: &PaceText) -> Result<Pace, Fault> {
    let positive = |value: &Option<Spanned<f64>>, key| match value {
        Some(value) => within(value, key, "above 0, at most 1000000", 1e-9, 1e6).map(Some),
        None => Ok(None),
    };
    Ok(Pace {
        rate: positive(&text.readings_per_second, "readings_per_second")?,
        aperture: positive(&text.aperture_s, "aperture_s")?.map(Seconds),
        settling_readings: text.settling_readings,
        repeats_within: match &text.repeats_within_ms {
            Some(time) => {
                let ms = within(time, "repeats_within_ms", "1 to 60000", 1, 60_000)?;
                Some(Seconds(f64::from(ms) / 1e3))
            }
            None => None,
        },
    })
}

fn body(document: &Document, counts: Option<u32>) -> Result<(Framing, Layout), Fault> {
    let span = document.layout.span();
    let (framing, ground) = framing(document.frame.get_ref(), &document.frame.span())?;
    let layout = match document.layout.get_ref() {
        LayoutText::NumberList(list) => Layout::NumberList(number_list::build(list)?),
        LayoutText::NumberBlock(block) => Layout::NumberBlock(number_block::build(block)?),
        LayoutText::NumberLine(line) => {
            Layout::NumberLine(number_line::build(line.get_ref(), &line.span(), false)?)
        }
        LayoutText::Columns(columns) => Layout::Columns(columns::build(columns)?),
        LayoutText::Json(json) => Layout::Json(json::build(json)?),
        LayoutText::Cells(cells) => {
            let Some(ground) = ground else {
                let why =
                    "a display in lines needs exact_length, its bytes without the line end";
                return Err(Fault::at(&document.frame.span(), Refusal::Incomplete(why)));
            };
            Layout::Cells(Box::new(cells::build(cells, ground, counts)?))
        }
    };
    let kind = framing.kind();
    if let Layout::Cells(cells) = &layout {
        let free = |position| (0..=u8::MAX).all(|byte| cells.allows(position, byte));
        if kind == FrameKind::Fixed && (0..cells.length()).all(free) {
            let why = "frames of a fixed length need a [[layout.cells.must]] to be found by";
            return Err(Fault::at(&span, Refusal::Incomplete(why)));
        }
        return Ok((framing, layout));
    }
    let wanted = match &layout {
        Layout::NumberBlock(_) => FrameKind::Block,
        _ => FrameKind::Lines,
    };
    if kind != wanted || ground.is_some() {
        let mismatch = Refusal::Mismatch {
            layout: layout.word(),
            frame: kind.word(),
        };
        return Err(Fault::at(&span, mismatch));
    }
    Ok((framing, layout))
}

type Framed = (Framing, Option<Ground>);

fn framing(frame: &Frame, span: &Span) -> Result<Framed, Fault> {
    match frame {
        Frame::Lines(text) => {
            let lines = lines(text, span)?;
            let ground = match &text.exact_length {
                Some(exact) => Some(Ground {
                    length: within(exact, "exact_length", "1 to longest", 1, lines.longest)?,
                    indexed: false,
                }),
                None => None,
            };
            Ok((Framing::Lines(lines), ground))
        }
        Frame::Fixed(text) => {
            let length = within(&text.length, "length", "1 to 4096", 1, LONGEST)?;
            let ground = Ground {
                length,
                indexed: false,
            };
            let kind = FrameKind::Fixed;
            Ok((Framing::Fixed { length, kind }, Some(ground)))
        }
        Frame::IndexedNibbles(text) => {
            let length = within(&text.count, "count", "2 to 15", 2, 15)?;
            let ground = Ground {
                length,
                indexed: true,
            };
            let kind = FrameKind::IndexedNibbles;
            Ok((Framing::Fixed { length, kind }, Some(ground)))
        }
        Frame::Block(text) => {
            let longest = within(&text.longest, "longest", "1 to 4096", 1, LONGEST)?;
            let ending = ending(&text.ending)?;
            Ok((Framing::Block(Block { longest, ending }), None))
        }
    }
}

fn ending(text: &Spanned<String>) -> Result<Vec<u8>, Fault> {
    let ending = text.get_ref().as_bytes();
    if ending.is_empty() || !ending.iter().all(|byte| matches!(byte, b'\r' | b'\n')) {
        let why = r#"the ending of a line is "\n", "\r\n" or "\r""#;
        return Err(Fault::at(&text.span(), Refusal::Incomplete(why)));
    }
    Ok(ending.to_vec())
}

fn lines(text: &LinesText, span: &Span) -> Result<Lines, Fault> {
    let prefixes = |texts: &[Spanned<String>]| {
        let bytes = |prefix: &Spanned<String>| prefix.get_ref().trim().as_bytes().to_vec();
        let prefixes: Vec<Vec<u8>> = texts.iter().map(bytes).collect();
        if prefixes.iter().any(Vec::is_empty) {
            let why = "an empty prefix would skip every line";
            return Err(Fault::at(span, Refusal::Incomplete(why)));
        }
        Ok(prefixes)
    };
    Ok(Lines {
        longest: within(&text.longest, "longest", "1 to 4096", 1, LONGEST)?,
        ending: ending(&text.ending)?,
        comments: prefixes(&text.comments)?,
        prompts: prefixes(&text.prompts)?,
    })
}

fn example(text: &ExampleText, digits_mean: bool) -> Result<Example, Fault> {
    let bytes = match (&text.hex, &text.text) {
        (Some(hex), None) => {
            let bytes: Option<Vec<u8>> = hex
                .get_ref()
                .split_whitespace()
                .map(|pair| {
                    u8::from_str_radix(pair, 16)
                        .ok()
                        .filter(|_| pair.len() == 2)
                })
                .collect();
            let refusal = || Refusal::NotHex(hex.get_ref().clone());
            bytes.ok_or_else(|| Fault::at(&hex.span(), refusal()))?
        }
        (None, Some(text)) => text.clone().into_bytes(),
        _ => {
            let why = "an example gives its bytes as hex or as text";
            return Err(Fault::at(&text.name.span(), Refusal::Incomplete(why)));
        }
    };
    let mut reads = Vec::new();
    for told in &text.reads {
        reads.push(match told.get_ref().as_str() {
            "garbled" => None,
            reading => {
                let refusal = || Refusal::NotAReading(reading.to_owned());
                let measured = notation::parse(reading, digits_mean);
                Some(measured.ok_or_else(|| Fault::at(&told.span(), refusal()))?)
            }
        });
    }
    Ok(Example {
        name: text.name.get_ref().clone(),
        bytes,
        reads,
    })
}
