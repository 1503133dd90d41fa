//! Where bytes come from and go to: the asynchronous edge.
//!
//! [`open`] gives a [`Link`]: events come up one bounded channel, bytes go down another.
//! A task (or, for files that can only block, a thread) stands between them and the port.
//! Each chunk is stamped as soon as its read returns.
//!
//! When the program is slow the port waits: nothing read is ever dropped, and bytes pile up in
//! the system's buffer, which makes their stamps late.
//! When a port vanishes it is told once, and then tried quietly until it is back.

mod blocking;
mod error;
mod holder;
mod identity;
mod link;
mod permission;
mod place;
mod ports;
mod pseudo;
mod serial;
mod tcp;

pub use error::SourceError;
pub use holder::{Holder, holders, may_open};
pub use identity::{Listing, lasting_name};
pub use link::{Link, LinkSettings, PortEvent, Stamped, open};
pub use permission::group_of;
pub use place::Where;
pub use ports::{Port, PortKind, ports};
pub use pseudo::Pseudo;
