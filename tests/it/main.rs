//! One test binary; each module mirrors a room of `src/`.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "what a test needs and does not get fails it"
)]

mod bench; // meter arithmetic, chance of catching a gap, each fault's readings, slicing
mod check; // every fault of the simulated bench, at every rate, to its verdict
mod circuit; // what copper reads, against wire tables and standards
mod cli; // the real binary, end to end
mod golden; // golden recordings written, read back and given to a session anew
mod house; // one-way imports, file headers, whole lists, small files
mod identify; // the real program finds the meter on real pseudo-terminals
mod keys; // one table for every key
mod pot; // a control turned on the simulated bench, and its golden recordings
mod protocol; // every format file, both ways
mod reading; // number texts against the standard library's parser
mod record; // tables and raw bytes read back equal, damage costs its row
mod recordings; // every golden recording to its verdict, from its table and its raw bytes
mod rewire; // every layout and faults of each kind on the simulated bench, to their names
mod scpi; // the polled format against a parser that is not ours
mod screen; // pictures of every state at two sizes, and no panic at any
mod session; // a run is a function of its stamped inputs; replay, ticks, polling
mod signal; // the maths of the stream, against NIST, statrs and a brute-force meter
mod simulated; // a check on the simulated bench in simulated time
mod source; // ports, sockets and pseudo-terminals, with real ones
mod standins; // a meter for every format, on a port and on a socket
mod stock; // a stock of leads: log, table, whole crates in simulated time
mod trial; // gaps of known length on the simulated bench, and what checks make of them
