//! Listening: sound in, heard notes out. Pure: no device, file, thread or clock; samples are arguments.
//!
//! [`Ear`] takes the sound of one instrument, one note at a time, and tells [`Found`]: a reading of the pitch for
//! every hop, and every note once it can be named. The stages, each a file: the newest samples as one slice
//! (`history`), the lower rate (`decimate`), the pitch of the newest milliseconds (`pitch`, `lower`), rises of the spectrum
//! (`onset`) and where they began (`begin`), what of it is the box's own band (`band`), and what becomes of them
//! (`notes`; of a voice, `sung`). [`Stream`] is an ear on a live signal, which may have gaps.

mod band;
mod begin;
mod decimate;
mod ear;
mod found;
mod history;
mod lower;
mod notes;
mod onset;
mod pending;
mod pitch;
mod setup;
mod stream;
mod sung;
mod voice;
mod way_round;

pub use ear::Ear;
pub use found::{Found, Heard, Reading};
pub use setup::{Instrument, Setup};
pub use stream::Stream;
pub use way_round::{Match, WayRound, agree, find, sweep};
