//! What a reading ought to be, from what the work is made of.

pub mod conductor;

pub use conductor::{
    Celsius, ConductorError, Construction, Expected, Gauge, Metres, SquareMillimetres,
};
