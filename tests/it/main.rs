//! One test binary; each module mirrors a room of `src/`.

mod bench; // meter arithmetic, chance of catching a gap, each fault's readings, slicing
mod circuit; // what copper reads, against wire tables and standards
mod protocol; // every format file, both ways
mod reading; // number texts against the standard library's parser
mod signal; // the maths of the stream, against NIST, statrs and a brute-force meter
mod source; // ports, sockets and pseudo-terminals, with real ones
