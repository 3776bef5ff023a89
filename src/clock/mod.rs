//! Tap tempo; the MIDI clock: follower, messages, traces; the map from other clocks to frames.

mod breach;
mod follower;
mod kind;
pub mod map;
mod message;
mod numbering;
mod steps;
pub mod tap;
pub mod trace;
mod tracker;
pub mod transport;
mod window;

pub use follower::{Change, ClockState, Follower, Oddities, PlayedTick, TICKS_PER_QUARTER};
pub use message::ClockMessage;
pub use tap::{TapTempo, Tapped};
