//! Configuration, wiring, supervision, the status socket, and the offline renderer.
//!
//! Promise: the only room that knows all the others. Its loop waits for inputs and for nothing else; only a bad
//! configuration and a hanging server end it.

pub mod args;
#[cfg(feature = "jack")]
mod band_sound;
pub mod changes;
pub mod chart_folders;
mod checkup;
pub mod commands;
pub mod config;
mod coverage;
mod drop_ins;
pub mod events;
#[cfg(feature = "journal")]
pub mod feed;
pub mod files;
mod fit;
mod font_balance;
pub mod hearing;
mod input_watch;
mod kind;
#[cfg(feature = "jack")]
mod known_inputs;
mod landmarks;
pub mod lesson;
#[cfg(feature = "jack")]
mod lock;
#[cfg(all(feature = "jack", feature = "journal"))]
mod looking_back;
mod progress;
pub mod render;
pub mod rig;
#[cfg(feature = "jack")]
pub mod run;
mod script;
pub mod set_list;
pub mod setup;
#[cfg(feature = "sheet")]
pub mod sheet;
mod side_by_side;
pub mod state;
pub mod status;
pub mod targets;
pub mod track_form;
pub mod update;
#[cfg(feature = "journal")]
pub mod weak_spots;
mod whole_file;
