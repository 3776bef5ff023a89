//! The core: events in, effects out; the Course, gestures, judging.
//!
//! `Core` is the only thing that decides. It is fed with stamped events and asked for nothing else; it answers
//! with effects. Inside, one way leads from what is practised to what happens: `Material` (chart and drill,
//! worked out) -> `Standing` (where the player stands) -> `Pass` (one pass written out) -> `Timeline` (passes
//! on one line of ticks) -> steps, page turns and cues, all read off the same line, so that band, page and
//! voice cannot disagree.

pub mod action;
mod choice;
mod clocked;
mod core;
mod course;
mod cues;
mod doing;
mod event;
mod flips;
pub mod footmap;
pub mod gesture;
mod hearing;
mod judge;
mod judge_match;
mod judge_plan;
mod material;
mod menu;
mod pass;
mod plan;
mod readiness;
mod room;
mod show;
mod steps;
mod summary;
mod timeline;
mod trading;
mod tuning;

pub use self::core::{ACTION_DELAY_MS, ClockStatus, Core, CoreStatus, Library, Settings, Spoken};
pub use action::{Action, Moment};
pub use choice::Choice;
pub use course::{Loop, Standing};
pub use event::{Effect, Event, Record, Recorded, Replay, Saved, Saying, What};
pub use footmap::{FootMap, FootState};
pub use gesture::{Gesture, GestureKind, GestureList, Gestures, Kinds, SwitchSettings};
pub use hearing::Sounded;
pub use judge::{Bearing, judge_on};
pub use judge::{Judged, Outcome, Played, Rules, Timing, Verdict, Wanted, judge};
pub use judge_plan::{TakePlan, wanted_in};
pub use material::Material;
pub use readiness::Chorus;
pub use room::{Said, said_in_first_pass};
pub use trading::Back;
