//! The neck: tunings, the places of a note, and a way through a list of sets that the hand can play.

mod region;
mod tuning;
mod way;

pub use region::fewest_positions;
pub use tuning::{Neck, NeckPlace, Tuning, TuningError};
pub use way::{WayNote, easiest, way_through};
