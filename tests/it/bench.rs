//! The simulated bench: meter arithmetic, the chance of catching a gap, each fault.
