//! Configuration, wiring, supervision, the status socket, and the offline renderer.

pub mod args;
pub mod commands;
pub mod config;
pub mod events;
pub mod files;
mod fit;
pub mod hearing;
pub mod render;
pub mod rig;
#[cfg(feature = "jack")]
pub mod run;
mod script;
pub mod setup;
pub mod state;
pub mod status;
pub mod targets;
