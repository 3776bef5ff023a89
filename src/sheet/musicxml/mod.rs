//! Lead sheets in MusicXML 4.0, plain and compressed: read, and written.
//!
//! `xml` and `mxl` give a score's tree within bounds, `read` chooses its part, `part` walks the bars (`reader` keeps what holds there, `barline` the signs at their ends), `harmony`, `degree` and
//! `kind` read chords, `direction` and `words` the signs. `write` uses the same kinds of chords.

mod barline;
mod degree;
mod direction;
mod harmony;
mod kind;
mod mxl;
mod part;
mod read;
mod reader;
mod words;
mod write;
mod xml;

pub use read::from_musicxml;
pub use write::to_musicxml;
