//! Format files that must be refused, each with its line.
