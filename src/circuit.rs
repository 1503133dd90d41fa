//! What a reading ought to be, from what the work is made of.

pub mod conductor;
pub mod forecast;
pub mod lead;
pub mod network;
pub mod state;

pub mod control;

pub use conductor::{
    Celsius, ConductorError, Construction, Expected, Gauge, Metres, SquareMillimetres,
};
pub use forecast::{
    Ailment, Cause, Effort, Forecast, Forecasts, Hypothesis, Measurement, Place, Spread,
};
pub use state::State;
