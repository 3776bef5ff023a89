//! Musical time: ticks, frames, meters, tempo, timed notes and bars.
//!
//! Musical positions are whole ticks, 960 to the quarter note; sounding positions are whole frames of the
//! audio clock. The only bridge between the two is [`Anchor`], which is exact: no rounding error ever
//! accumulates, however long the take and whatever the block size.
//!
//! Promise: pure and exact: ticks, and whole parts of frames; nothing adds up.

mod anchor;
mod meter;
mod note;
mod tick;

pub use anchor::Anchor;
pub use meter::{Meter, MeterError};
pub use note::{BAR_NOTES, Bar, Part, TimedNote};
pub use tick::{Frame, PPQ, Tick, UsPerQuarter};
