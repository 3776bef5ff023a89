//! The core: events in, effects out; the Course, gestures, judging.
//!
//! `Core` is the only thing that decides. It is fed with stamped events and asked for nothing else; it answers
//! with effects. Inside, one way leads from what is practised to what happens: `Material` (chart and drill,
//! worked out) -> `Standing` (where the player stands) -> `Pass` (one pass written out) -> `Timeline` (passes
//! on one line of ticks) -> steps, page turns and cues, all read off the same line, so that band, page and
//! voice cannot disagree.

mod clocked;
mod core;
mod doing;
mod event;
mod show;
mod summary_words;
mod tuning;

pub use self::core::{ACTION_DELAY_MS, ClockStatus, Core, CoreStatus, Library, Settings, Spoken};
pub use event::{Effect, Event, EventKind, Record, Recorded, Replay, Saved, Saying};
