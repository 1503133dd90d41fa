//! steadyohm: watches a multimeter's serial output while a lead is bent, and says pass, fail
//! or retest.
//!
//! ```text
//! meter ──bytes──▶ source ─┐
//! keyboard ───────keys─────┤  Event, on bounded channels
//! interval ────────────────┘        │
//!                                   ▼
//!   session.update(event): protocol ▶ reading ▶ signal ▶ check ▶ verdict
//!                                   │                   ▲ circuit: what it ought to read
//!                                   ▼
//!   Effect: send, emit, record, cue, finish
//!                                   ▼
//!   run: port, recorder thread, terminal, sound
//! ```
//!
//! The modules stand in reading order, lowest room first; nothing imports upward, and a test
//! refuses it. Everything below `source` is plain synchronous code over values: it opens
//! nothing, waits for nothing and reads no clock.

pub mod reading;

pub mod protocol;

pub mod signal;

pub mod circuit;

pub mod check;

pub mod record;

pub mod session;

pub mod keys;

pub mod screen;

pub mod bench;

pub mod source;

pub mod run;

pub mod cli;
