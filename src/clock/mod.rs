//! Tap tempo; the MIDI clock: follower, messages, traces; the map from other clocks to frames.
//!
//! Promise: pure; what sounds never jumps, and what is known is known by the stamps alone.
//!
//! # Why does a clock in the same JACK graph get no latency?
//!
//! Its ticks are of the same cycle as the sound of its program, and
//! both go through the same converter. What comes from outside (a line, a port of ALSA, a physical JACK port) is stamped
//! when it happens, and our sound has its way out before it.

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
