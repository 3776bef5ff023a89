//! The neck: tunings, the places of a note, and a way through a list of sets that the hand can play.
//!
//! Promise: pure; a way through sets is the easiest that there is, and the same each time.

mod every;
mod region;
mod shift;
mod tuning;
mod way;

pub use every::{places_in_reach, places_of};
pub use region::fewest_positions;
pub use shift::shifts;
pub use tuning::{Neck, NeckPlace, Tuning, TuningError};
pub use way::{WayNote, easiest, way_through};
