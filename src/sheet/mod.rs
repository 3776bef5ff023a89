//! What leaves the house on paper or for other programs: MusicXML of a chart.

mod musicxml;

pub use musicxml::to_musicxml;
