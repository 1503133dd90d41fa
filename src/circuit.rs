//! What a reading ought to be, from what the work is made of.

pub mod conductor;
pub mod control;
pub mod diagnosis;
pub mod fault;
pub mod forecast;
pub mod job;
pub mod layout;
pub mod lead;
pub mod model;
pub mod network;
pub mod state;

pub use conductor::{
    Celsius, ConductorError, Construction, Expected, Gauge, Metres, SquareMillimetres,
};
pub use fault::{Change, Fault};
pub use forecast::{
    Ailment, Cause, Effort, Forecast, Forecasts, Hypothesis, Measurement, Place, Spread,
};
pub use job::{Job, JobError, JobRefusal, Plan};
pub use layout::{FREE_FORM, LAYOUTS, Layout};
pub use model::{Circuit, Terminal};
pub use state::{Expectation, Sampled, State};
