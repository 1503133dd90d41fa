//! A format file as it is written: the shape of its TOML, before it is judged.
//!
//! Every table refuses keys it does not know. A new kind of frame or layout is one more
//! variant here and one more room beside this file.

mod board;

pub(crate) use board::{ColumnText, ColumnsText, JsonText};

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Document {
    pub(crate) schema: Spanned<u32>,
    pub(crate) about: About,
    #[serde(default)]
    pub(crate) serial: Serial,
    pub(crate) ask: Option<Spanned<AskText>>,
    #[serde(default)]
    pub(crate) pace: Pace,
    #[serde(default)]
    pub(crate) display: Display,
    pub(crate) frame: Spanned<Frame>,
    pub(crate) layout: Spanned<Layout>,
    #[serde(default, rename = "example")]
    pub(crate) examples: Vec<ExampleText>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct About {
    pub(crate) id: Spanned<String>,
    pub(crate) title: String,
    pub(crate) source: Option<String>,
    pub(crate) checked: Checked,
    pub(crate) carries: Option<Spanned<Vec<Spanned<String>>>>,
}

/// How far a format has been confirmed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Checked {
    /// Written from memory; the document was not at hand.
    FromMemory,
    /// Read in the document the file names.
    Document,
    /// Seen to work on a meter.
    RealMeter,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Serial {
    #[serde(default)]
    pub(crate) bauds: Vec<Spanned<u32>>,
    pub(crate) data_bits: Option<Spanned<u8>>,
    pub(crate) parity: Option<Spanned<ParityWord>>,
    pub(crate) stop_bits: Option<Spanned<u8>>,
    pub(crate) dtr: Option<LineWord>,
    pub(crate) rts: Option<LineWord>,
    #[serde(default)]
    pub(crate) settle_ms: u32,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum ParityWord {
    None,
    Odd,
    Even,
    #[serde(rename = "odd-in-bit-7")]
    OddInBit7,
    #[serde(rename = "even-in-bit-7")]
    EvenInBit7,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum LineWord {
    Raised,
    Lowered,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct AskText {
    #[serde(default)]
    pub(crate) at_open: Vec<String>,
    pub(crate) request: String,
    #[serde(default)]
    pub(crate) at_close: Vec<String>,
    #[serde(default)]
    pub(crate) ending: String,
    pub(crate) reply_within_ms: Spanned<u32>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Pace {
    pub(crate) readings_per_second: Option<Spanned<f64>>,
    pub(crate) aperture_s: Option<Spanned<f64>>,
    #[serde(default)]
    pub(crate) settling_readings: u32,
    pub(crate) repeats_within_ms: Option<Spanned<u32>>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Display {
    pub(crate) counts: Option<Spanned<u32>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Frame {
    Lines(LinesText),
    Fixed(FixedText),
    IndexedNibbles(IndexedNibblesText),
    Block(BlockText),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LinesText {
    /// Written after a line; any CR or LF ends a line that is read.
    pub(crate) ending: Spanned<String>,
    pub(crate) longest: Spanned<usize>,
    pub(crate) exact_length: Option<Spanned<usize>>,
    #[serde(default)]
    pub(crate) comments: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) prompts: Vec<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct FixedText {
    pub(crate) length: Spanned<usize>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct IndexedNibblesText {
    pub(crate) count: Spanned<usize>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BlockText {
    /// Written after a block; any CR or LF ends one that is read.
    pub(crate) ending: Spanned<String>,
    /// The most bytes counted in one block.
    pub(crate) longest: Spanned<usize>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Layout {
    NumberList(NumberListText),
    NumberBlock(NumberBlockText),
    NumberLine(Spanned<NumberLineText>),
    Columns(Box<ColumnsText>),
    Json(Box<JsonText>),
    Cells(Box<CellsText>),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NumberListText {
    pub(crate) quantity: Spanned<String>,
    pub(crate) separator: Spanned<char>,
    pub(crate) over_from: Spanned<f64>,
    pub(crate) not_a_number: Option<Spanned<f64>>,
    #[serde(default)]
    pub(crate) over_words: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) blank_words: Vec<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NumberBlockText {
    pub(crate) quantity: Spanned<String>,
    pub(crate) element: ElementWord,
    pub(crate) order: OrderWord,
    pub(crate) over_from: Spanned<f64>,
    pub(crate) not_a_number: Option<Spanned<f64>>,
}

/// The number format of IEEE 754.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum ElementWord {
    F64,
    F32,
}

/// Which byte of a number is sent first: the most significant one if it is big-endian.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum OrderWord {
    BigEndian,
    LittleEndian,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NumberLineText {
    /// The quantity of a number without a unit.
    pub(crate) unit_if_missing: Spanned<String>,
    /// The power of ten of a number without a unit.
    #[serde(default)]
    pub(crate) power_if_missing: i8,
    #[serde(default)]
    pub(crate) decimal_comma: bool,
    #[serde(default)]
    pub(crate) prefixes: Vec<PrefixText>,
    #[serde(default)]
    pub(crate) units: Vec<WordsText>,
    #[serde(default)]
    pub(crate) labels: Vec<WordsText>,
    #[serde(default)]
    pub(crate) marks: Vec<MarkText>,
    #[serde(default)]
    pub(crate) ignored: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) over_words: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) blank_words: Vec<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PrefixText {
    pub(crate) words: Vec<Spanned<String>>,
    pub(crate) power: Spanned<i8>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WordsText {
    pub(crate) words: Vec<Spanned<String>>,
    pub(crate) quantity: Spanned<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MarkText {
    pub(crate) words: Vec<Spanned<String>>,
    pub(crate) mark: Spanned<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CellsText {
    pub(crate) digits: DigitsText,
    #[serde(default)]
    pub(crate) must: Vec<Spanned<MustText>>,
    pub(crate) point: Option<Spanned<PointText>>,
    #[serde(default)]
    pub(crate) codes: BTreeMap<String, Spanned<CodeText>>,
    #[serde(default)]
    pub(crate) flags: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    pub(crate) at_most_one: Vec<Vec<Spanned<String>>>,
    #[serde(default)]
    pub(crate) powers: BTreeMap<String, Spanned<i8>>,
    #[serde(default)]
    pub(crate) marks: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    pub(crate) lit: Vec<Spanned<String>>,
    pub(crate) over: Option<SentinelText>,
    pub(crate) blank: Option<SentinelText>,
    pub(crate) function: Vec<Spanned<FunctionText>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DigitsText {
    pub(crate) cells: Spanned<Vec<Vec<usize>>>,
    pub(crate) widths: Spanned<Vec<u32>>,
    /// What each code shows; without it a cell holds the ASCII digit itself.
    pub(crate) table: Option<BTreeMap<String, Spanned<u8>>>,
    /// ASCII characters shown besides the digits, where there is no table.
    pub(crate) letters: Option<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MustText {
    pub(crate) at: usize,
    pub(crate) to: Option<usize>,
    pub(crate) mask: Option<u8>,
    pub(crate) any_of: Option<String>,
    pub(crate) bytes: Option<Vec<u8>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PointText {
    /// One bit a digit: the point after that digit.
    pub(crate) after: Option<Vec<Spanned<String>>>,
    /// The point is a character among the digits, and so is the sign.
    #[serde(default)]
    pub(crate) shown: bool,
    /// The byte that says how many digits follow the point, by `decimals`.
    pub(crate) at: Option<usize>,
    pub(crate) decimals: Option<BTreeMap<String, Spanned<u8>>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CodeText {
    pub(crate) at: usize,
    pub(crate) length: Option<usize>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SentinelText {
    #[serde(default)]
    pub(crate) when: Vec<Spanned<String>>,
    pub(crate) shown_has: Option<Spanned<String>>,
    #[serde(default)]
    pub(crate) shown_is: Vec<Spanned<String>>,
    pub(crate) shown_as: Option<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct FunctionText {
    pub(crate) when: Vec<Spanned<String>>,
    pub(crate) quantity: Spanned<String>,
    pub(crate) power: Option<i8>,
    /// The document does not tell how its numbers are scaled: only the function is named.
    #[serde(default)]
    pub(crate) scale_unknown: bool,
    pub(crate) by: Option<Spanned<String>>,
    pub(crate) ranges: Option<BTreeMap<String, Spanned<i8>>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ExampleText {
    pub(crate) name: Spanned<String>,
    pub(crate) hex: Option<Spanned<String>>,
    pub(crate) text: Option<String>,
    pub(crate) reads: Vec<Spanned<String>>,
}
