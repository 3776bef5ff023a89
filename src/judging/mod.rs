//! What was.

pub mod align;
pub mod choice;
pub mod judge;
pub mod passes;
pub mod readiness;
pub mod summary;
pub mod trading;
pub mod wanted;

pub use choice::Choice;
pub use judge::{HeardNote, Judged, Outcome, Rules, Timing, Verdict, Wanted, judge};
pub use judge::{PlayerBias, judge_on};
pub use passes::EarEvent;
pub use readiness::Chorus;
pub use trading::Reentry;
pub use wanted::{StageTake, wanted_in};
