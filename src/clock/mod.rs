//! Tap tempo, transport, and (with the clock issue) the MIDI clock follower.

pub mod tap;

pub use tap::{TapTempo, Tapped};
