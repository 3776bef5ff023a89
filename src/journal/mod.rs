//! The practice journal: takes, stages, a verdict for each note that was asked for, what the foot did and what was chosen,
//! in one SQLite file; and what can be told from them.
//!
//! It takes data and knows no core. `entry` is what comes in; `writer` decides when that is written (at a take's end, and at
//! most once a minute while playing: never a beat), `store` writes it in one transaction, `opening` looks at what lies there
//! first, `thread` runs all three beside the daemon's loop.
//!
//! Promise: a take whose end was acknowledged is there after a power cut. No file, however broken, and no disk, however full,
//! stops the playing: what cannot be used is set aside by date, what cannot be written is held.
//!
//! # Why a write-ahead log that is synced at every commit?
//!
//! With `synchronous = NORMAL` a log never corrupts, but its last commits may be gone after a power cut; with `FULL` each one
//! is on the medium before it is acknowledged (SQLite's documentation of both pragmas). A rollback journal would need three
//! syncs a commit instead of one. In a log only a failed sync during a checkpoint can corrupt the file, so checkpoints are
//! few: when the log is large and nobody plays, and at the end.

mod boots;
mod clock;
mod entry;
mod inspect;
mod memory;
mod merge;
pub mod next;
mod opening;
mod reading;
pub mod report;
mod rows;
mod schema;
pub mod skill;
mod store;
mod thread;
mod trouble;
mod writer;

pub use clock::{Now, WallClock};
pub use entry::{Act, ChosenNotes, Entry, TakeBegin, VerdictOn};
pub use inspect::open_to_read;
pub use memory::Memory;
pub use merge::{Merged, merge, namesakes};
pub use opening::{Opened, open, open_as_it_is, open_with_vfs};
pub use reading::{
    Asked, PlayerSummary, each_asked, each_row, forget, iso, player_id, players, skip, skipped,
    words,
};
pub use schema::{APPLICATION_ID, VERSION};
pub use store::Store;
pub use thread::{Journal, JournalThread};
pub use trouble::Trouble;
pub use writer::{Outcome, Writer};
