//! A control turned on the simulated bench: what the check finds, says and keeps.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on should fail"
)]

mod judged; // what the check says of each fault, of its own limits, and to the hand

mod jack; // cracks and a charging capacitor, seen through the jack

mod recordings; // golden recordings of sweeps, and replay equal to the live run

mod run; // a control, a hand, a meter and a session in simulated time

mod screens; // the track as a strip, at two sizes

mod table; // faults, places, rates and hands: found, placed, missed, falsely failed
