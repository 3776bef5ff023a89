//! What was: what the player was asked for beside what was heard of it, and what comes of that. It plans nothing, tells
//! nothing and knows no clock but the frames that it is given; words are made of what it finds elsewhere.
//!
//! Promise: pure; no lateness of the machine makes a verdict wrong, and what is not clear is not judged.

mod align;
mod around;
mod asked;
mod bias;
mod choice;
mod ear_event;
mod finding;
mod judge;
mod judge_pass;
mod notes;
mod pass_record;
mod passes;
mod phrases;
mod readiness;
mod reentry;
mod rules;
mod summary;
mod sureness;
mod verdict;
mod wanted;

pub use around::Around;
pub(crate) use asked::Asking;
pub use choice::Choice;
pub use ear_event::EarEvent;
pub(crate) use finding::{Finding, MeantNote, figure};
pub use judge::judge;
pub(crate) use judge_pass::{JudgedPass, PassResult};
pub(crate) use pass_record::{PassRecord, Target, missed_when_first_played};
pub(crate) use passes::PassRecords;
pub use phrases::repeated_notes;
pub use readiness::Chorus;
pub(crate) use readiness::{Advice, Readiness};
pub use reentry::Reentry;
pub use rules::Rules;
pub(crate) use summary::{
    NotesPlayed, Offer, Offered, Reentries, RhythmPlayed, RoundPlayed, RoundSummary, Summary,
    TimeHabit,
};
pub use sureness::{Sure, Sureness};
pub use verdict::{HeardNote, Judged, NoteName, Outcome, Timing, Verdict, Wanted};
pub use wanted::{StageTake, wanted_in};
