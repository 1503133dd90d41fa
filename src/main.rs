//! The door.

fn main() {}
