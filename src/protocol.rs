//! Wire formats: bytes in, readings out, and back again, from one description.
//!
//! A format is a TOML file of `protocols/`, judged once when it is loaded. The [`Decoder`]
//! takes any bytes and never fails; [`encode()`] uses the same tables backwards. A new meter is
//! a new file and nothing else.

mod bit7;
mod block;
mod cells;
mod columns;
mod decoder;
mod document;
mod encode;
mod error;
mod example;
mod flags;
mod identify;
mod json;
mod judge;
mod library;
mod model;
mod notation;
mod number_block;
mod number_line;
mod number_list;
mod serial;
mod shape;
mod special;
mod words;

pub use decoder::{Decoder, Garble, Item, Joining};
pub use document::Checked;
pub use encode::{CannotEncode, encode};
pub(crate) use error::line_of;
pub use error::{ProtocolError, Refusal};
pub use example::{ExampleOutcome, FEWEST_EXAMPLES, NotProven, check_examples, check_proof};
pub use identify::{
    Heard, Identification, Identifier, Outcome as Identity, Score, settings_to_try,
};
pub use library::{Unknown, built_in_files, find, library};
pub use model::{Ask, Example, FrameKind, Protocol, Request};
pub use serial::{Parity, SerialSettings, StopBits};
pub use shape::{Shape, Shown};
