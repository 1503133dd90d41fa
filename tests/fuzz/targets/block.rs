//! Any bytes, through every format whose frames are of this kind.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steadyohm::protocol::FrameKind;

fuzz_target!(|input: &[u8]| exercise::exercise(FrameKind::Block, input));
