//! What goes wrong in the field: each finding says what it is, why it matters and what cures it, in one line each.
//!
//! Promise: rules are pure. They judge a [`System`] that was read before, and what the daemon tells of itself; the same
//! system gives the same findings, the worst first. On a healthy one there are none.

mod finding;
mod parse;
mod read;
mod rules;
mod system;

pub use finding::{Finding, Grade};
pub use rules::examine;
pub use system::{
    Asked, Card, Governor, Group, Mount, Process, SerialLine, System, Told, UsbDevice, Wanted, Wear,
};
