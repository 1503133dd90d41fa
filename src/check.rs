//! Checks: what is asked of the operator, and what the readings then prove.

pub mod notice;
