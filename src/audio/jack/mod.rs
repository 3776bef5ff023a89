//! The live audio client: JACK, or PipeWire through its JACK library.
//!
//! A server that goes away is a state of the device, not an error of the program. Every call that opens or
//! closes a client may block for ever when the server is stopped rather than dead, and all of them share one
//! lock in the library: so each runs on a thread of its own with a deadline, and a process has one client at
//! a time.
//!
//! # Why is the JACK library's own log off?
//!
//! It writes five lines at each attempt to reach a server that is not there. We tell it
//! once. `UNDERFOOT_LOG=info` shows all.

mod callback;
mod connect;
mod device;
mod echo;
mod join;
mod shared;

pub use callback::Led;
pub use connect::Autoconnect;
pub use device::{JackConfig, JackDevice, ServerInfo, Trouble};
pub use echo::{Echo, echo};
pub use join::{DEADLINE, JackError, NAME_BYTES, with_deadline};
pub use shared::widen;
