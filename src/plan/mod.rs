//! What will come: from chart and drill to everything that sounds, is shown and is said.
//!
//! One way leads through the room. [`Material`] (chart and drill, worked out) and a [`Standing`] (where the player
//! stands) give a `Pass`, written out by the `pass_writer`. Passes lie on the `Timeline`, one line of ticks; the `Course`
//! knows what is appended to it next. Steps, page turns and cues are all read off that line, so that band, page and voice
//! cannot disagree. The `TakePlan` holds them together and says what is due when.
//!
//! Promise: pure; the same material, standing, settings and seed give the same plan, however often it is worked out anew.

pub mod agenda;
pub mod calls;
mod count_in;
pub mod course;
pub mod coverage;
mod cue_plan;
pub mod cues;
pub mod cursor;
pub mod landmarks;
mod leg_at;
mod legs;
pub mod material;
pub mod missed;
mod over;
mod page_plan;
pub mod page_units;
pub mod pass;
pub mod pass_writer;
mod silence;
mod speech_room;
pub mod standing;
pub mod steps;
pub mod take;
pub mod timeline;
mod turning;
pub mod turns;

pub use leg_at::LegAt;
pub use material::{Material, PlayedAs};
pub use over::unknown_sections;
pub use speech_room::{VoiceRoom, said_in_first_pass};
pub use standing::{Loop, Standing};
