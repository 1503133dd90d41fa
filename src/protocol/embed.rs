//! Build step: lists `protocols/` into one table, so that a new format is only a new file.

fn main() {}
