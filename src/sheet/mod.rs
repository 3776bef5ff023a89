//! Lead sheets of other programs: MusicXML in and out, MIDI files with chord names in.
//!
//! Promise: what could not be taken over is told with its bar; hostile files end in an error, never in memory or time.

mod lead;
mod midi;
mod musicxml;

pub use lead::{ImportError, Imported, Warning};
pub use midi::from_midi;
pub use musicxml::{escaped, from_musicxml, harmony_xml, to_musicxml};
