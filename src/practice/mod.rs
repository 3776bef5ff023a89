//! What is: events in, effects out.
//!
//! The [`Core`] is the only thing that decides. It is fed with stamped events and asked for nothing else; it answers with
//! effects. Its state has four parts. The `Session` is what is practised and how; the `Running` take is what plays, and only
//! exists while it does; the `Board` is what else stands on the page; the `Voice` knows the cues on their way. Pages and
//! lines of the event log are made from a `View` of all that, which cannot change it.
//!
//! A plan that plays is changed in one way (`Core::change`), a take begins to sound in one way (`Core::launch`).
//!
//! Promise: pure; it decides by stamps alone, so that the daemon and the offline renderer come to the same music.

mod event;
mod set_list;
mod settings;

mod armed;
mod board;
mod brought;
mod clock_link;
mod input_page;
mod quiet_start;
mod running;
mod session;
mod targets;
mod tuner;
mod update_news;
mod voice;

mod choice_words;
mod coming;
mod counting;
mod input_words;
mod offer;
mod page;
mod proposal_words;
mod round_words;
mod set_words;
mod slots;
mod summary_words;
mod task;
mod telling;
mod update_words;
mod view;

mod acts;
mod change;
mod choosing;
mod core;
mod due;
mod feet;
mod handle;
mod listening;
mod mastered;
mod places;
mod plugged_in;
mod proposal;
mod proposing;
mod set_moves;
mod speaking;
mod transport;
mod updating;

pub use self::core::{Core, CoreStatus};
pub use clock_link::ClockStatus;
pub use event::{Effect, Event, EventKind, MusicChange, Record, Recorded, Replay, Saved, Saying};
pub use input_words::{input_lines, input_title};
pub use proposal::{Proposal, ProposedSkill, ShortReport};
pub use set_list::{Leads, SetList, Tune};
pub use settings::{ACTION_DELAY_MS, Library, Settings, Spoken};
pub use update_news::{UpdateNews, UpdateOffer};
