//! Tap tempo, and the MIDI clock: follower, messages, traces.

mod follower;
mod message;
pub mod tap;
pub mod trace;
mod tracker;
mod window;

pub use follower::{Change, ClockState, Follower, Oddities, PlayedTick, TICKS_PER_QUARTER};
pub use message::ClockMessage;
pub use tap::{TapTempo, Tapped};
