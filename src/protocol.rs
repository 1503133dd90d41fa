//! Wire formats: bytes in, readings out, and back again, from one description.

mod serial;

pub use serial::{Parity, SerialSettings, StopBits};
