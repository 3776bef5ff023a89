//! Switch sources: pins, pedals that act as keyboards, MIDI, serial line, terminal keys, foot scripts. Each gives the same
//! thing: edges.
//!
//! Promise: every edge has the time at which it happened, and a source that is lost is looked for again.

#[cfg(feature = "midi-alsa")]
pub mod alsa;
#[cfg(feature = "serial")]
pub mod board_lines;
mod edge;
#[cfg(feature = "evdev")]
pub mod evdev;
#[cfg(feature = "gpio")]
pub mod gpio;
pub mod keys;
pub mod learn;
pub mod midi;
pub mod reporter;
pub mod script;
#[cfg(any(feature = "midi-alsa", feature = "serial"))]
mod sensing;
#[cfg(feature = "serial")]
pub mod serial;
pub mod settings;
pub mod source;
pub mod stamps;
pub mod typed;
pub mod urgent;

pub use crate::device::DeviceState;
pub use edge::{Edge, SWITCHES};
