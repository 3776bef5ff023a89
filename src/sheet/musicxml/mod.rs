//! Lead sheets in MusicXML 4.0, plain and compressed: read, and written.
//!
//! `xml` and `mxl` give a score's tree within bounds, `read` chooses its part, `part` walks the bars (`reader` keeps what holds there, `barline` the signs at their ends), `harmony`, `degree` and
//! `kind` read chords, `direction` and `words` the signs. `write` uses the same kinds of chords; `write_plan` says
//! which bars and signs a score has, `write_notes` what stands in a bar.
//!
//! # Why does a thirteenth chord come in without its eleventh?
//!
//! The MusicXML schema counts it in, players leave it out,
//! and programs write the kind for the symbol `13`.
//!
//! # Why are entities in MusicXML refused before parsing, and signs counted?
//!
//! The parser makes room for all elements and
//! attributes at once; a file of eight million `<` would take gigabytes. A score has no need of entities of its own.

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
mod write_notes;
mod write_plan;
mod xml;

pub use read::from_musicxml;
pub use write::to_musicxml;
pub use write_notes::harmony_xml;
pub use xml::escaped;
